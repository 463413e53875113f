//! A profile: a copy of the generic one of a kind, with the figures that were answered put in.

use spurline_document::{Document, Node, Span};
use spurline_plan::Library;
use spurline_profile::Profile;
use spurline_runner::PROFILES;
use spurline_units::{Dbm, Hertz, Range, Seconds};

use super::answers::{Answers, Check, Choice, Question};
use super::{Draft, Made, checks};
use crate::talk::Failure;

const KINDS: [Choice<'_>; 7] = [
    ("analyser", "spectrum analyser"),
    ("power-meter", "RF power meter"),
    ("supply", "bench supply"),
    ("relay", "relay card"),
    ("unit", "the control port of a unit"),
    ("generator", "signal generator"),
    ("audio-generator", "audio or function generator"),
];

/// A figure that differs from one instrument to the next: where it stands in the file, its question, and its check.
struct Figure {
    place: &'static str,
    asks: &'static str,
    check: Check<'static>,
}

const RANGE: Figure = Figure {
    place: "ranges.frequency",
    asks: "range of its frequencies, from the data sheet",
    check: &checks::reads::<Range<Hertz>>,
};
const LEVELS: Figure =
    Figure { place: "ranges.level", asks: "range of its levels", check: &checks::reads::<Range<Dbm>> };
const DAMAGE: Figure =
    Figure { place: "limits.damage", asks: "level that destroys its input", check: &checks::reads::<Dbm> };

fn figures(kind: &str) -> Vec<Figure> {
    let within = Figure {
        place: "messages.answer_within",
        asks: "how long an answer may take",
        check: &|text| checks::at_least(Seconds::new(0.01))(text),
    };
    let mut figures = vec![within];
    match kind {
        "analyser" => figures.extend([
            RANGE,
            DAMAGE,
            Figure {
                place: "noise.in_1_hz",
                asks: "its noise in 1 Hz, at 0 dB attenuation without preamplifier",
                check: &checks::noise_in_1_hz,
            },
        ]),
        "power-meter" => figures.extend([RANGE, LEVELS, DAMAGE]),
        "generator" => figures.extend([
            RANGE,
            LEVELS,
            Figure {
                place: "limits.reverse_power",
                asks: "level from outside that destroys its output",
                check: &checks::reads::<Dbm>,
            },
        ]),
        "audio-generator" => figures.push(RANGE),
        _ => {}
    }
    figures
}

/// Whether the file holds a profile.
pub(super) fn accepted(library: &dyn Library, file: &str) -> Result<(), Failure> {
    let text = library.file("", file).map_err(|missing| Failure::Usage {
        message: missing.message,
        advice: missing.advice.unwrap_or_default(),
    })?;
    Document::parse(&text.name, &text.text).and_then(|document| Profile::read(&document))?;
    Ok(())
}

/// Asks about an instrument and drafts its profile.
pub(super) fn draft(answers: &mut Answers<'_>, file: &str) -> Result<Draft, Failure> {
    let kind = answers.choose(("kind", "which kind of instrument"), &KINDS, "analyser")?;
    let name = format!("{kind}-generic");
    let (_, text) =
        PROFILES.iter().find(|(known, _)| *known == name).expect("every kind has a generic profile");
    let document = Document::parse(&name, text)?;
    let title = answers.ask(&Question {
        name: "title",
        asks: "what the instrument is called",
        usual: Some(scalar(&document, "profile").0),
        check: &checks::text,
    })?;
    let (own_title, place) = scalar(&document, "profile");
    let mut changed: Vec<(Span, String)> = Vec::new();
    if title != spurline_document::quoted(&own_title) {
        changed.push((place, title));
    }
    for figure in figures(&kind) {
        let (usual, span) = scalar(&document, figure.place);
        let name = figure.place.rsplit('.').next().unwrap_or(figure.place);
        let answer =
            answers.ask(&Question { name, asks: figure.asks, usual: Some(usual), check: figure.check })?;
        changed.push((span, answer));
    }
    let head = format!(
        "# Begun from `{name}`. Correct the commands with the manual at hand, and put in the figures of the data sheet or\n\
         # of a certificate: one that is better than the instrument makes every verdict worth less.\n\
         # Try it, while nothing is keyed: spurline identify ADDRESS --profile {}\n#\n",
        shown(file)
    );
    let text = format!("{head}{}", replaced(text, changed));
    let next = vec![format!("spurline identify ADDRESS --profile {}", shown(file))];
    Ok(Draft { files: vec![Made { file: file.to_owned(), text }], next, notes: Vec::new() })
}

/// A profile is looked for by its name unless it is named by its path.
fn shown(file: &str) -> String {
    let file: String = file.chars().filter(|letter| !letter.is_control()).collect();
    if file.contains('/') { file } else { format!("./{file}") }
}

/// The text of a place such as `ranges.frequency`, and where it stands.
fn scalar(document: &Document, place: &str) -> (String, Span) {
    let node = place.split('.').try_fold(&document.root, |node: &Node, key| node.get(key));
    let found = node.and_then(|node| Some((node.scalar()?.to_owned(), node.span)));
    found.unwrap_or_else(|| panic!("the generic profile has `{place}`"))
}

/// The text with other values at some places.
fn replaced(text: &str, mut changed: Vec<(Span, String)>) -> String {
    changed.sort_by_key(|(span, _)| std::cmp::Reverse(span.start));
    changed.into_iter().fold(text.to_owned(), |mut text, (span, value)| {
        text.replace_range(span.start..span.end, &value);
        text
    })
}
