//! Own products, their phase, compression and noise, on a front end without errors of its own.

use std::time::Duration;

use num_complex::Complex64;

use super::*;
use crate::bench::tests::{WHOLE, read};
use crate::bench::{AheadTruth, ImageTruth, Residual, ResponseTruth, Stated};
use crate::physics::detector::Detector;
use crate::physics::filter::Shape;
use crate::physics::line::Oscillation;
use crate::physics::phase_noise::NoiseDensity;

mod modulated;

/// The front end of the test bench without errors, its own second harmonic at this angle, in radians.
fn exact(phase: f64) -> FrontEnd {
    exact_of(WHOLE, phase)
}

fn exact_of(text: &str, phase: f64) -> FrontEnd {
    let bench = read(text).unwrap();
    let mut truth = bench.analyser.clone().unwrap();
    truth.level_error = Some(Db::new(0.0));
    truth.errors.response = ResponseTruth::Spread(Db::new(0.0));
    truth.errors.attenuator = Stated::normal(Db::new(0.0));
    truth.distortion_phase = vec![(2, phase), (3, 0.0)];
    let now = spurline_clock::run(spurline_clock::Pace::Fast, |clock| async move { clock.now() }).unwrap();
    FrontEnd::new(truth, Seed(1), Arc::new(World::new(&bench, false, now)))
}

fn attenuated(front_end: &FrontEnd, attenuation: f64) -> Settings {
    Settings { manual_attenuation: Some(attenuation), ..Settings::reset(front_end.range()) }
}

fn line(mhz: f64, dbm: f64) -> Line {
    Line::bare(Hertz::from_mhz(mhz), Dbm::new(dbm).to_watts())
}

/// The displayed level at a frequency.
fn shown(front_end: &FrontEnd, lines: &[Line], attenuation: f64, mhz: f64) -> f64 {
    let settings = attenuated(front_end, attenuation);
    let scene = front_end.displayed(lines, None, &settings, Db::new(0.0));
    let found = scene.lines.iter().find(|l| (l.frequency.mhz() - mhz).abs() < 1e-6);
    found.unwrap().power.to_dbm().get()
}

#[track_caller]
fn near(found: f64, expected: f64, tolerance: f64) {
    assert!((found - expected).abs() < tolerance, "found {found}, expected {expected}");
}

/// Second harmonic 2 P - SHI and third 3 P - 2 TOI - 9.54 dB with P = -10 dBm at the mixer. Everything is compressed
/// by 20 log10(1 - 0.10875 · 10^-1.5) = -0.02992 dB (numpy 2.4.6), so the tolerance is a hundredth above that.
#[test]
fn own_harmonics_fall_with_the_attenuator() {
    let front_end = exact(0.0);
    let carrier = [line(145.0, 0.0)];
    near(shown(&front_end, &carrier, 10.0, 290.0), -55.0, 0.04);
    near(shown(&front_end, &carrier, 10.0, 435.0), -59.542, 0.04);
    // An external line does not move, an own one falls by 10 and 20 dB a step of 10 dB.
    near(shown(&front_end, &carrier, 20.0, 145.0), 0.0, 0.04);
    near(shown(&front_end, &carrier, 20.0, 290.0), -65.0, 0.04);
    near(shown(&front_end, &carrier, 20.0, 435.0), -79.542, 0.04);
}

/// numpy 2.4.6: 5 W through 40 dB and 20 dB of attenuation into an intercept of +45 dBm shows a second harmonic of
/// -31.02 dBm at the connector.
#[test]
fn own_second_harmonic_of_a_handheld() {
    let carrier = [line(145.0, 36.9897 - 40.0)];
    near(shown(&exact(0.0), &carrier, 20.0, 290.0) + 40.0, -31.02, 0.015);
}

/// numpy 2.4.6: a product 18 dB below a line reads 1.02994 dB high or 1.16870 dB low.
#[test]
fn own_products_add_as_voltages() {
    for (phase, error) in [(0.0, 1.029_94), (std::f64::consts::PI, -1.168_70)] {
        // -40 dBm at the mixer makes -125 dBm there, -115 dBm at the input.
        let lines = [line(145.0, -30.0), line(290.0, -115.0 + 18.0)];
        near(shown(&exact(phase), &lines, 10.0, 290.0), -97.0 + error, 1e-4);
    }
}

/// numpy 2.4.6: own and external line alike at cos φ = -0.658114: a step of 10 dB moves nothing although the reading
/// is 1.65089 dB low.
#[test]
fn one_step_can_be_fooled() {
    let front_end = exact((-0.658_114f64).acos());
    let lines = [line(145.0, -30.0), line(290.0, -115.0)];
    near(shown(&front_end, &lines, 10.0, 290.0), -116.650_89, 1e-3);
    let step = shown(&front_end, &lines, 20.0, 290.0) - shown(&front_end, &lines, 10.0, 290.0);
    near(step, 0.0, 1e-3);
}

