//! Many units by one plan: for each reading the middle and spread of all units, the worst margin and whose it is, and which
//! units are unlike the others.

mod concern;
mod csv;
mod html;
mod limits;
mod notes;

use serde::Serialize;
use spurline_judge::robust;
use spurline_record::{Outcome, Quantity, Reading, RunState};

use crate::compare::pair::{is_same, seen_by_search};
use crate::compare::repeat::read;
use crate::view::{ReportError, RunView};
use crate::{figures, scope};
use limits::Limits;

pub use concern::Concern;
pub use csv::batch_csv;
pub use html::batch_html;
pub(crate) use html::strips;

/// Of fewer units none is called unlike the others.
const FEWEST: usize = 5;

/// One unit's figure of a reading.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Dot {
    /// Serial number of the unit.
    pub serial: String,
    /// The firmware that it had, empty if nobody said.
    pub firmware: String,
    /// The run.
    pub run: String,
    /// The reading's number in it.
    pub reading: u32,
    /// The figure: a level in dBm where it is one, else in the unit of the reading. `None` if nothing was read.
    pub value: Option<f64>,
    /// Whether it is an upper bound.
    pub bound: bool,
    /// What it was held against, in words.
    pub limit: String,
    /// The rule of its run.
    pub rule: String,
    /// How far within that limit it is, in the unit of differences.
    pub margin: Option<f64>,
    /// What it came to.
    pub outcome: Outcome,
    /// Why, in words.
    pub reason: Option<String>,
    /// Whether it is unlike the others.
    pub odd: bool,
}

/// One reading over all units.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Row {
    /// What it is.
    pub title: String,
    /// The same in a few short words.
    pub short: String,
    /// In which state of unit and bench.
    pub place: String,
    /// At which frequency.
    pub frequency_hz: f64,
    /// The unit of the figures.
    pub unit: &'static str,
    /// The unit of differences: of spread and margin.
    pub unit_of_differences: &'static str,
    /// The limit in words; where the runs have several, all of them.
    pub limit: String,
    /// The levels of the limits of all units, each once, dBm.
    pub limits: Vec<f64>,
    /// Whether units were held against different limits: then each figure says which is its own.
    pub limits_differ: bool,
    /// Whether each limit is a window.
    #[serde(skip)]
    pub(crate) windows: bool,
    /// The median of the values; `None` if there is none.
    pub median: Option<f64>,
    /// Their standard deviation.
    pub deviation: Option<f64>,
    /// The standard deviation by the middle of them, which odd ones do not move.
    pub robust_deviation: Option<f64>,
    /// The smallest margin, and the serial number of its unit.
    pub least_margin: Option<(f64, String)>,
    /// The limit that the smallest margin was taken to, and by which rule, in words.
    pub least_margin_against: Option<String>,
    /// A figure for each unit that was measured there.
    pub units: Vec<Dot>,
    /// Serial numbers of the units that were not.
    pub missing: Vec<String>,
    /// Of a line that a search found: serial numbers of the units whose searches looked there and found none.
    pub unseen: Vec<String>,
}

/// One of the runs.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct BatchRun {
    /// Its name.
    pub run: String,
    /// Serial number of its unit.
    pub serial: String,
    /// The rule that it was judged by.
    pub rule: String,
    /// Where it stands.
    pub state: RunState,
    /// What it came to; `None` of one that did not go to its end and has nothing that exceeds.
    pub outcome: Option<Outcome>,
    /// The same in words.
    pub word: String,
    /// The sign and the style of it.
    #[serde(skip)]
    pub(crate) look: (&'static str, &'static str),
}

/// Many units by one plan.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Batch {
    /// The worst of all outcomes, undecided if something is missing; `None` without a reading.
    pub outcome: Option<Outcome>,
    /// How many readings have no limit, and do not count as complying.
    pub without_limit: usize,
    /// Titles of the plans.
    pub plans: Vec<String>,
    /// Serial numbers of the units, in order.
    pub serials: Vec<String>,
    /// A row for each reading, in the order of the first run.
    pub readings: Vec<Row>,
    /// Serial numbers of units with something that exceeds.
    pub exceeding: Vec<String>,
    /// Serial numbers of units with something that is invalid.
    pub invalid: Vec<String>,
    /// Serial numbers of units with something that is undecided.
    pub undecided: Vec<String>,
    /// The runs, in order.
    pub runs: Vec<BatchRun>,
    /// What a reader should know beside that.
    pub notes: Vec<String>,
}

