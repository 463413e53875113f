//! How well a reading repeats: within itself by its own sweeps, and from run to run by several runs.

use spurline_judge::{Pooled, Random, Sample, chi_square_quantile, pooled, range_divisor};
use spurline_record::{BudgetLine, Detector, Quantity, Reading, Unit};
use spurline_units::Db;

use super::pair::{Pair, settings};
use super::terms::Terms;

/// Below this distance from the noise the noise makes a line scatter by itself.
pub(super) const NEAR_NOISE_DB: f64 = 10.0;
/// A small share of a power in decibels: 10 / ln 10.
const DB_OF_SHARE: f64 = 10.0 / std::f64::consts::LN_10;
/// Figures are kept to a hundredth of a decibel at best.
const RESOLUTION_DB: f64 = 0.01;
/// A measured scatter contradicts an assumed one beyond this probability.
const SURE: f64 = 0.95;

/// A figure that can be compared, in the unit of differences.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Read {
    pub(crate) value: f64,
    pub(crate) bound: bool,
    /// The unit of a difference of two.
    pub(crate) unit: Unit,
    /// Standard and expanded uncertainty.
    pub(crate) standard: f64,
    pub(crate) expanded: f64,
    pub(crate) freedom: f64,
}

/// The figure of a reading, as a level where it is one; `None` without a figure or an uncertainty in its unit.
pub(crate) fn read(reading: &Reading) -> Option<Read> {
    let figure = reading.figure?;
    let (value, unit) = match figure.level {
        Some(level) => (level.get(), Unit::Db),
        None => (figure.value, figure.unit.of_difference()),
    };
    let budget = reading.budget.as_ref().filter(|budget| budget.unit == unit)?;
    Some(Read {
        value,
        bound: figure.bound,
        unit,
        standard: budget.combined,
        expanded: budget.expanded,
        freedom: budget.effective_freedom.unwrap_or(f64::INFINITY).max(1.0),
    })
}

/// Whether a reading was read with the power meter.
pub(super) fn is_by_meter(reading: &Reading) -> bool {
    reading.quantity == Quantity::CarrierPower
        && reading.proof.peak_point.is_none()
        && !reading.meter.is_empty()
}

/// How far a reading stands above the noise, if that is little.
pub(super) fn near_noise(reading: &Reading) -> Option<Db> {
    let distance = reading.proof.floor?.distance;
    let value = reading.figure.is_some_and(|figure| !figure.bound);
    (value && distance.get() < NEAR_NOISE_DB).then_some(distance)
}

/// How well the mean of a reading's own repeats is known: by its sweeps or by its readings of the meter. `None` where
/// nothing says.
pub(super) fn within(reading: &Reading) -> Option<Random> {
    let own = if is_by_meter(reading) { by_meter(reading) } else { by_sweeps(reading) }?;
    let Some(distance) = near_noise(reading) else { return Some(own) };
    let by_noise = of_noise(distance, looks(reading, own.freedom + 1.0));
    Some(if by_noise.variance > own.variance { by_noise } else { own })
}

/// What noise makes of a line so far above it, of the mean of so many independent looks, once it has been taken off: the
/// variance of the power of a line in noise is that of the noise and of both together.
fn of_noise(distance: Db, looks: f64) -> Random {
    // At no distance nothing is left of the line.
    let ratio = distance.power_ratio().max(1.05);
    let line = ratio - 1.0;
    let share = (2.0 * line + 1.0).sqrt() / ratio;
    let magnified = ratio / line;
    Random::of(DB_OF_SHARE * share * magnified / looks.sqrt(), f64::INFINITY)
}

/// How many independent looks at the noise are in a reading: its sweeps, and what an averaging detector takes into each
/// of the points that were averaged.
fn looks(reading: &Reading, sweeps: f64) -> f64 {
    let Some(settings) = settings(reading).filter(|settings| settings.detector == Detector::Rms) else {
        return sweeps;
    };
    let points = f64::from(2 * reading.proof.peak_reach + 1);
    let time = settings.sweep_time.get() * points / f64::from(settings.points.max(1));
    sweeps * (settings.rbw.get() * time).max(1.0)
}

fn by_meter(reading: &Reading) -> Option<Random> {
    let levels: Vec<f64> = reading.meter.iter().map(|reading| reading.level.get()).collect();
    let sample = Sample::of(&levels)?;
    let count = f64::from(sample.count);
    Some(Random::of(sample.deviation / count.sqrt(), count - 1.0))
}