/// numpy 2.4.6: -150 dBm in 1 Hz, Gaussian 100 kHz and 20 dB of attenuation, 40 dB of loss before it: -39.7287 dBm
/// at the connector; at 10 kHz 13.7287 dB below -36 dBm.
#[test]
fn noise_rises_with_bandwidth_and_attenuation() {
    let front_end = exact(0.0);
    let noise = |rbw| {
        let settings = attenuated(&front_end, 20.0);
        front_end.noise(&settings, Filter::new(Shape::Gaussian, Hertz::new(rbw))).to_dbm().get() + 40.0
    };
    near(noise(100e3), -39.728_7, 1e-3);
    near(-36.0 - noise(10e3), 13.728_7, 1e-3);
}

/// The flag comes 5 dB below the 1 dB point of +5 dBm at the mixer; the feed-through never raises it.
#[test]
fn too_much_at_the_mixer_raises_the_flag() {
    let front_end = exact(0.0);
    let overloads = |lines: &[Line], attenuation| {
        front_end.displayed(lines, None, &attenuated(&front_end, attenuation), Db::new(0.0)).overload
    };
    assert!(overloads(&[line(145.0, 10.5)], 10.0));
    assert!(!overloads(&[line(145.0, 10.5)], 20.0) && !overloads(&[], 0.0));
}

/// A front end with one thing more.
fn with(change: impl FnOnce(&mut AnalyserTruth)) -> FrontEnd {
    let mut front_end = exact(0.0);
    change(&mut front_end.truth);
    front_end
}

/// 2 P - SHI with P = 0 dBm at the input and an intercept of 90 dBm there, at every attenuation; the mixer's own product
/// of -55 dBm at 10 dB of attenuation falls by 10 dB a step.
#[test]
fn what_distorts_ahead_does_not_fall_with_the_attenuator() {
    let intercept = |mut front_end: FrontEnd, second, phase: f64| {
        front_end.truth.ahead = Some(AheadTruth {
            second_intercept: Some(Dbm::new(second)),
            third_intercept: None,
            phase: Some(phase),
        });
        front_end
    };
    let carrier = [line(145.0, 0.0)];
    let ahead = intercept(with(|truth| truth.second_intercept = Dbm::new(200.0)), 90.0, 0.0);
    for attenuation in [10.0, 20.0, 40.0] {
        near(shown(&ahead, &carrier, attenuation, 290.0), -90.0, 0.04);
    }
    // Alike in level at 10 dB and opposite: 20 log10(2) up or nothing; a step of 10 dB leaves 1 +- 10^-0.5 of the voltage.
    for (phase, at_10, at_20) in [(0.0, -48.979, -52.614), (std::f64::consts::PI, -300.0, -58.301)] {
        let both = intercept(exact(0.0), 55.0, phase);
        let front_end_shows = |attenuation| shown(&both, &carrier, attenuation, 290.0);
        if at_10 > -200.0 {
            near(front_end_shows(10.0), at_10, 0.04);
        }
        near(front_end_shows(20.0), at_20, 0.04);
    }
}

/// Closed forms at the mixer: two lines of -10 dBm make third order products of 3 P - 2 TOI = -60 dBm beside them and
/// second order ones of 2 P - SHI + 6.02 dB at their sum.
#[test]
fn two_lines_make_products_of_both() {
    let front_end = exact(0.0);
    let lines = [line(145.0, 0.0), line(146.0, 0.0)];
    // Both together are compressed as one of +3 dBm is: 0.06 dB.
    for (mhz, level) in [(144.0, -50.0), (147.0, -50.0), (291.0, -48.979), (1.0, -48.979), (290.0, -55.0)] {
        near(shown(&front_end, &lines, 10.0, mhz), level, 0.08);
    }
    assert!((shown(&front_end, &lines, 20.0, 144.0) - -70.0).abs() < 0.04);
}

/// An angle that is not stated is one of a kind for each order and kilohertz, and may be any.
#[test]
fn angles_are_drawn_for_each_product() {
    let front_end = with(|truth| truth.distortion_phase.clear());
    let angle = |order, mhz: f64| front_end.angle(order, Hertz::from_mhz(mhz));
    assert_eq!(angle(2, 290.0), angle(2, 290.000_2));
    assert!(angle(2, 290.0) != angle(2, 290.002) && angle(2, 290.0) != angle(3, 290.0));
    // The mean of 1000 unit vectors in any direction is known to 1 / sqrt(1000); three times that is allowed.
    let all = (0..1000).map(|khz| Complex64::from_polar(1.0, angle(2, 290.0 + f64::from(khz) * 1e-3)));
    assert!(all.sum::<Complex64>().norm() < 3.0 * 1000f64.sqrt());
}