impl Batch {
    /// Gathers the readings of all runs.
    #[must_use]
    pub fn of(runs: &[RunView<'_>]) -> Self {
        let mut serials: Vec<String> = runs.iter().map(|run| run.header.unit.serial.clone()).collect();
        serials.sort();
        serials.dedup();
        let mut plans: Vec<String> = runs.iter().map(|run| run.header.plan.clone()).collect();
        plans.sort();
        plans.dedup();
        let mut groups: Vec<Vec<(&RunView<'_>, &Reading)>> = Vec::new();
        for run in runs {
            // Two of a kind in one run are two readings, whatever they are called.
            let mut taken = vec![false; groups.len()];
            for reading in run.readings {
                let free = |place: usize| !taken.get(place).copied().unwrap_or(true);
                let known = (0..groups.len()).find(|place| {
                    free(*place) && groups[*place].first().is_some_and(|(_, first)| is_same(first, reading))
                });
                match known {
                    Some(place) => {
                        groups[place].push((run, reading));
                        taken[place] = true;
                    }
                    None => {
                        groups.push(vec![(run, reading)]);
                        taken.push(true);
                    }
                }
            }
        }
        let readings: Vec<Row> = groups.iter().filter_map(|group| Row::of(group, &serials, runs)).collect();
        let notes = notes::notes(runs, &plans, serials.len(), &readings);
        let unfinished = runs.iter().any(|run| run.state != RunState::Finished);
        let without_limit = runs.iter().map(|run| run.count(Outcome::NoLimit)).sum();
        let worst = Outcome::of_run(runs.iter().flat_map(|run| run.readings).map(|reading| reading.outcome));
        let outcome = worst.map(|worst| if unfinished { worst.max(Outcome::Undecided) } else { worst });
        let mut batch = Self {
            outcome,
            without_limit,
            plans,
            serials,
            readings,
            notes,
            runs: runs.iter().map(BatchRun::of).collect(),
            ..Self::default()
        };
        batch.exceeding = batch.serials_with(Outcome::Exceeds);
        batch.invalid = batch.serials_with(Outcome::Invalid);
        batch.undecided = batch.serials_with(Outcome::Undecided);
        batch
    }

    /// What it comes to, in words.
    pub(crate) fn word(&self) -> String {
        self.outcome
            .map_or_else(|| "no readings".to_owned(), |outcome| outcome.of_run_in_words(self.without_limit))
    }

    /// The batch as one JSON document.
    ///
    /// # Errors
    ///
    /// [`ReportError::Json`].
    pub fn json(&self) -> Result<String, ReportError> {
        Ok(format!("{}\n", serde_json::to_string_pretty(self)?))
    }

    /// Figures that are unlike those of the other units, each with its reading.
    pub fn odd(&self) -> impl Iterator<Item = (&Row, &Dot)> {
        self.readings.iter().flat_map(|row| row.units.iter().filter(|dot| dot.odd).map(move |dot| (row, dot)))
    }
}

impl BatchRun {
    fn of(run: &RunView<'_>) -> Self {
        Self {
            run: run.header.id.to_string(),
            serial: run.header.unit.serial.clone(),
            rule: run.header.rule.clone(),
            state: run.state,
            outcome: run.settled(),
            word: run.outcome_word(),
            look: run.outcome_look(),
        }
    }
}

impl Row {
    fn of(group: &[(&RunView<'_>, &Reading)], serials: &[String], runs: &[RunView<'_>]) -> Option<Self> {
        let (_, first) = group.first()?;
        let reads: Vec<_> = group
            .iter()
            .map(|(_, reading)| read(reading).filter(|_| reading.outcome != Outcome::Invalid))
            .collect();
        let values: Vec<f64> =
            reads.iter().map(|one| one.filter(|one| !one.bound).map_or(f64::NAN, |one| one.value)).collect();
        let told = robust(&values, FEWEST);
        let units: Vec<Dot> = group
            .iter()
            .zip(&reads)
            .enumerate()
            .map(|(place, ((run, reading), read))| Dot {
                serial: run.header.unit.serial.clone(),
                firmware: run.header.unit.firmware.clone(),
                run: run.header.id.to_string(),
                reading: reading.ordinal,
                value: read.map(|read| read.value),
                bound: read.is_some_and(|read| read.bound),
                limit: figures::limit(reading.limit.as_ref()),
                rule: run.header.rule.clone(),
                margin: reading.margin.map(|margin| margin.value),
                outcome: reading.outcome,
                reason: reading.reason.as_ref().map(|reason| reason.text.clone()),
                odd: told.as_ref().is_some_and(|told| told.odd.contains(&place)),
            })
            .collect();
        let margins = units.iter().filter_map(|dot| Some((dot.margin?, dot)));
        let least = margins.min_by(|one, other| one.0.total_cmp(&other.0));
        let limits: Vec<_> = group.iter().map(|(_, reading)| reading.limit.as_ref()).collect();
        let limits = Limits::of(&limits);
        let unit = first.figure.map_or(spurline_record::Unit::Dbm, |figure| {
            figure.level.map_or(figure.unit, |_| spurline_record::Unit::Dbm)
        });
        let without =
            serials.iter().filter(|serial| !units.iter().any(|dot| dot.serial == **serial)).cloned();
        let has_looked = |serial: &String| {
            let mut of_unit = runs.iter().filter(|run| run.header.unit.serial == *serial);
            first.quantity == Quantity::Spurious
                && of_unit.any(|run| seen_by_search(run.readings, first).is_some())
        };
        let (unseen, missing) = without.partition(has_looked);
        Some(Self {
            title: first.title(),
            short: first.short_title(),
            place: scope::name(&first.scope),
            frequency_hz: first.frequency.get(),
            unit: unit.symbol(),
            unit_of_differences: unit.of_difference().symbol(),
            limit: limits.words,
            limits: limits.levels,
            limits_differ: limits.differ,
            windows: limits.windows,
            median: told.as_ref().map(|told| told.median),
            deviation: told
                .as_ref()
                .filter(|_| values.iter().filter(|v| v.is_finite()).count() > 1)
                .map(|t| t.deviation),
            robust_deviation: told.as_ref().map(|told| told.robust_deviation),
            least_margin: least.map(|(margin, dot)| (margin, dot.serial.clone())),
            least_margin_against: least.map(|(_, dot)| limits::against(dot)),
            missing,
            unseen,
            units,
        })
    }

    /// How many figures are upper bounds.
    #[must_use]
    pub fn bounds(&self) -> usize {
        self.units.iter().filter(|dot| dot.bound).count()
    }
}

#[cfg(test)]
mod tests;
