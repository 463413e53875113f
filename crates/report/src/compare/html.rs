//! A comparison as one self-contained page.

use askama::Template;
use spurline_units::Db;

use super::change::Change;
use super::comparison::{Comparison, Verdict, near_noise_db};
use super::shifts;
use crate::drawing::Width;
use crate::figures;
use crate::page::finished;
use crate::view::ReportError;

#[derive(Template)]
#[template(path = "compare.html")]
struct Page<'a> {
    of: &'a Comparison<'a>,
    verdict: VerdictWords,
    concerns: Vec<Row<'a>>,
    groups: Vec<Group<'a>>,
    asked: String,
    method: Vec<String>,
}

struct VerdictWords {
    word: &'static str,
    sign: &'static str,
    class: &'static str,
    meaning: String,
}

/// The pairs of one state of unit and bench.
struct Group<'a> {
    name: &'a str,
    drawings: Vec<Drawn>,
    rows: Vec<Row<'a>>,
}

struct Drawn {
    wide: String,
    narrow: String,
    caption: &'static str,
}

struct Row<'a> {
    change: &'a Change,
    shift: String,
    statement: String,
    sign: &'static str,
    class: &'static str,
}

impl<'a> Row<'a> {
    fn of(comparison: &'a Comparison<'a>, place: usize) -> Self {
        let change = &comparison.changes[place];
        let (sign, class) = if comparison.worse.contains(&place) {
            ("✗", "bad")
        } else if change.is_real() {
            ("✓", "good")
        } else if change.is_compared() {
            ("=", "soft")
        } else {
            ("–", "soft")
        };
        let shift = change.shift().map(|shift| super::words::signed(change.unit, shift.shift));
        Self {
            change,
            shift: shift.unwrap_or_else(|| "–".to_owned()),
            statement: change.statement(),
            sign,
            class,
        }
    }

    fn outcomes(&self) -> String {
        let (before, after) = (self.change.before.outcome, self.change.after.outcome);
        let sign = figures::sign(after);
        if before == after { format!("{sign} {after}") } else { format!("{before} → {sign} {after}") }
    }

    fn class_of_outcome(&self) -> &'static str {
        figures::class(self.change.after.outcome)
    }
}

/// The comparison as a page, for example to be written to a file. It loads nothing and runs nothing.
///
/// # Errors
///
/// [`ReportError::Page`].
pub fn comparison_html(comparison: &Comparison<'_>) -> Result<String, ReportError> {
    let [differ, real, ..] = comparison.in_order();
    let mut concerns = comparison.worse.clone();
    concerns.extend(differ.into_iter().chain(real));
    let mut seen = Vec::new();
    concerns.retain(|place| {
        !seen.contains(place) && {
            seen.push(*place);
            true
        }
    });
    let page = Page {
        of: comparison,
        verdict: verdict(comparison),
        concerns: concerns.into_iter().map(|place| Row::of(comparison, place)).collect(),
        groups: groups(comparison),
        asked: asked(comparison),
        method: method(comparison),
    };
    finished(&page)
}

impl Comparison<'_> {
    /// What the verdict means, in a sentence.
    #[must_use]
    pub fn meaning(&self) -> String {
        let matters =
            self.terms.worse.map_or_else(String::new, |matters: Db| format!(" by {matters:.2} or more"));
        match self.verdict {
            Verdict::Worse if self.worse.len() == 1 => {
                format!("One reading really came nearer to its limit{matters}, or to a graver outcome.")
            }
            Verdict::Worse => {
                let count = self.worse.len();
                format!(
                    "{count} readings really came nearer to their limits{matters}, or to graver outcomes."
                )
            }
            Verdict::Undecidable => "That nothing became worse cannot be said.".to_owned(),
            Verdict::NotWorse => {
                format!("No reading came nearer to its limit{matters} by more than would have been seen.")
            }
        }
    }
}

fn verdict(comparison: &Comparison<'_>) -> VerdictWords {
    let (sign, class) = match comparison.verdict {
        Verdict::Worse => ("✗", "bad"),
        Verdict::Undecidable => ("?", "unsure"),
        Verdict::NotWorse => ("✓", "good"),
    };
    VerdictWords { word: comparison.verdict.word(), sign, class, meaning: comparison.meaning() }
}

fn groups<'a>(comparison: &'a Comparison<'a>) -> Vec<Group<'a>> {
    let mut places: Vec<&str> = Vec::new();
    for change in &comparison.changes {
        if !places.contains(&change.place.as_str()) {
            places.push(&change.place);
        }
    }
    let of_place = |name: &'a str| {
        let members = || comparison.changes.iter().enumerate().filter(|(_, change)| change.place == name);
        let changes: Vec<&Change> = members().map(|(_, change)| change).collect();
        let kinds =
            [(shifts::shifts as fn(&[&Change], Width) -> Option<String>, SHIFTS), (shifts::levels, LEVELS)];
        let drawings = kinds.into_iter().filter_map(|(draw, caption)| {
            Some(Drawn {
                wide: draw(&changes, Width::Wide)?,
                narrow: draw(&changes, Width::Narrow)?,
                caption,
            })
        });
        Group {
            name,
            drawings: drawings.collect(),
            rows: members().map(|(place, _)| Row::of(comparison, place)).collect(),
        }
    };
    places.into_iter().map(of_place).collect()
}

const SHIFTS: &str = "Disc: the shift; full if it is real. Bar: where the true shift lies, at the risk of the whole comparison. \
                      Grey: shifts up to here would not surely have been seen. Arrow: from a bound on, without end.";
const LEVELS: &str = "Ring: before. Disc: now. Upright line: limit, now. Arrow: an upper bound.";

fn asked(comparison: &Comparison<'_>) -> String {
    let Comparison { terms, asked, .. } = comparison;
    format!(
        "{} asked whether {} shifted. The risk that any of them is called a shift without one is {} for all together; each has \
         a share of it. The smallest detectable shift would be seen with a chance of {}.",
        if *asked == 1 { "1 pair was".to_owned() } else { format!("{asked} pairs were") },
        if *asked == 1 { "it" } else { "they" },
        per_cent(terms.risk),
        per_cent(terms.power)
    )
}

fn per_cent(share: f64) -> String {
    format!("{:.0} %", share * 100.0)
}

fn method(comparison: &Comparison<'_>) -> Vec<String> {
    let mut lines = comparison.repeats.clone();
    if comparison.changes.iter().any(|change| change.near_noise.is_some()) {
        lines.push(format!(
            "lines less than {:.0} dB above the noise scatter with it: theirs is taken from the distance, if that is more \
             than their sweeps show",
            near_noise_db()
        ));
    }
    lines
}
