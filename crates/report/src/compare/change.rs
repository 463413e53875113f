//! One pair of readings: whether it shifted, by how much, and what would have been seen.

use spurline_judge::{Random, Shift, en};
use spurline_record::{Figure, Limit, Outcome, Reading, Unit};
use spurline_units::{Dbm, Hertz};

use super::pair::{Pair, settings};
use super::repeat::{self, Between, Read, is_by_meter};
use crate::{figures, scope};

/// One reading of a pair; of several runs before, their mean.
#[derive(Clone, Debug, PartialEq)]
pub struct Side {
    /// Its number in its run; of several, in the first of them.
    pub ordinal: u32,
    /// The figure: a level in dBm where it is one, else in its own unit. `None` if nothing could be read.
    pub value: Option<f64>,
    /// Whether it is an upper bound.
    pub bound: bool,
    /// The figure for people.
    pub figure: String,
    /// Its outcome; of several, the worst.
    pub outcome: Outcome,
    /// Its margin in the unit of differences.
    pub margin: Option<f64>,
    /// Levels of its limit, dBm.
    pub limits: Vec<f64>,
    /// Its limit in words.
    pub limit: String,
}

/// What a difference is held against.
#[derive(Clone, Debug, PartialEq)]
pub enum Basis {
    /// The same bench: only what does not repeat counts. Each part with the standard deviation that it adds, and its
    /// degrees of freedom, which are infinite if it is known.
    Repeats(Vec<(String, f64, f64)>),
    /// Another bench, or nothing says how it repeats: all of both uncertainties counts. Why, and the difference over
    /// the root of the sum of the squares of both expanded uncertainties.
    Everything(String, Option<f64>),
}

/// What a pair says.
#[derive(Clone, Debug, PartialEq)]
pub enum Said {
    /// Two values.
    Shift {
        /// The later less the earlier, and its standard uncertainty.
        shift: Shift,
        /// Whether it is one, at the risk of the whole comparison.
        real: bool,
        /// Where the true shift lies, at that risk.
        interval: [f64; 2],
        /// The smallest that would have been seen.
        detectable: f64,
    },
    /// A value where there was a bound: at least so far above it.
    Rise {
        /// The value less the bound.
        shift: Shift,
        /// Whether it is above it for sure.
        real: bool,
        /// The least that it rose by.
        least: f64,
    },
    /// A bound where there was a value.
    Fall {
        /// The bound less the value.
        shift: Shift,
        /// Whether it is below it for sure.
        real: bool,
        /// The least that it fell by, negative.
        least: f64,
    },
    /// Nothing, and why.
    Nothing(String),
}

/// One pair of readings, or one that is missing after the change.
#[derive(Clone, Debug, PartialEq)]
pub struct Change {
    /// What it is.
    pub title: String,
    /// The same in a few short words.
    pub short: String,
    /// In which state of unit and bench.
    pub place: String,
    /// By which path.
    pub path: String,
    /// At which frequency.
    pub frequency: Hertz,
    /// The unit of differences.
    pub unit: Unit,
    /// Before.
    pub before: Side,
    /// After.
    pub after: Side,
    /// What it is held against.
    pub basis: Basis,
    /// What it says.
    pub said: Said,
    /// Which way is towards the limit: 1 up, -1 down; `None` without a limit.
    pub worse_way: Option<f64>,
    /// How far the reading stands above the noise, dB, if that is little: then noise makes it scatter.
    pub near_noise: Option<f64>,
    /// How much of a shift what the analyser makes itself at this frequency may hide or add, dB.
    pub own: f64,
    /// What a reader should know beside that.
    pub remarks: Vec<String>,
}

/// What is random in a difference, before the risk is shared out.
pub(super) struct Question {
    pub(super) change: Change,
    /// The chance of it by nothing but scatter; `None` if nothing is asked.
    pub(super) chance: Option<f64>,
}

/// The figures of a profile that say how well settings are switched, and the scale between them.
const SWITCHED: [&str; 3] = ["attenuator_switching", "bandwidth_switching", "scale_fidelity"];

/// What all pairs of a comparison share.
pub(super) struct Setting<'a> {
    pub(super) between: &'a [Between],
    /// Whether the unit is the same one.
    pub(super) same_unit: bool,
}

