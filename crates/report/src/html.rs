//! A run as one self-contained page.

pub(crate) mod budget;
mod detail;
pub(crate) mod equipment;
pub(crate) mod group;
pub(crate) mod look;
pub(crate) mod summary;

use std::io::Write;

use askama::Template;
use jiff::civil::Date;
use spurline_record::{Interlock, Role, SourceText};

use crate::interlocks;
use crate::issue::{self, Fact};
use crate::key::{self, KeyDown};
use crate::page::{finish_into, finished};
use crate::setup::{self, Setup};
use crate::timeline::{self, Happened};
use crate::view::{ReportError, RunView};
use crate::{figures, scope};
use equipment::{CalibrationRow, PartRow};
use group::Group;
use summary::Summary;

#[derive(Template)]
#[template(path = "run.html")]
struct Page<'a> {
    run: &'a RunView<'a>,
    summary: Summary<'a>,
    faults: Vec<String>,
    setup: Option<Setup>,
    parts: Vec<PartRow<'a>>,
    calibrations: Vec<CalibrationRow<'a>>,
    groups: Vec<Group<'a>>,
    notes: Vec<String>,
    keyed: Vec<KeyDown<'a>>,
    interlocks: Vec<&'a Interlock>,
    happened: Vec<Happened>,
    about: Vec<Fact>,
    unit: Vec<Fact>,
    procedures: Vec<(&'static str, &'static str)>,
    deviations: Vec<String>,
    environment: String,
    traces: Vec<Fact>,
}

/// The run as a page. It loads nothing and runs nothing.
///
/// # Errors
///
/// [`ReportError::Page`].
pub fn html(run: &RunView<'_>) -> Result<String, ReportError> {
    finished(&page(run))
}

/// The same written to a file, as it is made.
///
/// # Errors
///
/// [`ReportError::Page`], [`ReportError::Write`].
pub fn write_html(run: &RunView<'_>, out: &mut dyn Write) -> Result<(), ReportError> {
    finish_into(&page(run), out)
}

fn page<'a>(run: &'a RunView<'a>) -> Page<'a> {
    let keyed = key::downs(run.events);
    let day = begun_on(run);
    Page {
        run,
        summary: Summary::of(run, &keyed),
        faults: timeline::faults(run.events).into_iter().map(figures::fault).collect(),
        setup: setup::draw(run.header, run.instruments),
        parts: equipment::parts(&run.header.layout, day),
        calibrations: equipment::calibrations(&run.header.layout, day),
        groups: group::groups(run),
        notes: timeline::notes(run.events),
        keyed,
        interlocks: interlocks::last(run.events),
        happened: timeline::lines(run.events),
        about: issue::about(run),
        unit: issue::unit(run),
        procedures: issue::procedures(run),
        deviations: issue::deviations(run),
        environment: issue::environment(run),
        traces: issue::traces(run),
    }
}

impl Page<'_> {
    /// The name of the run where a style sheet can hold it.
    fn foot(&self) -> String {
        let fits = |c: &char| c.is_ascii_alphanumeric() || *c == '-';
        self.run.header.id.as_str().chars().filter(fits).take(40).collect()
    }
}

/// The day on which the run began, in UTC.
pub(crate) fn begun_on(run: &RunView<'_>) -> Date {
    jiff::tz::Offset::UTC.to_datetime(run.header.started).date()
}

/// What is to be told of an instrument whose calibration was no longer good.
fn expired(run: &RunView<'_>, role: Role) -> Option<String> {
    equipment::expired(&run.header.layout, Some(role), "", begun_on(run))
}

/// A file of the run in words.
fn file(text: &SourceText) -> String {
    format!("{}: {}", figures::text_role(text.role), text.name)
}

/// How long a key was down, or that nothing says so.
pub(crate) fn held(down: &KeyDown<'_>) -> String {
    down.held.map_or_else(|| "no key up recorded".to_owned(), |held| format!("{:.2} s", held.get()))
}

/// What was being measured while the key was down.
pub(crate) fn during(down: &KeyDown<'_>) -> String {
    down.scope.map(scope::name).unwrap_or_default()
}
