//! From the readings of all connections to losses with their uncertainties.

use spurline_judge::{COVERAGE_PROBABILITY, Contribution, Distribution};
use spurline_plan::{Substitution, SubstitutionPoint};
use spurline_record::InstrumentUsed;
use spurline_units::{Db, Dbm, Hertz};

use super::MeasuredPath;
use crate::conversion;

/// Straight, an instrument may show this much other than the generator was told: data sheets of both and a cable that
/// nobody measured. More is another cable, or none.
const STRAIGHT_DB: f64 = 3.0;
/// A generator that moves by more than this between the first and the last connection is not fit for it...
const LARGEST_DRIFT_DB: f64 = 0.1;
/// ...unless the connections scatter so much that this many standard deviations are more.
const DRIFT_DEVIATIONS: f64 = 4.0;

/// What a measurement of a path came to.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum PathOutcome {
    /// The losses hold.
    Sound,
    /// They do not, for this reason.
    Invalid(String),
}

/// The loss at one frequency.
#[derive(Clone, Debug)]
pub struct MeasuredLoss {
    /// The frequency.
    pub frequency: Hertz,
    /// Whether the plan or the caller asked for it.
    pub needed: bool,
    /// The mean of the repeats.
    pub loss: Db,
    /// Each repeat.
    pub repeats: Vec<Db>,
    /// Their standard deviation.
    pub spread: Db,
    /// The last level straight less the first.
    pub drift: Db,
    /// Everything that is uncertain about it.
    pub budget: spurline_record::Budget,
    /// The uncertainty: half the interval that holds the loss with 95 %.
    pub expanded: Db,
}

/// The readings at one frequency.
#[derive(Clone, Debug, Default)]
struct Row {
    straight: Vec<Dbm>,
    through: Vec<Dbm>,
    left_out: Option<String>,
}

/// All readings.
#[derive(Clone, Debug)]
pub(super) struct Readings {
    rows: Vec<Row>,
    /// What says that the wrong thing is connected.
    pub(super) wrong: Option<String>,
}

impl Readings {
    pub(super) fn of(planned: &Substitution) -> Self {
        Self { rows: vec![Row::default(); planned.points.len()], wrong: None }
    }

    pub(super) fn is_left_out(&self, place: usize) -> bool {
        self.rows[place].left_out.is_some()
    }

    pub(super) fn take(
        &mut self,
        place: usize,
        point: &SubstitutionPoint,
        through: bool,
        level: Result<Dbm, String>,
    ) {
        let row = &mut self.rows[place];
        match level {
            Ok(level) if through => row.through.push(level),
            Ok(level) => {
                let off = level - point.straight;
                if off.get().abs() > STRAIGHT_DB {
                    self.wrong = Some(format!(
                        "straight into the instrument {level:.1} came at {}, where {:.1} should: is the generator \
                         connected straight to it, through the parts that the bench file names?",
                        point.frequency, point.straight
                    ));
                }
                row.straight.push(level);
            }
            Err(why) if through => row.left_out = Some(why),
            Err(why) => {
                self.wrong = Some(format!(
                    "straight into the instrument nothing came at {}: {why}; is the generator connected to it?",
                    point.frequency
                ));
            }
        }
    }

    pub(super) fn evaluate(
        self,
        planned: &Substitution,
        at: jiff::Timestamp,
        instruments: Vec<InstrumentUsed>,
    ) -> MeasuredPath {
        let mut found: Vec<Found> = Vec::new();
        let mut left_out = planned.left_out.clone();
        let mut lacks_needed = planned.lacks_needed;
        for (point, row) in planned.points.iter().zip(&self.rows) {
            match &row.left_out {
                Some(why) => {
                    lacks_needed |= point.needed;
                    left_out.push(format!("{}: {why}", point.frequency));
                }
                None => found.extend(Found::of(point, row)),
            }
        }
        let bends = bends(&found);
        let bend = found.iter().zip(&bends).map(|(found, bend)| (found.point.frequency, *bend));
        let bend = bend.max_by(|one, other| one.1.get().total_cmp(&other.1.get()));
        let (drift, largest_drift, drifted) = drift(&found);
        let outcome = match (self.wrong, drifted, found.is_empty()) {
            (Some(wrong), _, _) => PathOutcome::Invalid(wrong),
            (None, Some(why), _) => PathOutcome::Invalid(why),
            (None, None, true) => PathOutcome::Invalid("nothing could be read through the path".to_owned()),
            (None, None, false) => PathOutcome::Sound,
        };
        let losses = found.iter().zip(bends).map(|(found, bend)| found.loss(bend)).collect();
        MeasuredPath { at, losses, left_out, lacks_needed, instruments, drift, largest_drift, bend, outcome }
    }
}