impl Question {
    /// The question that a pair with both ends asks; `apart` says why the two do not share what would cancel.
    pub(super) fn of(pair: &Pair<'_>, apart: Option<String>, setting: &Setting<'_>) -> Option<Self> {
        let after = pair.after?;
        let before: Vec<&Reading> = pair.before.iter().copied().flatten().collect();
        let first = *before.first()?;
        let (one, other) = (joined(&before), repeat::read(after).filter(|_| says_something(after)));
        let mut change = Change {
            title: after.title(),
            short: after.short_title(),
            place: scope::name(&after.scope),
            path: after.scope.path.clone(),
            frequency: after.frequency,
            unit: other.or(one).map_or(Unit::Db, |read| read.unit),
            before: Side {
                figure: pooled(first, one, before.len()),
                ..side(first, one, before.iter().map(|reading| reading.outcome).max())
            },
            after: side(after, other, None),
            basis: Basis::Everything("nothing was compared".to_owned(), None),
            said: Said::Nothing(String::new()),
            worse_way: worse_way(after),
            near_noise: before
                .iter()
                .chain([&after])
                .filter_map(|one| repeat::near_noise(one))
                .map(|d| d.get())
                .reduce(f64::min),
            own: (may_be_own(first) - may_be_own(after)).abs(),
            remarks: Vec::new(),
        };
        if first.limit != after.limit && limits_differ(first, after) {
            change.remarks.push(format!(
                "the limit is another one: {} before, {} now",
                figures::limit(first.limit.as_ref()),
                figures::limit(after.limit.as_ref())
            ));
        }
        let (Some(one), Some(other)) = (one, other) else {
            change.said = Said::Nothing(missing(&before, after));
            return Some(Self { change, chance: None });
        };
        if one.bound && other.bound {
            change.said = Said::Nothing("below what can be seen, before and now".to_owned());
            return Some(Self { change, chance: None });
        }
        if one.unit != other.unit {
            change.said = Said::Nothing("the two are in different units".to_owned());
            return Some(Self { change, chance: None });
        }
        let (basis, parts) = basis(&before, after, (one, other), apart, setting);
        change.basis = basis;
        let shift = Shift::of(other.value - one.value, &parts);
        let (said, chance) = match (one.bound, other.bound) {
            (true, _) => (Said::Rise { shift, real: false, least: 0.0 }, shift.p_up()),
            (_, true) => (Said::Fall { shift, real: false, least: 0.0 }, 1.0 - shift.p_up()),
            _ => {
                let interval = [shift.shift, shift.shift];
                (Said::Shift { shift, real: false, interval, detectable: 0.0 }, shift.p())
            }
        };
        change.said = said;
        Some(Self { change, chance: Some(chance) })
    }

    /// The answer, once it is known what share of the risk it has: that with which it was `called` real, or its even
    /// share of `risk`.
    pub(super) fn answered(self, called: Option<f64>, risk: f64, power: f64) -> Change {
        let mut change = self.change;
        let is_real = called.is_some();
        let share = called.unwrap_or(risk);
        match &mut change.said {
            Said::Shift { shift, real, interval, detectable } => {
                *real = is_real;
                let [low, high] = shift.interval(share).unwrap_or([f64::NEG_INFINITY, f64::INFINITY]);
                // Of a line that did not move it is the same on both sides; beside one that did it weighs otherwise, but
                // not so that it had not moved.
                *interval = match is_real {
                    false => [low, high],
                    true if low > 0.0 => [(low - change.own).max(0.0), high + change.own],
                    true => [low - change.own, (high + change.own).min(0.0)],
                };
                *detectable = shift.detectable(risk, power).unwrap_or(f64::INFINITY);
            }
            Said::Rise { shift, real, least } => {
                *real = is_real;
                // One end alone has the whole risk.
                *least = shift.interval(2.0 * share).map_or(0.0, |[low, _]| low.max(0.0));
            }
            Said::Fall { shift, real, least } => {
                *real = is_real;
                *least = shift.interval(2.0 * share).map_or(0.0, |[_, high]| high.min(0.0));
            }
            Said::Nothing(_) => {}
        }
        change
    }
}

impl Change {
    /// Whether it shifted for sure.
    #[must_use]
    pub fn is_real(&self) -> bool {
        match self.said {
            Said::Shift { real, .. } | Said::Rise { real, .. } | Said::Fall { real, .. } => real,
            Said::Nothing(_) => false,
        }
    }

    /// Whether the pair says anything.
    #[must_use]
    pub fn is_compared(&self) -> bool {
        !matches!(self.said, Said::Nothing(_))
    }

    /// The difference that was found.
    #[must_use]
    pub fn shift(&self) -> Option<Shift> {
        match self.said {
            Said::Shift { shift, .. } | Said::Rise { shift, .. } | Said::Fall { shift, .. } => Some(shift),
            Said::Nothing(_) => None,
        }
    }

    /// Whether the outcome is a graver one than before.
    #[must_use]
    pub fn has_worse_outcome(&self) -> bool {
        self.after.outcome > self.before.outcome.max(Outcome::Complies)
    }

