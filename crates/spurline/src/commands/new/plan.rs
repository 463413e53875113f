//! A plan, on a bench that is there or on a simulated one that is made with it.

use std::path::Path;

use askama::Template;
use spurline_document::{Node, quoted};
use spurline_plan::{Abandoned, Forecast, Job, Library};
use spurline_runner::RULES;
use spurline_units::{Hertz, Power, Range, Seconds, Watts};

use super::answers::{Answers, Choice, Question, Wrong};
use super::bench::{Fitted, simulated_file, wrong};
use super::checks::{self, NONE};
use super::{Draft, Made};
use crate::talk::Failure;

/// The answer that a simulated bench is to be made for the plan.
const SIMULATED: &str = "simulated";
/// And the file that it is written to.
const SIMULATED_FILE: &str = "simulated-bench.yaml";
/// The bench file that a plan is usually written for.
const USUAL_BENCH: &str = "bench.yaml";
/// The rule that has a limit at every frequency.
const USUAL_RULE: &str = "itu-category-a";

#[derive(Template)]
#[template(path = "new/plan.yaml", escape = "none")]
struct Page {
    title: String,
    bench: String,
    rule: String,
    /// The same without marks of quotation.
    rule_bare: String,
    decision: String,
    model: String,
    rated: String,
    facts: Vec<Asked>,
    channels: Vec<Channel>,
    setting: String,
    window: Range<Power>,
    up_to: String,
    longest: String,
    rest: String,
    own_timer: Option<String>,
}

struct Asked {
    name: String,
    kind: String,
    meaning: String,
}

struct Channel {
    name: String,
    carrier: Hertz,
}

/// Whether the plan can be run on its bench.
pub(super) fn accepted(library: &dyn Library, file: &str) -> Result<(), Failure> {
    let job = Job::load(file, None, library)?;
    spurline_runner::read_simulated(&job.bench)?;
    Forecast::of(&job)?;
    Ok(())
}

/// Asks about a plan and drafts its file.
pub(super) fn draft(answers: &mut Answers<'_>, library: &dyn Library, file: &str) -> Result<Draft, Failure> {
    let ask_text = |answers: &mut Answers<'_>, name: &str, asks: &str, usual: &str| {
        answers.ask(&Question { name, asks, usual: Some(usual.to_owned()), check: &checks::text })
    };
    let title = ask_text(answers, "title", "what the plan is called", "Acceptance of a unit")?;
    let model = ask_text(answers, "model", "model of the unit", "Handheld")?;
    let rated = answers.ask(&Question {
        name: "rated_power",
        asks: "power that it is rated for",
        usual: Some("5 W".to_owned()),
        check: &|text| checks::power(text).map(|_| text.to_owned()),
    })?;
    let power = checks::power(&rated).map_err(wrong)?;
    let rule_bare = rule(answers, library, file)?;
    let decision = answers.choose(
        ("decision", "how a level near its limit is decided"),
        &[("guard-band", "it complies only if level + U does"), ("simple", "the level alone decides")],
        "guard-band",
    )?;
    let carriers = answers.ask(&Question {
        name: "carriers",
        asks: "carrier, or several with commas between them",
        usual: Some("146 MHz".to_owned()),
        check: &|text| checks::carriers(text).map(|_| text.to_owned()),
    })?;
    let carriers = checks::carriers(&carriers).map_err(wrong)?;
    let setting = answers.ask(&Question {
        name: "setting",
        asks: "name of the power setting, as the unit knows it",
        usual: Some("high".to_owned()),
        check: &checks::setting,
    })?;
    let window = answers.ask(&Question {
        name: "window",
        asks: "window that the mean power must lie in there",
        usual: window_about(power).map(|window| window.to_string()),
        check: &|text| checks::window(text).map(|_| text.to_owned()),
    })?;
    let window = checks::window(&window).map_err(wrong)?;
    let up_to = answers.ask(&Question {
        name: "harmonics",
        asks: "the highest harmonic",
        usual: Some("10".to_owned()),
        check: &checks::whole(2, 40),
    })?;
    let time = |answers: &mut Answers<'_>, name: &str, asks: &str, usual: &str, least: f64| {
        let check = checks::at_least(Seconds::new(least));
        answers.ask(&Question { name, asks, usual: Some(usual.to_owned()), check: &check })
    };
    let longest = time(answers, "longest", "the longest that it may be keyed at once", "20 s", 1.0)?;
    let rest = time(answers, "rest", "rest between key-downs", "60 s", 0.0)?;
    let wanted = Wanted { model: &model, carriers: &carriers, setting: &setting, window: &window };
    let (bench, notes) = bench(answers, library, file, &wanted)?;
    let own_timer = own_timer(answers, library, file, &bench)?;

    let known = checks::rule(library, file, &rule_bare).map_err(wrong)?;
    let facts = known.facts().iter().map(|fact| Asked {
        name: fact.name().to_owned(),
        kind: fact.kind().to_string(),
        // It stands in a comment, and is another file's text.
        meaning: fact.meaning().split_whitespace().collect::<Vec<_>>().join(" "),
    });
    let (bench, beside) = match bench.as_str() {
        SIMULATED => {
            let fitted = Fitted {
                title: quoted("Simulated bench"),
                model: model.clone(),
                range: range_about(&carriers),
                setting: setting.clone(),
                power: middle(&window),
                seed: "1".to_owned(),
                clock: "fast".to_owned(),
            };
            let name = free_file(library, file);
            let beside = Path::new(file).with_file_name(&name);
            let made = simulated_file(&beside.display().to_string(), fitted);
            (quoted(&name), Some(made))
        }
        name => (quoted(name), None),
    };
    let channels = carriers
        .iter()
        .enumerate()
        .map(|(place, carrier)| Channel { name: format!("channel {}", place + 1), carrier: *carrier })
        .collect();
    let page = Page {
        title,
        bench,
        rule: quoted(&rule_bare),
        rule_bare,
        decision,
        model,
        rated,
        facts: facts.collect(),
        channels,
        setting,
        window,
        up_to,
        longest,
        rest,
        own_timer,
    };
    let mut files = vec![Made::of(file, &page)];
    files.extend(beside);
    let next = vec![format!("spurline check {file}"), format!("spurline run {file}")];
    Ok(Draft { files, next, notes })
}

