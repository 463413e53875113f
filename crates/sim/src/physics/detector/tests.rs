//! The statistics of noise and lines, against closed forms and independent simulation.

use spurline_units::Watts;

use super::*;
use crate::draw::Seed;
use crate::physics::line::Oscillation;

const BANDWIDTH: f64 = 10e3;

struct Moments {
    power_db: f64,
    db_mean: f64,
    db_spread: f64,
}

impl Moments {
    fn of(powers: &[f64]) -> Self {
        let n = powers.len() as f64;
        let db: Vec<f64> = powers.iter().map(|p| 10.0 * p.log10()).collect();
        let db_mean = db.iter().sum::<f64>() / n;
        let db_spread = (db.iter().map(|d| (d - db_mean).powi(2)).sum::<f64>() / n).sqrt();
        Self { power_db: 10.0 * (powers.iter().sum::<f64>() / n).log10(), db_mean, db_spread }
    }
}

/// A Gaussian filter of 10 kHz; width and dwell of a bucket and the video filter are counted in its bandwidth.
fn swept(detector: Detector, width: f64, dwell: f64, video: f64) -> Detection {
    let filter = Filter::new(Shape::Gaussian, Hertz::new(BANDWIDTH));
    Detection::new(Looking {
        detector,
        filter,
        swept: filter,
        video: Hertz::new(video * BANDWIDTH),
        width: Hertz::new(width * BANDWIDTH),
        dwell: Seconds::new(dwell / BANDWIDTH),
    })
}

/// The same with a span of zero.
fn detection(detector: Detector, dwell: f64, video: f64) -> Detection {
    swept(detector, 0.0, dwell, video)
}

/// A bucket of this width in bandwidths about 1 MHz, with noise of power 1 and lines by offset and power.
struct Scene {
    width: f64,
    lines: Vec<Line>,
    signals: Vec<Signal>,
}

impl Scene {
    fn new(width: f64, lines: &[(f64, f64)]) -> Self {
        let line = |(offset, power): &(f64, f64)| {
            Line::bare(Hertz::new(1e6 + offset * BANDWIDTH), Watts::new(*power))
        };
        Self::of(width, lines.iter().map(line).collect())
    }

    /// The lines of one modulated carrier.
    fn modulated(width: f64, lines: &[(f64, f64)]) -> Self {
        let of = Oscillation { centre: Hertz::new(1e6), swings: Some(1.0) };
        let line = |line| Line { of, ..line };
        Self::of(width, Self::new(width, lines).lines.into_iter().map(line).collect())
    }

    fn of(width: f64, mut lines: Vec<Line>) -> Self {
        let signals = signals(&mut lines, Hertz::new(BANDWIDTH));
        Self { width: width * BANDWIDTH, lines, signals }
    }

    fn bucket(&self) -> Bucket<'_> {
        Bucket {
            low: 1e6 - self.width / 2.0,
            high: 1e6 + self.width / 2.0,
            noise: 1.0,
            lines: &self.lines,
            near: &self.signals,
        }
    }

    fn moments(&self, detection: &Detection, buckets: u64) -> Moments {
        let mut draws = Seed(11).stream("test", 0);
        let bucket = self.bucket();
        let powers: Vec<f64> =
            (0..buckets).map(|_| 10f64.powf(detection.detect(&bucket, &mut draws) / 10.0)).collect();
        Moments::of(&powers)
    }
}

/// Moments of many buckets of zero span with noise of power 1 and a line of power `snr`.
fn moments(detector: Detector, dwell_times_bandwidth: f64, video: f64, snr: f64, buckets: u64) -> Moments {
    let line = [(0.0, snr)];
    let scene = Scene::new(0.0, if snr > 0.0 { &line } else { &[] });
    scene.moments(&detection(detector, dwell_times_bandwidth, video), buckets)
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
        let seen = moments(Detector::Positive, looks / extreme_looks(), 3.0, 0.0, 100_000);
        near(seen.power_db, power, 0.03);
        near(seen.db_mean, mean, 0.03);
        near(seen.db_spread, spread, 0.03);
    }
}