    /// How far it came towards its limit, negative if away from it; `None` without a limit or a difference. Within a window
    /// that is by its margin: across the middle it may come no nearer.
    #[must_use]
    pub fn towards_limit(&self) -> Option<f64> {
        let by = self.worse_way? * self.shift()?.shift;
        let crossed =
            matches!((self.before.margin, self.after.margin), (Some(one), Some(other)) if other >= one);
        Some(if by > 0.0 && crossed && self.is_in_window() { -by } else { by })
    }

    /// The most that it may have come towards its limit, at the risk of the comparison.
    #[must_use]
    pub fn at_most_towards(&self) -> Option<f64> {
        let way = self.worse_way?;
        match self.said {
            Said::Shift { interval: [low, high], .. } => Some(if way > 0.0 { high } else { -low }),
            // Nothing says from how far below.
            Said::Rise { .. } if way > 0.0 => Some(f64::INFINITY),
            Said::Fall { shift, .. } if way > 0.0 => Some(shift.shift),
            Said::Rise { .. } | Said::Fall { .. } | Said::Nothing(_) => None,
        }
    }

    fn is_in_window(&self) -> bool {
        self.after.limits.len() == 2
    }
}

/// Whether a reading's figure says something: that of an invalid one does not.
pub(super) fn says_something(reading: &Reading) -> bool {
    reading.outcome != Outcome::Invalid && reading.figure.is_some()
}

/// The lines of a budget that say what the analyser may have made itself.
const OWN: &str = "analyser: own product";

/// By how much a line may be read wrongly because of what the analyser makes itself there, dB: the half width of a
/// rectangle of this standard uncertainty, which holds that of a voltage of any phase too.
fn may_be_own(reading: &Reading) -> f64 {
    let lines = reading.budget.iter().flat_map(|budget| &budget.lines);
    lines.filter(|line| line.name.starts_with(OWN)).map(|line| line.standard * 3f64.sqrt()).sum()
}

/// Several readings of the same thing as one: the mean of their values, or the highest if one of them is a bound.
fn joined(before: &[&Reading]) -> Option<Read> {
    let reads: Option<Vec<Read>> =
        before.iter().map(|reading| repeat::read(reading).filter(|_| says_something(reading))).collect();
    let reads = reads?;
    let first = *reads.first()?;
    let count = reads.len() as f64;
    if reads.iter().any(|read| read.bound) {
        let highest = reads.iter().map(|read| read.value).fold(f64::NEG_INFINITY, f64::max);
        return Some(Read { value: highest, bound: true, ..first });
    }
    Some(Read { value: reads.iter().map(|read| read.value).sum::<f64>() / count, ..first })
}

/// The figure of several runs before is theirs together, never that of the first.
fn pooled(first: &Reading, read: Option<Read>, runs: usize) -> String {
    let (Some(figure), Some(read), 2..) = (first.figure, read, runs) else {
        return figures::figure(first.figure.as_ref());
    };
    let level = figure.level.map(|_| Dbm::new(read.value));
    let value = match (figure.unit, level) {
        (Unit::W, Some(level)) => level.to_watts().get(),
        _ => read.value,
    };
    let together = figures::figure(Some(&Figure { value, level, bound: read.bound, ..figure }));
    format!("{together}, {} of {runs} runs", if read.bound { "the highest" } else { "the mean" })
}

fn side(reading: &Reading, read: Option<Read>, outcome: Option<Outcome>) -> Side {
    Side {
        ordinal: reading.ordinal,
        value: read.map(|read| read.value),
        bound: read.is_some_and(|read| read.bound),
        figure: figures::figure(reading.figure.as_ref()),
        outcome: outcome.unwrap_or(reading.outcome),
        margin: reading.margin.map(|margin| margin.value),
        limits: crate::limit::levels(reading.limit.as_ref()),
        limit: figures::limit(reading.limit.as_ref()),
    }
}

/// A limit that follows the carrier moves with it and is the same one.
fn limits_differ(one: &Reading, other: &Reading) -> bool {
    match (&one.limit, &other.limit) {
        (Some(Limit::Upper { .. }), Some(Limit::Upper { .. })) => {
            one.derivation.source != other.derivation.source
        }
        _ => true,
    }
}

/// Which way is towards the nearest end of what is allowed.
fn worse_way(reading: &Reading) -> Option<f64> {
    match reading.limit.as_ref()? {
        Limit::Upper { .. } | Limit::Several(_) => Some(1.0),
        Limit::Window { low, high } => {
            let level = reading.figure?.value;
            // In decibels, as margins are.
            Some(if level * level >= low * high { 1.0 } else { -1.0 })
        }
        Limit::Between { low, high, .. } => match (low, high) {
            (Some(low), Some(high)) => {
                Some(if reading.figure?.value >= 0.5 * (low + high) { 1.0 } else { -1.0 })
            }
            (None, Some(_)) => Some(1.0),
            (Some(_), None) => Some(-1.0),
            (None, None) => None,
        },
    }
}