/// Rules listed in so many columns fit a terminal of 80 columns and 30 lines.
const COLUMNS: usize = 2;
/// The most rules that some letters are answered with.
const MOST_FOUND: usize = 9;

fn rule(answers: &mut Answers<'_>, library: &dyn Library, file: &str) -> Result<String, Failure> {
    // One without limits of emissions can judge a tolerance or a channel, and no plan by itself.
    let fitting: Vec<(&str, String)> = RULES
        .iter()
        .filter_map(|(name, _)| Some((*name, checks::rule(library, file, name).ok()?.title().to_owned())))
        .collect();
    if answers.is_a_person() {
        answers.say(
            "rules that come with the program, by name or number; some letters find those\n\
             that have them; the name of one of yours will do as well",
        );
        for line in in_columns(&fitting) {
            answers.say(&line);
        }
    }
    answers.ask(&Question {
        name: "rule",
        asks: "rule that the unit is judged by",
        usual: Some(USUAL_RULE.to_owned()),
        check: &|text| {
            let numbered = text.parse::<usize>().ok().and_then(|number| fitting.get(number.checked_sub(1)?));
            let name = numbered.map_or(text, |(name, _)| *name);
            match checks::rule(library, file, name) {
                Ok(_) => checks::text(name).map(|_| name.to_owned()),
                Err(wrong) => Err(found(&fitting, name).unwrap_or(wrong)),
            }
        },
    })
}

/// Names with their numbers, the next one below.
fn in_columns(rules: &[(&str, String)]) -> Vec<String> {
    let rows = rules.len().div_ceil(COLUMNS);
    let cell = |place: usize| rules.get(place).map(|(name, _)| format!("  {:>2}  {name:32}", place + 1));
    let line = |row: usize| (0..COLUMNS).filter_map(|column| cell(column * rows + row)).collect::<String>();
    (0..rows).map(|row| line(row).trim_end().to_owned()).collect()
}

/// A line of a terminal, with what stands before it.
fn in_a_line(text: &str) -> String {
    const MOST: usize = 74;
    if text.chars().count() <= MOST {
        return text.to_owned();
    }
    text.chars().take(MOST - 1).chain(['…']).collect()
}

