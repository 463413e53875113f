//! A run as one self-contained page.

use askama::Template;
use spurline_record::{Acquisition, EventKind, Outcome, Reading, Scope};

use crate::view::{ReportError, RunView};
use crate::{figures, plot, trace};

#[derive(Template)]
#[template(path = "run.html")]
struct Page<'a> {
    run: &'a RunView<'a>,
    outcome: &'a str,
    sign: &'a str,
    counts: Vec<(&'static str, &'static str, usize)>,
    worst: Option<(String, String)>,
    scopes: Vec<Group<'a>>,
    keyed: Vec<(String, String)>,
}

/// The readings of one channel and power setting.
struct Group<'a> {
    scope: &'a Scope,
    plot: Option<String>,
    rows: Vec<Row<'a>>,
}

struct Row<'a> {
    reading: &'a Reading,
    title: String,
    figure: String,
    limit: String,
    margin: String,
    expanded: String,
    sign: &'static str,
    looks: Vec<Look<'a>>,
}

struct Look<'a> {
    acquisition: &'a Acquisition,
    plot: Option<String>,
}

/// The run as a page.
///
/// # Errors
///
/// [`ReportError::Page`].
pub fn html(run: &RunView<'_>) -> Result<String, ReportError> {
    let counts = Outcome::ALL.map(|outcome| (figures::sign(outcome), outcome.word(), run.count(outcome)));
    let worst = run
        .readings
        .iter()
        .filter_map(|reading| reading.margin.map(|margin| (margin, reading)))
        .min_by(|one, other| one.0.get().total_cmp(&other.0.get()))
        .map(|(margin, reading)| {
            let place = format!(
                "{} at {}, {} {}",
                figures::title(reading),
                reading.frequency,
                reading.scope.channel,
                reading.scope.power_setting
            );
            (figures::signed(margin.get()), place)
        });
    let page = Page {
        run,
        outcome: run.outcome.map_or("no readings", Outcome::word),
        sign: run.outcome.map_or("–", figures::sign),
        counts: counts.into_iter().filter(|(_, _, count)| *count > 0).collect(),
        worst,
        scopes: groups(run.readings),
        keyed: key_downs(run),
    };
    Ok(page.render()?)
}

fn groups(readings: &[Reading]) -> Vec<Group<'_>> {
    let mut groups: Vec<(&Scope, Vec<&Reading>)> = Vec::new();
    for reading in readings {
        match groups.iter_mut().find(|(scope, _)| **scope == reading.scope) {
            Some((_, members)) => members.push(reading),
            None => groups.push((&reading.scope, vec![reading])),
        }
    }
    groups
        .into_iter()
        .map(|(scope, members)| Group {
            scope,
            plot: plot::harmonics(&members),
            rows: members.into_iter().map(row).collect(),
        })
        .collect()
}

fn row(reading: &Reading) -> Row<'_> {
    let dash = || "–".to_owned();
    Row {
        reading,
        title: figures::title(reading),
        figure: figures::figure(reading.figure.as_ref()),
        limit: figures::limit(reading.limit.as_ref()),
        margin: reading.margin.map_or_else(dash, |margin| figures::signed(margin.get())),
        expanded: reading
            .budget
            .as_ref()
            .map_or_else(dash, |budget| format!("{:.2} dB", budget.expanded.get())),
        sign: figures::sign(reading.outcome),
        looks: reading
            .acquisitions
            .iter()
            .map(|acquisition| Look { acquisition, plot: trace::trace(acquisition) })
            .collect(),
    }
}

/// When the key went down and how long it stayed so.
fn key_downs(run: &RunView<'_>) -> Vec<(String, String)> {
    let mut downs = Vec::new();
    let mut since = None;
    for event in run.events {
        match &event.kind {
            EventKind::KeyDown { .. } => since = Some(event.at),
            EventKind::KeyUp { held } => {
                let from = since.take().map_or_else(String::new, |at| at.strftime("%H:%M:%S").to_string());
                downs.push((from, format!("{:.2} s", held.get())));
            }
            _ => {}
        }
    }
    downs
}
