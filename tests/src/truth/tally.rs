//! What many cases come to: wrong outcomes by kind, the share that stays undecided, how often the intervals hold the
//! truth.

use std::fmt;

use spurline_record::{Outcome, Quantity};

use super::case::Case;
use super::run::Ran;

/// So many of so many.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Share {
    /// So many.
    pub of: u32,
    /// Of so many.
    pub all: u32,
}

impl Share {
    /// Counts one.
    pub fn count(&mut self, is: bool) {
        self.of += u32::from(is);
        self.all += 1;
    }

    /// The share, 0 to 1; nothing of nothing is nothing.
    #[must_use]
    pub fn get(&self) -> f64 {
        if self.all == 0 { 0.0 } else { f64::from(self.of) / f64::from(self.all) }
    }
}

impl fmt::Display for Share {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} of {} ({:.2} %)", self.of, self.all, self.get() * 100.0)
    }
}

/// The sums over many cases.
#[derive(Clone, Debug, Default)]
pub struct Tally {
    /// Units that were run.
    pub units: u32,
    /// Runs that failed, with their seeds.
    pub failed: Vec<(u64, String)>,
    /// Readings.
    pub readings: u32,
    /// `complies` although the truth is more than U beyond the limit.
    pub complies_beyond: Vec<String>,
    /// `exceeds` although the truth is more than U inside.
    pub exceeds_inside: Vec<String>,
    /// Of readings whose truth is within U of the limit: those with the wrong one of the two outcomes.
    pub false_within: Share,
    /// 95 % intervals that hold the truth: harmonics that have a value.
    pub covered: Share,
    /// The same for carriers.
    pub carriers_covered: Share,
    /// Bounds that the truth is beyond by more than U.
    pub broken_bounds: Vec<String>,
    /// Undecided, of readings whose truth is more than 2 U from the limit and that the forecast calls able.
    pub undecided_far: Share,
    /// Undecided, of those nearer.
    pub undecided_near: Share,
    /// What a normal distribution about the truth predicts for those, and its variance.
    pub predicted_near: [f64; 2],
    /// Readings that are invalid.
    pub invalid: Share,
    /// How long units were keyed, in seconds.
    pub keyed: f64,
    /// Sums of error and squared error over U, for values of harmonics.
    pub pulls: [f64; 2],
}

impl Tally {
    /// Adds what came of a case.
    pub fn add(&mut self, case: &Case, ran: &Ran) {
        self.units += 1;
        self.keyed += ran.keyed;
        for reading in &ran.readings {
            self.readings += 1;
            self.invalid.count(reading.outcome == Outcome::Invalid);
            let order = reading.order.unwrap_or(1);
            let Some(truth) = case.emissions.iter().find(|emission| emission.order == order) else {
                continue;
            };
            let (Some(figure), Some(budget)) = (reading.figure, &reading.budget) else { continue };
            let expanded = budget.expanded.get();
            let level = truth.level.unwrap_or(-200.0);
            let error = figure.level.get() - level;
            if reading.outcome == Outcome::Invalid {
                continue;
            }
            if reading.quantity == Quantity::CarrierPower {
                self.carriers_covered.count(error.abs() <= expanded);
                continue;
            }
            let named = || {
                format!(
                    "seed {}, order {order}: {} {:.2} dBm, U {expanded:.2} dB, truth {level:.2} dBm, {}",
                    case.seed,
                    if figure.bound { "at most" } else { "" },
                    figure.level.get(),
                    reading.outcome
                )
            };
            if figure.bound {
                if level > figure.level.get() + expanded {
                    self.broken_bounds.push(named());
                }
            } else if truth.level.is_some() {
                self.covered.count(error.abs() <= expanded);
                self.pulls[0] += error / expanded;
                self.pulls[1] += (error / expanded).powi(2);
            }
            if let Some(limit) = truth.limit {
                self.judge(level - limit, expanded, reading.outcome, ran.able.contains(&order), named);
            }
        }
    }

