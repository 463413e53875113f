//! Own products, their phase, compression and noise, on a front end without errors of its own.

use super::*;
use crate::bench::tests::{WHOLE, read};
use crate::physics::filter::Shape;

/// The front end of the test bench without errors, its own second harmonic at this angle, in radians.
fn exact(phase: f64) -> FrontEnd {
    let bench = read(WHOLE).unwrap();
    let mut truth = bench.analyser.clone().unwrap();
    truth.level_error = Some(Db::new(0.0));
    (truth.response_spread, truth.attenuator_spread) = (Db::new(0.0), Db::new(0.0));
    truth.distortion_phase = vec![(2, phase), (3, 0.0)];
    let now = spurline_clock::run(spurline_clock::Pace::Fast, |clock| async move { clock.now() }).unwrap();
    FrontEnd::new(truth, Seed(1), Arc::new(World::new(&bench, now)))
}

fn attenuated(front_end: &FrontEnd, attenuation: f64) -> Settings {
    Settings { manual_attenuation: Some(attenuation), ..Settings::reset(front_end.range()) }
}

fn line(mhz: f64, dbm: f64) -> Line {
    Line { frequency: Hertz::from_mhz(mhz), power: Dbm::new(dbm).to_watts() }
}

/// The displayed level at a frequency.
fn shown(front_end: &FrontEnd, lines: &[Line], attenuation: f64, mhz: f64) -> f64 {
    let settings = attenuated(front_end, attenuation);
    let scene = front_end.displayed(lines.to_vec(), &settings, Db::new(0.0));
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
        front_end.displayed(lines.to_vec(), &attenuated(&front_end, attenuation), Db::new(0.0)).overload
    };
    assert!(overloads(&[line(145.0, 10.5)], 10.0));
    assert!(!overloads(&[line(145.0, 10.5)], 20.0) && !overloads(&[], 0.0));
}