/// Of readings that scatter by their sweeps, and whose records are too old to say with how many degrees of freedom: these are
/// told by the number of the sweeps. `None` for a reading that says so itself, or does not scatter so.
fn told_by_count(reading: &Reading) -> Option<usize> {
    let place = reading.proof.read_from?.checked_sub(1)? as usize;
    let says = of_sweeps(reading).map_or(reading.proof.spread.is_none(), |line| line.freedom.is_some());
    (!says && !is_by_meter(reading)).then_some(place)
}

/// Whether the sweeps of a run are needed to compare it: what a run is loaded without is how many there were.
#[must_use]
pub fn needs_sweeps(readings: &[Reading]) -> bool {
    readings.iter().any(|reading| told_by_count(reading).is_some())
}

fn of_sweeps(reading: &Reading) -> Option<&BudgetLine> {
    let mut lines = reading.budget.iter().flat_map(|budget| &budget.lines);
    lines.find(|line| line.name == "repeatability of the sweeps")
}

fn by_sweeps(reading: &Reading) -> Option<Random> {
    let sweeps = told_by_count(reading).and_then(|place| Some(reading.acquisitions.get(place)?.sweeps.len()));
    // One that was pruned may have had any number; fewer than two do not scatter.
    let sweeps = sweeps.unwrap_or(0).max(2);
    if let Some(line) = of_sweeps(reading) {
        return Some(Random::of(line.standard, line.freedom.unwrap_or(sweeps as f64 - 1.0)));
    }
    let deviation = reading.proof.spread?.get() / range_divisor(sweeps)?;
    Some(Random::of(deviation / (sweeps as f64).sqrt(), sweeps as f64 - 1.0))
}

/// What the last shown digit hides of a difference.
pub(super) fn of_resolution() -> Random {
    Random::of(RESOLUTION_DB / 6f64.sqrt(), f64::INFINITY)
}

/// How readings of one way scatter from run to run.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Between {
    pub(super) path: String,
    pub(super) by_meter: bool,
    /// Standard deviation of one run.
    pub(super) of_run: Pooled,
    /// Where it comes from, in words.
    pub(super) words: String,
}