/// What was found at one frequency.
struct Found<'a> {
    point: &'a SubstitutionPoint,
    repeats: Vec<f64>,
    mean: f64,
    spread: f64,
    drift: f64,
}

impl<'a> Found<'a> {
    /// `None` unless the path was connected at least twice and the generator read once more behind it.
    fn of(point: &'a SubstitutionPoint, row: &Row) -> Option<Self> {
        let count = row.through.len();
        if count < 2 || row.straight.len() != count + 1 {
            return None;
        }
        let repeats: Vec<f64> = row
            .straight
            .iter()
            .zip(&row.through)
            .map(|(straight, through)| (*straight - *through).get())
            .collect();
        let mean = repeats.iter().sum::<f64>() / count as f64;
        let squares: f64 = repeats.iter().map(|loss| (loss - mean).powi(2)).sum();
        let drift = (*row.straight.last()? - *row.straight.first()?).get();
        Some(Self { point, repeats, mean, spread: (squares / (count as f64 - 1.0)).sqrt(), drift })
    }

    fn loss(&self, bend: Db) -> MeasuredLoss {
        let count = self.repeats.len() as f64;
        let mut budget = self.point.budget.clone();
        let source = format!("scatter of {count} connections of this path");
        let repeats = Db::new(self.spread / count.sqrt());
        budget.lines.push(
            Contribution::new("repeats", repeats, Distribution::Standard, source).with_freedom(count - 1.0),
        );
        // A level that moves evenly has moved by this between a reading straight and the next through the path.
        budget.lines.push(Contribution::new(
            "generator: drift",
            Db::new(self.drift.abs() / (2.0 * count)),
            Distribution::Rectangular,
            "the last level straight less the first, over the connections between them",
        ));
        // Between neighbours a straight line misses a smooth curve by a quarter of what it misses over both gaps.
        budget.lines.push(Contribution::new(
            "line between the points",
            bend / 4.0,
            Distribution::Rectangular,
            "a quarter of what the point is off the line between its neighbours",
        ));
        let expanded = budget.coverage(COVERAGE_PROBABILITY).expanded;
        MeasuredLoss {
            frequency: self.point.frequency,
            needed: self.point.needed,
            loss: Db::new(self.mean),
            repeats: self.repeats.iter().copied().map(Db::new).collect(),
            spread: Db::new(self.spread),
            drift: Db::new(self.drift),
            budget: conversion::budget(&budget),
            expanded,
        }
    }
}