/// The rules that have some letters in their names or titles.
fn found(rules: &[(&str, String)], letters: &str) -> Option<Wrong> {
    let sought = letters.to_lowercase();
    let has = |text: &str| text.to_lowercase().contains(&sought);
    let all: Vec<String> = rules
        .iter()
        .enumerate()
        .filter(|(_, (name, title))| sought.len() > 1 && (has(name) || has(title)))
        .map(|(place, (name, title))| in_a_line(&format!("{:>2}  {name}: {title}", place + 1)))
        .collect();
    if all.is_empty() {
        return None;
    }
    let more = match all.len().checked_sub(MOST_FOUND) {
        Some(more @ 1..) => format!("\n    and {more} more"),
        _ => String::new(),
    };
    let shown = all.iter().take(MOST_FOUND).map(String::as_str).collect::<Vec<_>>().join("\n");
    let message = format!("no rule is called `{letters}`; with these letters there are\n{shown}{more}");
    Some(Wrong::new(message, "answer with its name or number, or with more letters"))
}

/// The file of a bench from the folder of the plan, or `simulated`; and what is to be told if it is taken.
fn bench(
    answers: &mut Answers<'_>,
    library: &dyn Library,
    file: &str,
    wanted: &Wanted<'_>,
) -> Result<(String, Vec<String>), Failure> {
    let is_there = |name: &str| library.file(file, name).is_ok();
    let mut usual = if is_there(USUAL_BENCH) { USUAL_BENCH } else { SIMULATED };
    let mut found = None;
    if usual == SIMULATED && is_there(SIMULATED_FILE) {
        found = Some(match misfit(library, file, wanted) {
            None => {
                usual = SIMULATED_FILE;
                format!("`{SIMULATED_FILE}` is there, and fits this plan")
            }
            Some(why) => format!(
                "`{SIMULATED_FILE}` is there and does not fit this plan: {why}. `{SIMULATED}` makes another, `{}`",
                free_file(library, file)
            ),
        });
    }
    // Who is asked must know it beforehand.
    if answers.is_a_person()
        && let Some(found) = found.take()
    {
        answers.say(&found);
    }
    let choices: [Choice<'_>; 2] = [
        ("FILE", "a bench file, named from the folder of the plan"),
        (SIMULATED, "one is made that fits the plan: no instrument is needed"),
    ];
    if answers.is_a_person() {
        for (word, means) in choices {
            answers.say(&format!("  {word:11}{means}"));
        }
    }
    let bench = answers.ask(&Question {
        name: "bench",
        asks: "bench",
        usual: Some(usual.to_owned()),
        check: &|text| {
            if text == SIMULATED {
                return Ok(text.to_owned());
            }
            let found = library
                .file(file, text)
                .map_err(|missing| Wrong { message: missing.message, advice: missing.advice })?;
            match Job::load_bench(&found.name, library) {
                Ok(_) => checks::text(text).map(|_| text.to_owned()),
                Err(spurline_plan::LoadError::Mistakes(mistakes)) => Err(checks::first(&mistakes)),
                Err(other) => Err(Wrong { message: other.to_string(), advice: other.advice() }),
            }
        },
    })?;
    let notes = found.filter(|_| bench == usual).into_iter().collect();
    Ok((bench, notes))
}

/// What the plan asks of the unit of its bench.
struct Wanted<'p> {
    /// As YAML.
    model: &'p str,
    carriers: &'p [Hertz],
    setting: &'p str,
    window: &'p Range<Power>,
}

/// Why the simulated bench that is there cannot stand in for the unit of the plan.
fn misfit(library: &dyn Library, file: &str, wanted: &Wanted<'_>) -> Option<String> {
    let found = library.file(file, SIMULATED_FILE).ok()?;
    let Ok(bench) = Job::load_bench(&found.name, library) else {
        return Some("it has mistakes".to_owned());
    };
    let units = bench.simulated.as_ref().and_then(|truth| truth.get("units"));
    let Some(units) = units.map(Node::items) else {
        return Some("it is not simulated".to_owned());
    };
    let why: Vec<Option<String>> = units.iter().map(|unit| unfit(unit, wanted)).collect();
    if why.iter().any(Option::is_none) { None } else { why.into_iter().flatten().next() }
}

