//! The statistics of noise and lines, against closed forms and independent simulation.

use super::*;
use crate::draw::Seed;

const BANDWIDTH: f64 = 10e3;

struct Moments {
    power_db: f64,
    db_mean: f64,
    db_spread: f64,
}

/// Moments of many buckets of zero span with noise of power 1 and a line of power `snr`.
fn moments(detector: Detector, dwell_times_bandwidth: f64, video: f64, snr: f64, buckets: u64) -> Moments {
    let line = [Line { frequency: Hertz::from_mhz(1.0), power: Watts::new(snr) }];
    let bucket = Bucket {
        low: Hertz::from_mhz(1.0),
        high: Hertz::from_mhz(1.0),
        dwell: Seconds::new(dwell_times_bandwidth / BANDWIDTH),
        filter: Gaussian::new(Hertz::new(BANDWIDTH)),
        bandwidth: Hertz::new(BANDWIDTH),
        video: Hertz::new(video * BANDWIDTH),
        noise: Watts::new(1.0),
        lines: if snr > 0.0 { &line } else { &[] },
    };
    let mut draws = Seed(11).stream("test", 0);
    let powers: Vec<f64> = (0..buckets).map(|_| bucket.detect(detector, &mut draws).get()).collect();
    let n = powers.len() as f64;
    let db: Vec<f64> = powers.iter().map(|p| 10.0 * p.log10()).collect();
    let db_mean = db.iter().sum::<f64>() / n;
    let db_spread = (db.iter().map(|d| (d - db_mean).powi(2)).sum::<f64>() / n).sqrt();
    Moments { power_db: 10.0 * (powers.iter().sum::<f64>() / n).log10(), db_mean, db_spread }
}

#[track_caller]
fn near(found: f64, expected: f64, tolerance: f64) {
    assert!((found - expected).abs() < tolerance, "found {found}, expected {expected}");
}

/// scipy 1.17.1: 10 γ / ln 10 below the mean power, (10 / ln 10) π / sqrt 6 of scatter. 100 000 looks leave a
/// standard error of 0.018 dB.
#[test]
fn single_looks_at_noise_are_exponential() {
    let seen = moments(Detector::Sample, 1.0, 3.0, 0.0, 100_000);
    near(seen.power_db, 0.0, 0.06);
    near(seen.db_mean, -2.506_816, 0.06);
    near(seen.db_spread, 5.570_043, 0.06);
}

/// numpy 2.4.6: 10 log10(4 / π) below the mean power. The square of a mean of 150 looks keeps a bias of
/// (4 / π - 1) / 150 of the power, 0.008 dB.
#[test]
fn a_voltage_average_reads_noise_low() {
    near(moments(Detector::Average, 100.0, 3.0, 0.0, 2000).power_db, -1.049_101 + 0.008, 0.02);
}

/// A narrow video filter averages the logarithm: scipy 1.17.1 gives -2.506816 dB for noise alone.
#[test]
fn a_narrow_video_filter_reads_noise_low() {
    let seen = moments(Detector::Sample, 1.0, 0.01, 0.0, 4000);
    near(seen.db_mean, -2.506_816, 0.05);
    // 100 looks: 5.570 / sqrt 100.
    near(seen.db_spread, 0.557, 0.03);
}

/// numpy 2.4.6, simulation of 2^22 samples of filtered noise: mean peak power at dwell times bandwidth; the
/// count 3.2 · B · dwell stays within 0.25 dB of it.
#[test]
fn the_peak_detector_lifts_noise_with_the_dwell() {
    for (dwell, expected) in [(1.25, 3.20), (12.5, 6.31), (125.0, 8.31)] {
        near(moments(Detector::Positive, dwell, 3.0, 0.0, 20_000).power_db, expected, 0.25);
    }
}

/// scipy 1.17.1: harmonic numbers H(10), H(100) as mean peak powers; mean and scatter in dB by integration.
#[test]
fn peaks_of_independent_looks() {
    for (looks, power, mean, spread) in [(10.0, 4.667_1, 4.299, 1.798), (100.0, 7.149_5, 7.028, 1.013)] {
        let seen = moments(Detector::Positive, looks / EXTREME_LOOKS, 3.0, 0.0, 100_000);
        near(seen.power_db, power, 0.03);
        near(seen.db_mean, mean, 0.03);
        near(seen.db_spread, spread, 0.03);
    }
}

/// The lowest of n exponentials has mean 1 / n: closed form.
#[test]
fn the_negative_peak_of_noise() {
    near(moments(Detector::Negative, 10.0 / EXTREME_LOOKS, 3.0, 0.0, 100_000).power_db, -10.0, 0.06);
}

/// numpy 2.4.6: 10 log10(1 + 10^(-SNR/10)) on a power average, whatever the number of looks.
#[test]
fn noise_lifts_a_line_on_a_power_average() {
    for (snr, error) in [(0.0, 3.010_3), (5.0, 1.193_3), (10.0, 0.413_9)] {
        for dwell in [0.1, 20.0] {
            let seen = moments(Detector::Rms, dwell, 3.0, 10f64.powf(snr / 10.0), 60_000);
            near(seen.power_db - snr, error, 0.03);
        }
    }
}

/// scipy 1.17.1, integration of the Rician density in dB.
#[test]
fn a_line_in_noise_scatters_as_rice_says() {
    for (snr, spread, tolerance) in [(10.0, 1.998_6, 0.02), (20.0, 0.615_7, 0.006)] {
        let line = 10f64.powf(snr / 10.0);
        near(moments(Detector::Sample, 1.0, 3.0, line, 60_000).db_spread, spread, tolerance);
        // An averaging detector divides it by the root of the looks: 1.505 · 100.
        let averaged = moments(Detector::Rms, 100.0, 3.0, line, 20_000).db_spread;
        near(averaged, spread / 150.5f64.sqrt(), 0.1 * spread / 150.5f64.sqrt());
    }
}

/// Swept past a strong line, the peak detector misses nothing however wide the bucket: method table, 0 dB.
#[test]
fn the_peak_detector_catches_a_line_anywhere_in_a_bucket() {
    let mut draws = Seed(5).stream("test", 0);
    for offset in [0.0, 3e3, 19e3] {
        let line = [Line { frequency: Hertz::new(1e6 + offset), power: Watts::new(1.0) }];
        let bucket = Bucket {
            low: Hertz::new(1e6 - 20e3),
            high: Hertz::new(1e6 + 20e3),
            dwell: Seconds::new(2.5 * 4.0 / BANDWIDTH),
            filter: Gaussian::new(Hertz::new(BANDWIDTH)),
            bandwidth: Hertz::new(BANDWIDTH),
            video: Hertz::new(3.0 * BANDWIDTH),
            noise: Watts::new(1e-9),
            lines: &line,
        };
        let level = 10.0 * bucket.detect(Detector::Positive, &mut draws).get().log10();
        near(level, 0.0, 0.01);
        // scipy 1.17.1: mean of the skirt over four bandwidths, line at the centre.
        if offset == 0.0 {
            let mean = 10.0 * bucket.detect(Detector::Rms, &mut draws).get().log10();
            near(mean, 10.0 * (1.064_467 / 4.0f64).log10(), 0.01);
        }
    }
}