/// How far each point is off the line between its neighbours; the ends are as their neighbours.
fn bends(found: &[Found<'_>]) -> Vec<Db> {
    let at = |place: usize| (found[place].point.frequency.get(), found[place].mean);
    let inner = |place: usize| {
        let ((low, left), (middle, own), (high, right)) = (at(place - 1), at(place), at(place + 1));
        let share = (middle - low) / (high - low);
        Db::new((own - (left * (1.0 - share) + right * share)).abs())
    };
    let last = found.len().saturating_sub(1);
    let place_of = |place: usize| place.clamp(1, last.max(2) - 1);
    (0..found.len()).map(|place| if last < 2 { Db::default() } else { inner(place_of(place)) }).collect()
}

/// The drift where it is largest, how large it may be, and what to say if it is larger.
fn drift(found: &[Found<'_>]) -> (Db, Db, Option<String>) {
    let pooled = found.iter().map(|found| found.spread.powi(2)).sum::<f64>() / (found.len().max(1) as f64);
    let allowed = LARGEST_DRIFT_DB.max(DRIFT_DEVIATIONS * pooled.sqrt());
    let most = found.iter().max_by(|one, other| one.drift.abs().total_cmp(&other.drift.abs()));
    let Some(most) = most else { return (Db::default(), Db::new(allowed), None) };
    let drift = Db::new(most.drift);
    let too_far = most.drift.abs() > allowed;
    let why = format!(
        "the generator's level moved by {drift:.2} at {} from the first connection to the last, more than {:.2} dB: let \
         it warm up, and look at its cable",
        most.point.frequency, allowed
    );
    (drift, Db::new(allowed), too_far.then_some(why))
}

#[cfg(test)]
mod tests {
    use spurline_judge::Budget;

    use super::*;

    fn point(mhz: f64) -> SubstitutionPoint {
        let value = Db::new(0.03);
        let lines = ["straight", "through the path"]
            .map(|how| Contribution::new(how, value, Distribution::Rectangular, "test"));
        SubstitutionPoint {
            frequency: Hertz::from_mhz(mhz),
            needed: false,
            set: Dbm::new(0.0),
            straight: Dbm::new(0.0),
            nominal: Db::new(30.0),
            look: None,
            budget: Budget { lines: lines.to_vec() },
        }
    }

    fn row(straight: [f64; 4], through: [f64; 3]) -> Row {
        Row {
            straight: straight.map(Dbm::new).to_vec(),
            through: through.map(Dbm::new).to_vec(),
            left_out: None,
        }
    }

    /// numpy 2.4.6: mean and std(ddof=1) of (30.00, 30.04, 30.02) are 30.02 and 0.02.
    #[test]
    fn a_loss_is_the_mean_of_what_each_connection_took() {
        let point = point(100.0);
        let row = row([0.0, 0.02, 0.01, 0.02], [-30.0, -30.02, -30.01]);
        let found = Found::of(&point, &row).unwrap();
        assert!((found.mean - 30.02).abs() < 1e-12 && (found.spread - 0.02).abs() < 1e-12);
        assert!((found.drift - 0.02).abs() < 1e-12);
        let loss = found.loss(Db::new(0.04));
        let standard = |name: &str| loss.budget.lines.iter().find(|line| line.name == name).unwrap().standard;
        // By hand: 0.02 / sqrt(3); 0.02 / 6 / sqrt(3); 0.04 / 4 / sqrt(3).
        assert!((standard("repeats") - 0.011_547).abs() < 1e-6);
        assert!((standard("generator: drift") - 0.001_925).abs() < 1e-6);
        assert!((standard("line between the points") - 0.005_774).abs() < 1e-6);
        assert!(loss.expanded.get() >= loss.budget.combined, "{loss:?}");
    }

    /// An even drift of 0.06 dB over six moves is 0.01 dB between a reading straight and the next one: the losses are off
    /// by that, and the bound is just that.
    #[test]
    fn an_even_drift_is_within_its_bound() {
        let point = point(100.0);
        let step = 0.01;
        let row = row(
            [0.0, 2.0 * step, 4.0 * step, 6.0 * step],
            [-30.0 + step, -30.0 + 3.0 * step, -30.0 + 5.0 * step],
        );
        let found = Found::of(&point, &row).unwrap();
        assert!((found.mean - (30.0 - step)).abs() < 1e-12 && found.spread < 1e-12);
        let loss = found.loss(Db::default());
        let drift = loss.budget.lines.iter().find(|line| line.name == "generator: drift").unwrap();
        assert!((drift.value - step).abs() < 1e-12);
    }

    /// A parabola loss = f^2 over equal gaps of 1: off the line over both gaps by 1, off that over one by 1/4.
    #[test]
    fn what_is_between_the_points_follows_from_the_points() {
        let points = [1.0, 2.0, 3.0, 4.0].map(point);
        let found: Vec<Found<'_>> = points
            .iter()
            .map(|point| {
                let loss = point.frequency.mhz().powi(2);
                Found::of(point, &row([0.0; 4], [-loss; 3])).unwrap()
            })
            .collect();
        for bend in bends(&found) {
            assert!((bend.get() - 1.0).abs() < 1e-9, "{bend:?}");
        }
        let halfway = (9.0 + 4.0) / 2.0 - 2.5f64.powi(2);
        assert!((halfway - 0.25f64).abs() < 1e-12);
        assert!(bends(&found[..2]).iter().all(|bend| bend.get() == 0.0));
    }

    #[test]
    fn a_generator_that_moves_too_far_is_told() {
        let point = point(100.0);
        let steady = row([0.0, 0.01, 0.0, 0.01], [-30.0; 3]);
        let moved = row([0.0, 0.07, 0.14, 0.21], [-29.97, -29.9, -29.83]);
        let of = |row: &Row| drift(&[Found::of(&point, row).unwrap()]).2;
        assert_eq!(of(&steady), None);
        let told = of(&moved).unwrap();
        assert!(told.contains("moved by 0.21 dB at 100 MHz") && told.contains("more than 0.10 dB"), "{told}");
    }

    #[test]
    fn what_is_connected_wrongly_is_told_at_once() {
        let planned = Substitution {
            stretch: spurline_plan::Stretch {
                way: Some(0),
                parts: 0..1,
                whole: true,
                name: "direct".to_owned(),
                names: vec!["pad".to_owned()],
            },
            with: spurline_record::Role::PowerMeter,
            points: vec![point(100.0)],
            left_out: Vec::new(),
            lacks_needed: false,
            notes: Vec::new(),
            vswr: None,
        };
        let mut readings = Readings::of(&planned);
        readings.take(0, &planned.points[0], false, Ok(Dbm::new(-2.9)));
        assert_eq!(readings.wrong, None);
        readings.take(0, &planned.points[0], false, Ok(Dbm::new(-30.0)));
        assert!(readings.wrong.as_ref().unwrap().contains("straight"), "{readings:?}");
        let mut nothing = Readings::of(&planned);
        nothing.take(0, &planned.points[0], true, Err("weak".to_owned()));
        assert!(nothing.wrong.is_none() && nothing.is_left_out(0));
    }
}
