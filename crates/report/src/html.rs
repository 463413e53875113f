//! A run as one self-contained page.

use askama::Template;
use spurline_record::{Fault, Outcome};

use crate::figures;
use crate::group::{Group, groups};
use crate::timeline::{self, Happened, KeyDown};
use crate::view::{ReportError, RunView};

#[derive(Template)]
#[template(path = "run.html")]
struct Page<'a> {
    run: &'a RunView<'a>,
    verdict: Verdict,
    counts: Vec<Count>,
    worst: Option<Worst>,
    groups: Vec<Group<'a>>,
    faults: Vec<&'a Fault>,
    notes: Vec<&'a str>,
    keyed: Vec<KeyDown>,
    happened: Vec<Happened>,
    files: Vec<(&'static str, &'a str)>,
}

struct Verdict {
    word: &'static str,
    sign: &'static str,
    class: &'static str,
    meaning: &'static str,
}

struct Count {
    word: &'static str,
    sign: &'static str,
    class: &'static str,
    number: usize,
}

/// The reading with the smallest margin.
struct Worst {
    margin: String,
    place: String,
}

/// The run as a page, for example to be written to a file. It loads nothing and runs nothing.
///
/// # Errors
///
/// [`ReportError::Page`].
pub fn html(run: &RunView<'_>) -> Result<String, ReportError> {
    let files = run.header.texts.iter().map(|text| (figures::text_role(text.role), text.name.as_str()));
    let page = Page {
        run,
        verdict: verdict(run),
        counts: counts(run),
        worst: worst(run),
        groups: groups(run.readings),
        faults: timeline::faults(run.events),
        notes: timeline::notes(run.events),
        keyed: timeline::key_downs(run.events),
        happened: timeline::lines(run.events),
        files: files.collect(),
    };
    Ok(page.render()?)
}

fn verdict(run: &RunView<'_>) -> Verdict {
    let meaning = figures::meaning(run.outcome, run.state);
    match run.outcome {
        Some(outcome) => Verdict {
            word: outcome.word(),
            sign: figures::sign(outcome),
            class: figures::class(outcome),
            meaning,
        },
        None => Verdict { word: "no outcome", sign: "–", class: "soft", meaning },
    }
}

fn counts(run: &RunView<'_>) -> Vec<Count> {
    let count = |outcome| Count {
        word: Outcome::word(outcome),
        sign: figures::sign(outcome),
        class: figures::class(outcome),
        number: run.count(outcome),
    };
    Outcome::ALL.map(count).into_iter().filter(|count| count.number > 0).collect()
}

fn worst(run: &RunView<'_>) -> Option<Worst> {
    run.readings
        .iter()
        .filter_map(|reading| reading.margin.map(|margin| (margin.get(), reading)))
        .min_by(|one, other| one.0.total_cmp(&other.0))
        .map(|(margin, reading)| Worst {
            margin: figures::signed(margin),
            place: format!(
                "{} at {}, {}, {}",
                figures::title(reading),
                reading.frequency,
                reading.scope.channel,
                reading.scope.power_setting
            ),
        })
}
