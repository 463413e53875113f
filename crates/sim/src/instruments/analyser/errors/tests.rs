//! Drawn errors are distributed as they are stated, over many benches.

use super::*;
use crate::bench::stated;
use crate::bench::tests::{WHOLE, read};

const SEEDS: u64 = 2000;

/// The error that a bench of each seed has somewhere, sorted.
fn over_seeds(change: impl Fn(&mut AnalyserTruth), error: impl Fn(&Errors) -> f64) -> Vec<f64> {
    let mut truth = read(WHOLE).unwrap().analyser.unwrap();
    truth.level_error = None;
    change(&mut truth);
    let mut errors: Vec<f64> = (0..SEEDS).map(|seed| error(&Errors::draw(&truth, Seed(seed)))).collect();
    errors.sort_by(f64::total_cmp);
    errors
}

/// The largest distance between the distribution of a sample and `expected`, its distribution function.
fn distance(sorted: &[f64], expected: impl Fn(f64) -> f64) -> f64 {
    let n = sorted.len() as f64;
    let gap = |(place, x): (usize, &f64)| {
        let share = expected(*x);
        (share - place as f64 / n).abs().max(((place + 1) as f64 / n - share).abs())
    };
    sorted.iter().enumerate().map(gap).fold(0.0, f64::max)
}

/// Kolmogorov and Smirnov: scipy 1.17.1, `kstwo.isf(1e-4, 2000)` is 0.04966.
const MOST: f64 = 0.049_66;

#[track_caller]
fn as_stated(change: impl Fn(&mut AnalyserTruth, Stated), error: impl Fn(&Errors) -> f64) {
    let normal = over_seeds(|truth| change(truth, stated("0.6 dB", "normal")), &error);
    // Expanded with k = 2: a standard deviation of 0.3 dB.
    let gap = distance(&normal, |x| 0.5 * libm::erfc(-x / 0.3 / 2f64.sqrt()));
    assert!(gap < MOST, "normal: {gap}");
    let rectangular = over_seeds(|truth| change(truth, stated("0.6 dB", "rectangular")), &error);
    let gap = distance(&rectangular, |x| ((x + 0.6) / 1.2).clamp(0.0, 1.0));
    assert!(gap < MOST, "rectangular: {gap}");
    let (least, most) = (rectangular[0], rectangular[rectangular.len() - 1]);
    assert!(least >= -0.6 && most <= 0.6 && most - least > 1.19, "{least}..{most}");
}

#[test]
fn the_level() {
    as_stated(|truth, stated| truth.errors.level = stated, |errors| errors.level.get());
}

#[test]
fn the_response_at_any_frequency() {
    for mhz in [0.01, 50.0, 145.0, 2900.0] {
        as_stated(
            |truth, stated| truth.errors.response = ResponseTruth::Stated(stated),
            |errors| errors.of_frequency(Hertz::from_mhz(mhz)).get(),
        );
    }
}

#[test]
fn the_attenuator_at_each_setting() {
    for attenuation in [0.0, 30.0] {
        as_stated(
            |truth, stated| truth.errors.attenuator = stated,
            |errors| errors.attenuator(attenuation).get(),
        );
    }
}

#[test]
fn each_bandwidth() {
    for rbw in [1e3, 1e6] {
        as_stated(
            |truth, stated| truth.errors.bandwidth = Some(stated),
            |errors| errors.bandwidth(rbw).get(),
        );
    }
}

#[test]
fn the_scale_at_any_level() {
    let range = read(WHOLE).unwrap().analyser.unwrap().range;
    let settings = Settings::reset(range);
    for below in [0.0, 7.0, 62.25] {
        as_stated(
            |truth, stated| truth.errors.fidelity = Some(stated),
            |errors| {
                let level = settings.reference_level().get() - below;
                errors.on_scale(level, &settings) - level
            },
        );
    }
}

/// Two settings, or two bandwidths, have nothing to do with each other: the correlation of 2000 pairs is known to
/// 1 / sqrt(2000) = 0.022, four times that is allowed.
#[test]
fn one_setting_tells_nothing_of_another() {
    let mut truth = read(WHOLE).unwrap().analyser.unwrap();
    truth.errors.bandwidth = Some(stated("0.6 dB", "normal"));
    truth.errors.attenuator = stated("0.6 dB", "normal");
    let both = |seed| {
        let errors = Errors::draw(&truth, Seed(seed));
        [
            errors.bandwidth(1e3).get() * errors.bandwidth(3e3).get(),
            errors.attenuator(10.0).get() * errors.attenuator(20.0).get(),
            errors.attenuator(10.0).get() * errors.bandwidth(1e3).get(),
        ]
    };
    for pair in 0..3 {
        let correlation = (0..SEEDS).map(|seed| both(seed)[pair]).sum::<f64>() / SEEDS as f64 / 0.09;
        assert!(correlation.abs() < 0.09, "{correlation}");
    }
}
