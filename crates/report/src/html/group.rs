//! The readings of one scope: their plot, their table, and what the page says about each.

use spurline_record::{Outcome, Reading};

use super::detail::Detail;
use super::summary::Count;
use crate::drawing::{self, Drawing, Width};
use crate::view::RunView;
use crate::{figures, scope};

/// The readings of one channel, power setting and supply.
pub(crate) struct Group<'a> {
    pub(crate) name: String,
    /// The paths of its readings, one or several.
    pub(crate) paths: String,
    pub(crate) counts: Vec<Count>,
    pub(crate) wide: Option<Drawing>,
    pub(crate) narrow: Option<Drawing>,
    pub(crate) rows: Vec<Row<'a>>,
    pub(crate) details: Vec<Detail<'a>>,
}

/// One reading, as tables show it.
pub(crate) struct Row<'a> {
    pub(crate) reading: &'a Reading,
    pub(crate) title: String,
    pub(crate) place: String,
    pub(crate) figure: String,
    pub(crate) limit: String,
    pub(crate) margin: String,
    pub(crate) expanded: String,
    pub(crate) sign: &'static str,
    pub(crate) class: &'static str,
}

impl<'a> Row<'a> {
    pub(crate) fn of(reading: &'a Reading) -> Self {
        let dash = || "–".to_owned();
        Self {
            reading,
            title: reading.title(),
            place: scope::name(&reading.scope),
            figure: figures::figure(reading.figure.as_ref()),
            limit: figures::limit(reading.limit.as_ref()),
            margin: reading.margin.map_or_else(dash, figures::signed),
            expanded: reading
                .budget
                .as_ref()
                .map_or_else(dash, |budget| budget.unit.show(budget.expanded, 2)),
            sign: figures::sign(reading.outcome),
            class: figures::class(reading.outcome),
        }
    }
}

impl Row<'_> {
    /// The chance that the limit is kept.
    pub(crate) fn chance(&self) -> String {
        self.reading.conformance_probability.map_or_else(|| "–".to_owned(), figures::chance)
    }
}

/// The readings of a page by scope.
pub(crate) fn groups<'a>(run: &RunView<'a>) -> Vec<Group<'a>> {
    scope::by_state(run.readings)
        .into_iter()
        .map(|(scope, members)| Group {
            name: scope::name(scope),
            paths: paths(&members),
            counts: counts(&members),
            wide: drawing::levels(&members, Width::Wide),
            narrow: drawing::levels(&members, Width::Narrow),
            details: members.iter().map(|reading| Detail::of(reading, &members, run.header)).collect(),
            rows: rows(&members),
        })
        .collect()
}

fn paths(members: &[&Reading]) -> String {
    let mut paths: Vec<&str> = members.iter().map(|reading| reading.scope.path.as_str()).collect();
    paths.sort_unstable();
    paths.dedup();
    paths.join(", ")
}

/// Rows that name their path where they do not all share one.
fn rows<'a>(members: &[&'a Reading]) -> Vec<Row<'a>> {
    let several = members.iter().any(|reading| reading.scope.path != members[0].scope.path);
    let row = |reading: &&'a Reading| {
        let row = Row::of(reading);
        if several { Row { title: format!("{}, by {}", row.title, reading.scope.path), ..row } } else { row }
    };
    members.iter().map(row).collect()
}

fn counts(members: &[&Reading]) -> Vec<Count> {
    let number = |outcome| members.iter().filter(|reading| reading.outcome == outcome).count();
    Outcome::ALL
        .map(|outcome| Count {
            word: outcome.word(),
            sign: figures::sign(outcome),
            class: figures::class(outcome),
            number: number(outcome),
        })
        .into_iter()
        .filter(|count| count.number > 0)
        .collect()
}