/// Closed forms: an image as far below the line as its rejection says, folded at 0 Hz; a residual as it is without
/// attenuation, and higher by as much attenuation as there is.
#[test]
fn images_and_residuals() {
    let front_end = with(|truth| {
        truth.image = Some(ImageTruth { offset: Hertz::from_mhz(200.0), rejection: Db::new(70.0) });
        truth.residuals = vec![Residual { frequency: Hertz::from_mhz(1800.0), level: Dbm::new(-100.0) }];
    });
    let lines = [line(145.0, -30.0), line(500.0, -40.0)];
    near(shown(&front_end, &lines, 10.0, 55.0), -100.0, 0.01);
    near(shown(&front_end, &lines, 10.0, 300.0), -110.0, 0.01);
    near(shown(&front_end, &[], 0.0, 1800.0), -100.0, 1e-9);
    near(shown(&front_end, &[], 20.0, 1800.0), -80.0, 1e-9);
}

/// 0.1 dB an hour from when it was first looked at, and from nothing again after an alignment.
#[test]
fn levels_drift_until_an_alignment() {
    let mut front_end = exact(0.0);
    front_end.truth.drift = Db::new(0.1);
    front_end.errors = Errors::draw(&front_end.truth, Seed(1));
    let now = spurline_clock::run(spurline_clock::Pace::Fast, |clock| async move { clock.now() }).unwrap();
    let after = |hours: f64| now.after(Duration::from_secs_f64(hours * 3600.0));
    let settings = attenuated(&front_end, 10.0);
    front_end.watch(now);
    near(front_end.errors.of_settings(&settings, after(2.5)).get(), 0.25, 1e-9);
    front_end.align(after(2.0));
    near(front_end.errors.of_settings(&settings, after(2.5)).get(), 0.05, 1e-9);
}

/// The scale's error belongs to the level on the display, and the step rounds what comes of it.
#[test]
fn the_display_has_a_scale_and_steps() {
    let mut front_end = exact(0.0);
    front_end.truth.errors.fidelity = Some(crate::bench::stated("0.4 dB", "rectangular"));
    front_end.errors = Errors::draw(&front_end.truth, Seed(1));
    let settings = attenuated(&front_end, 10.0);
    let error = |level: f64| f64::from(front_end.shown(level, &settings)) - level;
    let errors: Vec<f64> = (0..120).map(|below| error(-f64::from(below))).collect();
    assert!(errors.iter().all(|error| error.abs() <= 0.405) && errors.iter().any(|error| error.abs() > 0.2));
    let lower = Settings { reference: -20.0, ..settings };
    near(f64::from(front_end.shown(-50.0, &lower)) + 50.0, error(-30.0), 0.011);
    front_end.steps_per_db = 4.0;
    let steps = f64::from(front_end.shown(-31.4, &settings)) * 4.0;
    assert_eq!(steps, steps.round());
}

/// numpy 2.4.6: -110 dBc/Hz fills a Gaussian filter of 1 kHz with -79.7287 dBc, at either side of the carrier; the
/// skirt is noise, of which a peak detector shows more than an averaging one.
#[test]
fn a_carrier_wears_the_noise_of_the_oscillator() {
    let points = [NoiseDensity { offset: Hertz::new(10e3), density: -110.0 }];
    let mut front_end = exact(0.0);
    front_end.skirts = Skirts::new(PhaseNoise::new(&points), None);
    let now = spurline_clock::run(spurline_clock::Pace::Fast, |clock| async move { clock.now() }).unwrap();
    front_end.world.set_supply(now, spurline_units::Volts::new(7.4), spurline_units::Amperes::new(3.0));
    front_end.world.tune(now, Hertz::from_mhz(144.2));
    front_end.world.set_key(now, true, None);
    let settings = Settings {
        centre: 144.2e6,
        span: 100e3,
        manual_rbw: Some(1e3),
        manual_attenuation: Some(10.0),
        detector: Detector::Rms,
        manual_time: Some(2.0),
        ..Settings::reset(front_end.range())
    };
    let end = now.after(Duration::from_secs(9));
    let shown = front_end.sweep(&settings, end).levels;
    let carrier = shown.iter().copied().fold(f32::MIN, f32::max);
    let mean = |levels: &[f32]| {
        let powers = levels.iter().map(|level| 10f64.powf(f64::from(*level) / 10.0));
        10.0 * (powers.sum::<f64>() / levels.len() as f64).log10()
    };
    // 400 points of three looks each scatter by 4.34 / sqrt(1200) = 0.13 dB.
    for side in [&shown[0..400], &shown[601..1001]] {
        near(mean(side) - f64::from(carrier), -79.728_7, 0.5);
    }
    let peaks = front_end.sweep(&Settings { detector: Detector::Positive, ..settings }, end).levels;
    assert!(mean(&peaks[0..400]) > mean(&shown[0..400]) + 3.0);
    // Without it the same place is at the floor of -150 + 10 + 30.27 dBm.
    (front_end.skirts, front_end.view) = (None, None);
    near(mean(&front_end.sweep(&settings, end).levels[0..400]), -109.728, 0.5);
}