/// How the readings of a way scatter from run to run: by the runs before if there are several, else as stated or
/// assumed.
pub(super) fn between(pairs: &[Pair<'_>], terms: &Terms, other_day: bool) -> Vec<Between> {
    let mut ways: Vec<(String, bool)> = Vec::new();
    for reading in pairs.iter().filter_map(|pair| pair.after) {
        let way = (reading.scope.path.clone(), is_by_meter(reading));
        if !ways.contains(&way) {
            ways.push(way);
        }
    }
    let stated = terms.stated_as_one(other_day);
    let of_way = |(path, by_meter): (String, bool)| {
        let of = |reading: &Reading| reading.scope.path == path && is_by_meter(reading) == by_meter;
        let (of_run, words) = match measured(pairs, of) {
            // What somebody states of a bench is what is known of it.
            Some(measured) if terms.assumes(other_day) => weighed(stated, measured),
            _ => (stated, stated_words(terms, other_day)),
        };
        Between { path, by_meter, of_run, words }
    };
    ways.into_iter().map(of_way).collect()
}

fn stated_words(terms: &Terms, other_day: bool) -> String {
    let parts = terms.stated(other_day);
    let names = ["connectors made anew", "another day"];
    let given = [terms.reconnection.is_some(), terms.day.is_some()];
    let words: Vec<String> = parts
        .iter()
        .zip(names)
        .zip(given)
        .map(|((part, name), given)| {
            let how = if given { "as stated" } else { "assumed" };
            format!("{name}: {:.3} dB, {how}", part.deviation)
        })
        .collect();
    words.join("; ")
}

/// What several runs show, beside what is assumed without them. The runs outweigh an assumption that they contradict.
fn weighed(assumed: Pooled, measured: Pooled) -> (Pooled, String) {
    let statistic = measured.freedom * (measured.deviation / assumed.deviation).powi(2);
    let most = chi_square_quantile(SURE, measured.freedom).unwrap_or(f64::INFINITY);
    let shown = format!(
        "the runs before scatter by {:.3} dB, with {:.0} degrees of freedom",
        measured.deviation, measured.freedom
    );
    if statistic > most {
        let words =
            format!("{shown}: more than the {:.3} dB that are assumed without them", assumed.deviation);
        return (measured, words);
    }
    let both = pooled(&[assumed, measured]).unwrap_or(assumed);
    let words = format!(
        "{shown}, beside {:.3} dB that are assumed with {:.0}: together {:.3} dB",
        assumed.deviation, assumed.freedom, both.deviation
    );
    (both, words)
}

/// The standard deviation from run to run beyond what the readings' own repeats explain. Readings of one run share its
/// joints, so that many of them know no more than one: the degrees of freedom are those of the runs.
fn measured(pairs: &[Pair<'_>], of: impl Fn(&Reading) -> bool) -> Option<Pooled> {
    let mut excesses = Vec::new();
    let mut runs = 0;
    for pair in pairs {
        let readings: Vec<&Reading> = pair.before.iter().copied().flatten().collect();
        if readings.len() < 2 || readings.len() < pair.before.len() || !readings.iter().all(|one| of(one)) {
            continue;
        }
        let values: Option<Vec<f64>> = readings.iter().map(|reading| level_of(reading)).collect();
        let own: Option<Vec<Random>> = readings.iter().map(|reading| within(reading)).collect();
        let (Some(values), Some(own)) = (values, own) else { continue };
        let Some(sample) = Sample::of(&values) else { continue };
        let own = own.iter().map(|one| one.variance).sum::<f64>() / own.len() as f64;
        excesses.push(sample.deviation.powi(2) - own);
        runs = readings.len();
    }
    if excesses.is_empty() {
        return None;
    }
    let variance = (excesses.iter().sum::<f64>() / excesses.len() as f64).max(0.0);
    Some(Pooled { deviation: variance.sqrt(), freedom: runs as f64 - 1.0 })
}

/// A value in decibels that is not lost in the noise.
fn level_of(reading: &Reading) -> Option<f64> {
    let read = read(reading).filter(|read| read.unit == Unit::Db && !read.bound)?;
    near_noise(reading).is_none().then_some(read.value)
}

#[cfg(test)]
mod tests {
    use spurline_record::Sweep;

    use super::*;
    use crate::compare::change::tests::Bench;

    /// scipy 1.17.1, `stats.rice`: one look at a line scatters by 0.616 dB 20 dB above the noise. numpy 2.4.6: of a
    /// hundred looks at a line 10 dB above it, 4.343 sqrt(21) / 11 / 10 times 1.1 is 0.199 dB.
    #[test]
    fn a_line_near_the_noise_scatters_with_it() {
        let of = |distance: f64, looks| of_noise(Db::new(distance), looks).variance.sqrt();
        assert!((of(20.043_2, 1.0) / 1.01 - 0.616).abs() < 0.01, "{}", of(20.043_2, 1.0));
        assert!((of(10.413_93, 100.0) - 0.199).abs() < 0.001, "{}", of(10.413_93, 100.0));
        assert!(of(0.0, 1.0).is_finite() && of(-3.0, 1.0).is_finite());
    }

    /// A reading of an early record, which says nothing of degrees of freedom, with so many sweeps.
    fn early(sweeps: usize, line: bool) -> Reading {
        let mut reading = Bench::new().readings[0].clone();
        let budget = reading.budget.as_mut().unwrap();
        budget.lines.retain(|one| line || !one.name.starts_with("repeatability"));
        budget.lines.iter_mut().for_each(|line| line.freedom = None);
        reading.proof.spread = Some(Db::new(0.3));
        reading.acquisitions[0].sweeps = vec![Sweep { levels: Vec::new() }; sweeps];
        reading
    }

    #[test]
    fn an_early_reading_is_told_by_the_number_of_its_sweeps() {
        let freedom = |sweeps, line| within(&early(sweeps, line)).unwrap().freedom;
        assert_eq!([freedom(5, true), freedom(5, false)], [4.0, 4.0]);
        // d2 of five figures is 2.326, and their mean scatters by the root of five less.
        let standard = within(&early(5, false)).unwrap().variance.sqrt();
        assert!((standard - 0.3 / 2.326 / 5f64.sqrt()).abs() < 1e-9, "{standard}");
        // Without its sweeps it counts as the least that could have scattered, and never as nothing.
        assert_eq!([freedom(0, true), freedom(0, false)], [1.0, 1.0]);
        assert!(needs_sweeps(&[early(0, true)]) && needs_sweeps(&[early(0, false)]));
        assert!(!needs_sweeps(&Bench::new().readings));
    }

    #[test]
    fn runs_outweigh_what_they_contradict() {
        let assumed = Pooled { deviation: 0.05, freedom: 8.0 };
        let far = Pooled { deviation: 0.3, freedom: 2.0 };
        assert_eq!(weighed(assumed, far).0, far);
        let near = Pooled { deviation: 0.06, freedom: 2.0 };
        let (both, words) = weighed(assumed, near);
        assert!((0.05..0.06).contains(&both.deviation) && both.freedom == 10.0, "{words}");
    }
}