    fn judge(&mut self, over: f64, expanded: f64, outcome: Outcome, able: bool, named: impl Fn() -> String) {
        let wrong = match outcome {
            Outcome::Complies => over > 0.0,
            Outcome::Exceeds => over <= 0.0,
            _ => false,
        };
        if wrong && over > expanded {
            self.complies_beyond.push(named());
        } else if wrong && over < -expanded {
            self.exceeds_inside.push(named());
        }
        if over.abs() <= expanded {
            self.false_within.count(wrong);
        }
        let undecided = outcome == Outcome::Undecided;
        if over.abs() > 2.0 * expanded {
            if able {
                self.undecided_far.count(undecided);
            }
        } else if able {
            self.undecided_near.count(undecided);
            // A reading scatters about the truth by U / 2, and is undecided within U of the limit.
            let below = |x: f64| 0.5 * (1.0 + libm::erf(x / std::f64::consts::SQRT_2));
            let u = expanded / 2.0;
            let chance = below((expanded - over) / u) - below((-expanded - over) / u);
            self.predicted_near[0] += chance;
            self.predicted_near[1] += chance * (1.0 - chance);
        }
    }

    /// Adds another tally.
    pub fn merge(&mut self, other: Self) {
        self.units += other.units;
        self.failed.extend(other.failed);
        self.readings += other.readings;
        self.complies_beyond.extend(other.complies_beyond);
        self.exceeds_inside.extend(other.exceeds_inside);
        self.broken_bounds.extend(other.broken_bounds);
        for (mine, its) in [
            (&mut self.false_within, other.false_within),
            (&mut self.covered, other.covered),
            (&mut self.carriers_covered, other.carriers_covered),
            (&mut self.undecided_far, other.undecided_far),
            (&mut self.undecided_near, other.undecided_near),
            (&mut self.invalid, other.invalid),
        ] {
            mine.of += its.of;
            mine.all += its.all;
        }
        for place in 0..2 {
            self.predicted_near[place] += other.predicted_near[place];
            self.pulls[place] += other.pulls[place];
        }
        self.keyed += other.keyed;
    }

    /// The targets that are missed, each with its figure.
    #[must_use]
    pub fn missed(&self) -> Vec<String> {
        let mut missed: Vec<String> = Vec::new();
        missed.extend(self.failed.iter().map(|(seed, why)| format!("seed {seed} failed: {why}")));
        missed.extend(self.complies_beyond.iter().map(|named| format!("complies beyond U: {named}")));
        missed.extend(self.exceeds_inside.iter().map(|named| format!("exceeds inside U: {named}")));
        missed.extend(
            self.broken_bounds.iter().map(|named| format!("a bound that the truth is beyond: {named}")),
        );
        let sure = |share: Share, p: f64| 3.0 * (p * (1.0 - p) / f64::from(share.all.max(1))).sqrt();
        if self.false_within.get() > 0.025 + sure(self.false_within, 0.025) {
            missed.push(format!("false outcomes within U: {}", self.false_within));
        }
        for (what, share) in [("harmonics", self.covered), ("carriers", self.carriers_covered)] {
            if (share.get() - 0.95).abs() > 0.02 + sure(share, 0.95) {
                missed.push(format!("intervals of {what} that hold the truth: {share}"));
            }
        }
        if self.undecided_far.get() > 0.05 {
            missed.push(format!("undecided far from the limit: {}", self.undecided_far));
        }
        missed
    }
}

impl fmt::Display for Tally {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let n = f64::from(self.covered.all.max(1));
        let [sum, squares] = self.pulls.map(|sum| sum / n);
        writeln!(f, "units                                    {}", self.units)?;
        writeln!(f, "readings                                 {}", self.readings)?;
        writeln!(f, "failed runs                              {}", self.failed.len())?;
        writeln!(f, "complies, truth more than U beyond       {}", self.complies_beyond.len())?;
        writeln!(f, "exceeds, truth more than U inside        {}", self.exceeds_inside.len())?;
        writeln!(f, "bounds that the truth is beyond          {}", self.broken_bounds.len())?;
        writeln!(f, "false outcomes within U                  {}", self.false_within)?;
        writeln!(f, "intervals that hold the truth, harmonics {}", self.covered)?;
        writeln!(f, "intervals that hold the truth, carriers  {}", self.carriers_covered)?;
        writeln!(f, "error over U: mean and root mean square  {sum:+.3} {:.3}", squares.sqrt())?;
        writeln!(f, "undecided beyond 2 U, bench able         {}", self.undecided_far)?;
        writeln!(f, "undecided within 2 U, bench able         {}", self.undecided_near)?;
        writeln!(
            f,
            "  predicted by a normal distribution     {:.1} give or take {:.1}",
            self.predicted_near[0],
            self.predicted_near[1].sqrt()
        )?;
        writeln!(f, "invalid                                  {}", self.invalid)?;
        write!(
            f,
            "keyed for each unit                      {:.2} s",
            self.keyed / f64::from(self.units.max(1))
        )
    }
}