/// The lowest of n exponentials has mean 1 / n: closed form.
#[test]
fn the_negative_peak_of_noise() {
    near(moments(Detector::Negative, 10.0 / extreme_looks(), 3.0, 0.0, 100_000).power_db, -10.0, 0.06);
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

/// Swept past a strong line, the peak detector misses nothing however wide the bucket: closed form, 0 dB.
#[test]
fn the_peak_detector_catches_a_line_anywhere_in_a_bucket() {
    for offset in [0.0, 0.3, 1.9] {
        let scene = Scene::new(4.0, &[(offset, 1e9)]);
        near(scene.moments(&swept(Detector::Positive, 4.0, 10.0, 3.0), 50).db_mean, 90.0, 0.01);
        // scipy 1.17.1: mean of the skirt over four bandwidths, line at the centre.
        if offset == 0.0 {
            let mean = scene.moments(&swept(Detector::Rms, 4.0, 10.0, 3.0), 50).db_mean;
            near(mean, 90.0 + 10.0 * (1.064_467 / 4.0f64).log10(), 0.01);
        }
    }
}

/// Mean and scatter in dB, quick and with every look drawn.
fn both_ways(scene: &Scene, detection: &Detection, logs: u32, buckets: u64) -> [Moments; 2] {
    let bucket = scene.bucket();
    let mut draws = Seed(12).stream("every look", 0);
    let looks = drawn::Looks { detection, bucket: &bucket, logs };
    let powers: Vec<f64> = (0..buckets).map(|_| looks.detect(&mut draws)).collect();
    [scene.moments(detection, buckets), Moments::of(&powers)]
}

const DETECTORS: [Detector; 5] =
    [Detector::Positive, Detector::Negative, Detector::Average, Detector::Sample, Detector::Rms];
/// Widths and dwells of buckets, counted in bandwidths.
const BUCKETS: [(f64, f64); 6] = [(0.0, 0.2), (0.0, 12.5), (0.5, 1.25), (2.0, 5.0), (0.5, 40.0), (8.0, 20.0)];
/// The width of the video filter, and how many logarithms it averages.
const VIDEO: [(f64, u32); 3] = [(3.0, 1), (0.2, 5), (0.05, 20)];

/// Compares the mean in dB of both ways; allowed are four standard errors and a share of one reading's scatter.
fn compare(detector: Detector, lines: &[(f64, f64)], share: f64) {
    for (width, dwell) in BUCKETS {
        for (video, logs) in VIDEO {
            // The averages are taken before the video filter.
            let averages = matches!(detector, Detector::Rms | Detector::Average);
            if averages && logs > 1 {
                continue;
            }
            let scene = Scene::new(width, lines);
            let n = 300;
            let [quick, slow] = both_ways(&scene, &swept(detector, width, dwell, video), logs, n);
            let error = quick.db_mean - slow.db_mean;
            let scatter = quick.db_spread.hypot(slow.db_spread) / (n as f64).sqrt();
            let allowed = 4.0 * scatter + share * slow.db_spread + 0.02;
            assert!(
                error.abs() < allowed,
                "{detector:?}, {width} and {dwell} bandwidths, {logs} logarithms, {lines:?}: {:.3} dB off, {allowed:.3} dB allowed",
                error
            );
        }
    }
}

/// What is not drawn look by look, against drawing it so: levels, widths, dwells and video filters from end to end.
#[test]
fn the_quick_ways_are_as_good_as_drawing_every_look() {
    for detector in DETECTORS {
        for lines in [&[][..], &[(0.0, 0.5)], &[(0.1, 10.0)], &[(0.2, 1e3)]] {
            compare(detector, lines, 0.1);
        }
    }
}

/// Of beating lines the weaker count as noise behind a video filter, which is the worst for two that are alike.
#[test]
fn two_lines_beat_as_when_every_look_is_drawn() {
    for detector in DETECTORS {
        compare(detector, &[(0.0, 20.0), (0.4, 20.0)], 0.6);
        compare(detector, &[(0.0, 200.0), (0.4, 2.0)], 0.3);
        compare(detector, &[(0.0, 200.0), (0.4, 100.0), (-0.3, 100.0)], 0.6);
    }
}

/// Closed form: two lines of the same power beat up to four times the power of one, 6.02 dB, but what the detector
/// averages is their sum, 3.01 dB. Sidebands of angle modulation have a steady envelope with all of the power.
#[test]
fn lines_beat_and_sidebands_do_not() {
    let two = Scene::new(0.0, &[(0.0, 1e6), (0.1, 1e6)]);
    near(two.moments(&detection(Detector::Positive, 100.0, 3.0), 200).db_mean, 66.02, 0.1);
    near(two.moments(&detection(Detector::Rms, 1000.0, 3.0), 200).db_mean, 63.01, 0.1);
    // Bessel's table for an index of 2.405: no carrier, 0.519, 0.432, 0.199, 0.065 and 0.016 on either side.
    let sides = [(1.0, 0.519f64), (2.0, 0.432), (3.0, 0.199), (4.0, 0.065), (5.0, 0.016)];
    let both = sides.iter().flat_map(|(n, j)| [(n * 0.01, 1e6 * j * j), (-n * 0.01, 1e6 * j * j)]);
    let modulated = Scene::modulated(0.0, &both.collect::<Vec<_>>());
    for detector in DETECTORS {
        near(modulated.moments(&detection(detector, 10.0, 3.0), 50).db_mean, 60.0, 0.05);
    }
    // Three of three transmitters: 9.54 dB above one at their highest, of which 24 pieces see nearly all, 4.77 dB on
    // average.
    let three = Scene::new(0.0, &[(0.0, 1e6), (0.01, 1e6), (-0.01, 1e6)]);
    near(three.moments(&detection(Detector::Positive, 1000.0, 3.0), 200).db_mean, 69.54, 0.5);
    near(three.moments(&detection(Detector::Rms, 1000.0, 3.0), 200).db_mean, 64.77, 0.1);
}