fn unfit(unit: &Node, wanted: &Wanted<'_>) -> Option<String> {
    let text = |key: &str| unit.get(key).and_then(Node::scalar);
    let model = text("model").unwrap_or_default();
    if quoted(model) != wanted.model {
        return Some(format!("its unit is a `{model}`"));
    }
    let range: Option<Range<Hertz>> = text("range").and_then(|range| range.parse().ok());
    if let Some(range) = range
        && let Some(beyond) =
            wanted.carriers.iter().find(|carrier| **carrier < range.low() || **carrier > range.high())
    {
        return Some(format!("its unit reaches {range}, and not {beyond}"));
    }
    let power = unit.get("powers").and_then(|powers| powers.get(wanted.setting)).and_then(Node::scalar);
    let Some(power) = power.and_then(|power| power.parse::<Power>().ok()) else {
        return Some(format!("its unit has no power setting `{}`", wanted.setting));
    };
    let (low, high) = (wanted.window.low().watts(), wanted.window.high().watts());
    let is_within = power.watts() >= low && power.watts() <= high;
    (!is_within).then(|| format!("its unit gives {power}, and not {}", wanted.window))
}

/// The first name for a simulated bench that no file has.
fn free_file(library: &dyn Library, file: &str) -> String {
    let numbered = (2..).map(|number| SIMULATED_FILE.replace(".yaml", &format!("-{number}.yaml")));
    let mut names = std::iter::once(SIMULATED_FILE.to_owned()).chain(numbered);
    names.find(|name| !is_taken(library, file, name)).expect("some number is free")
}

fn is_taken(library: &dyn Library, file: &str, name: &str) -> bool {
    library.file(file, name).is_ok() || Path::new(file).with_file_name(name).symlink_metadata().is_ok()
}

/// After how long the unit ends a transmission by itself; where nothing else brings the key up, that must be known.
fn own_timer(
    answers: &mut Answers<'_>,
    library: &dyn Library,
    file: &str,
    bench: &str,
) -> Result<Option<String>, Failure> {
    let read = library.file(file, bench).ok().and_then(|found| Job::load_bench(&found.name, library).ok());
    // A simulated key harms nobody, and the one that is made here opens by itself.
    let stays =
        read.is_some_and(|bench| matches!(bench.key.abandoned(), Abandoned::StaysDown | Abandoned::ByHand));
    let check = |text: &str| {
        if text != NONE {
            return checks::at_least(Seconds::new(1.0))(text);
        }
        if stays {
            return Err(Wrong::new(
                "the key of this bench stays down when everything else dies",
                "set the unit's own time-out timer, and say its value here, for example 60 s",
            ));
        }
        Ok(text.to_owned())
    };
    let timer = answers.ask(&Question {
        name: "own_timer",
        asks: "the unit's own time-out timer as it is set, or `none`",
        usual: (!stays).then(|| NONE.to_owned()),
        check: &check,
    })?;
    Ok((timer != NONE).then_some(timer))
}

/// Wide enough for the uncertainty of an analyser that stands alone.
fn window_about(rated: Power) -> Option<Range<Power>> {
    let (low, high) = (rated.watts() * 0.6, rated.watts() * 1.4);
    format!("{}..{}", in_digits(low), in_digits(high)).parse().ok()
}

fn middle(window: &Range<Power>) -> Power {
    let middle = (window.low().watts() + window.high().watts()) / 2.0;
    in_digits(middle).to_string().parse().unwrap_or_else(|_| window.low())
}

/// So that every carrier is well inside.
fn range_about(carriers: &[Hertz]) -> Range<Hertz> {
    let end = |order: fn(f64, f64) -> f64, first: f64| {
        carriers.iter().map(|carrier| carrier.get()).fold(first, order)
    };
    let (low, high) = (end(f64::min, f64::INFINITY), end(f64::max, 0.0));
    let range = Range::new(Hertz::new((low / 2.0).floor()), Hertz::new((high * 2.0).ceil()));
    range.expect("half of the lowest lies below twice the highest")
}

/// In three digits, as nobody writes more.
fn in_digits(power: Watts) -> Watts {
    Watts::new(format!("{:.2e}", power.get()).parse().expect("a number was just written"))
}