fn missing(before: &[&Reading], after: &Reading) -> String {
    let silent = |reading: &Reading| reading.figure.is_none() || reading.outcome == Outcome::Invalid;
    let why = |reading: &Reading| {
        reading.reason.as_ref().map_or_else(|| "nothing was read".to_owned(), |reason| reason.text.clone())
    };
    let earlier = before.iter().find(|reading| silent(reading));
    match (earlier, silent(after)) {
        (Some(_), true) => format!("neither says anything: {}", why(after)),
        (None, true) => format!("now it says nothing: {}", why(after)),
        (Some(earlier), false) => format!("before it said nothing: {}", why(earlier)),
        (None, false) => "nothing is stated of its uncertainty in its unit".to_owned(),
    }
}

/// What is random in the difference of two values, and in words.
fn basis(
    before: &[&Reading],
    after: &Reading,
    (one, other): (Read, Read),
    apart: Option<String>,
    setting: &Setting<'_>,
) -> (Basis, Vec<Random>) {
    let way = setting
        .between
        .iter()
        .find(|between| between.path == after.scope.path && between.by_meter == is_by_meter(after));
    let own: Option<Vec<Random>> = before.iter().map(|reading| repeat::within(reading)).collect();
    let own = own.zip(repeat::within(after));
    let why = match (apart, own, way) {
        (None, Some((earlier, later)), Some(way)) if one.unit == Unit::Db => {
            return repeats(before, after, (&earlier, later), way, setting);
        }
        (Some(apart), ..) => apart,
        (None, _, Some(_)) if one.unit != Unit::Db => {
            format!("nothing says how a figure in {} repeats from run to run", one.unit.symbol())
        }
        _ => "nothing says how it repeats".to_owned(),
    };
    let everything = |read: Read| Random::of(read.standard, read.freedom);
    let ratio = en((one.value, one.expanded), (other.value, other.expanded));
    (Basis::Everything(why, ratio), vec![everything(one), everything(other)])
}

fn repeats(
    before: &[&Reading],
    after: &Reading,
    (earlier, later): (&[Random], Random),
    way: &Between,
    setting: &Setting<'_>,
) -> (Basis, Vec<Random>) {
    let runs = before.len() as f64;
    let of_mean: Vec<Random> = earlier
        .iter()
        .map(|one| Random { variance: one.variance / runs.powi(2), freedom: one.freedom })
        .collect();
    let of_runs = way.of_run.deviation * (1.0 + 1.0 / runs).sqrt();
    let mut parts = vec![
        ("sweeps before".to_owned(), Random::combined(&of_mean)),
        ("sweeps now".to_owned(), later),
        ("from run to run".to_owned(), Random::of(of_runs, way.of_run.freedom)),
        ("last digit shown".to_owned(), repeat::of_resolution()),
    ];
    let other_settings = before.iter().any(|reading| {
        let key = |reading: &Reading| {
            settings(reading).map(|s| {
                (s.attenuation.get(), s.rbw.get(), s.reference_level.get(), s.detector, s.preamplifier)
            })
        };
        key(reading) != key(after)
    });
    let lines = |what: &str| {
        let of = |reading: &&Reading| -> f64 {
            let lines = reading.budget.iter().flat_map(|budget| &budget.lines);
            lines.filter(|line| line.source.ends_with(what)).map(|line| line.standard.powi(2)).sum()
        };
        // Several runs before may all have been read with the same other settings: nothing averages out.
        before.first().map_or(0.0, &of) + of(&after)
    };
    if other_settings {
        let variance = SWITCHED.iter().map(|what| lines(what)).sum();
        parts.push(("settings that differ".to_owned(), Random { variance, freedom: f64::INFINITY }));
        // With other settings what the analyser makes itself is another level, and cancels no more.
        let own = may_be_own(after).hypot(before.first().map_or(0.0, |one| may_be_own(one)));
        parts.push(("the analyser's own product".to_owned(), Random::of(own / 3f64.sqrt(), f64::INFINITY)));
    }
    if !setting.same_unit {
        let mismatch = |reading: &Reading| -> f64 {
            let lines = reading.budget.iter().flat_map(|budget| &budget.lines);
            let of_unit = lines.filter(|line| line.name.starts_with("mismatch: unit"));
            of_unit.map(|line| line.standard.powi(2)).sum()
        };
        let variance = before.first().map_or(0.0, |one| mismatch(one)) + mismatch(after);
        parts.push(("what each unit reflects".to_owned(), Random { variance, freedom: f64::INFINITY }));
    }
    let words = parts.iter().map(|(name, part)| (name.clone(), part.variance.sqrt(), part.freedom)).collect();
    (Basis::Repeats(words), parts.into_iter().map(|(_, part)| part).collect())
}

#[cfg(test)]
pub(crate) mod tests;
