//! The sensor's errors, against what is stated of them.

use std::time::Duration;

use super::*;
use crate::bench::tests::{WHOLE, read};

/// The sensor of the test bench on a battery, with other keys for the meter, and the time.
fn sensor(seed: u64, keys: &str) -> (Sensor, Moment) {
    let text = WHOLE
        .replace("  supply: {}\n", "")
        .replace("seed: 7", &format!("seed: {seed}"))
        .replace("    noise: 50 nW\n    zero: 10 nW\n    level_spread: 0.05 dB\n", keys);
    let bench = read(&text).unwrap();
    let now = spurline_clock::run(spurline_clock::Pace::Fast, |clock| async move { clock.now() }).unwrap();
    let world = Arc::new(World::new(&bench, false, now));
    world.tune(now, Hertz::from_mhz(145.0));
    (Sensor::new(bench.power_meter.clone().unwrap(), bench.seed, world), now)
}

const EXACT: &str = "    noise: 0 W\n    zero: 0 W\n    level_error: 0 dB\n";

fn after(now: Moment, seconds: f64) -> Moment {
    now.after(Duration::from_secs_f64(seconds))
}

fn read_one(sensor: &mut Sensor, end: Moment) -> f64 {
    sensor.read(end, 1, Seconds::new(0.02), Hertz::from_mhz(145.0))
}

fn decibels(ratio: f64) -> f64 {
    10.0 * ratio.log10()
}

/// A zero that is off by 50 nW reads 0.0022 dB high at -10 dBm, 0.2119 dB at -30 dBm, 1.7609 dB at -40 dBm (numpy 2.4.6).
#[test]
fn an_offset_hurts_small_powers() {
    let (mut exact, now) = sensor(1, EXACT);
    exact.offset = 50e-9;
    for (true_level, high) in [(-10.0, 0.002_17), (-30.0, 0.211_89), (-40.0, 1.760_91)] {
        let power = 1e-3 * 10f64.powf(true_level / 10.0);
        let shown = power + read_one(&mut exact, after(now, 1.0));
        assert!((decibels(shown / power) - high).abs() < 1e-4);
    }
}

/// The zero moves evenly from the zeroing on, in an hour by so much as is drawn with the stated spread.
#[test]
fn the_zero_drifts_until_it_is_zeroed() {
    let keys = format!("{EXACT}    zero_drift: 20 nW\n");
    let (mut drifting, now) = sensor(3, &keys);
    let hour = read_one(&mut drifting, after(now, 3600.0));
    assert!(hour.abs() > 1e-10 && hour.abs() < 80e-9, "{hour}");
    assert!((read_one(&mut drifting, after(now, 1800.0)) - hour / 2.0).abs() < 1e-15);
    drifting.zero(after(now, 7200.0), Hertz::from_mhz(145.0));
    assert_eq!(read_one(&mut drifting, after(now, 7200.0)), 0.0);
    let again = read_one(&mut drifting, after(now, 10_800.0));
    assert!(again.abs() > 1e-10 && (again - hour).abs() > 1e-12, "another way after each zeroing");
    // The mean square of 500 normal draws is known to sqrt(2 / 500), 6.3 %; four times that is allowed.
    let hourly = (0..500).map(|seed| {
        let (mut sensor, now) = sensor(seed, &keys);
        read_one(&mut sensor, after(now, 3600.0)).powi(2)
    });
    let square = hourly.sum::<f64>() / 500.0;
    assert!((square / 20e-9f64.powi(2) - 1.0).abs() < 0.25, "{square}");
}

/// Noise falls with the root of the number of conversions: 100 nW, and 25 nW of 16 together.
#[test]
fn averaging_makes_noise_small() {
    let (mut noisy, now) = sensor(5, "    noise: 100 nW\n    zero: 0 W\n    level_error: 0 dB\n");
    for (conversions, expected) in [(1, 100e-9), (16, 25e-9)] {
        let mut read =
            || noisy.read(after(now, 1.0), conversions, Seconds::new(0.02), Hertz::from_mhz(145.0)).powi(2);
        let square = (0..1000).map(|_| read()).sum::<f64>() / 1000.0;
        // The mean square of 1000 normal draws is known to 4.5 %; four times that is allowed.
        assert!((square / f64::powi(expected, 2) - 1.0).abs() < 0.18, "{conversions}: {square}");
    }
}

/// `within: 0.1 dB, rectangular` is never passed and has a spread of 0.1 / sqrt 3; the factor's is normal, k = 2.
#[test]
fn errors_are_as_they_are_stated() {
    let keyed = |seed, keys: &str| {
        let (mut sensor, now) = sensor(seed, &format!("    noise: 0 W\n    zero: 0 W\n{keys}"));
        sensor.world.set_key(now, true, None);
        read_one(&mut sensor, after(now, 1.0))
    };
    let errors = |keys: &str| -> Vec<f64> {
        let error = |seed| decibels(keyed(seed, keys) / keyed(seed, "    level_error: 0 dB\n"));
        (0..300).map(error).collect()
    };
    let deviation = |errors: &[f64]| (errors.iter().map(|e| e * e).sum::<f64>() / errors.len() as f64).sqrt();
    // The deviation of 300 draws is known to 1 / sqrt(600), 4.1 %; four times that is allowed.
    let level = errors("    level: { within: 0.1 dB, distribution: rectangular }\n");
    assert!(level.iter().all(|error| error.abs() <= 0.1));
    assert!((deviation(&level) / (0.1 / 3f64.sqrt()) - 1.0).abs() < 0.165, "{}", deviation(&level));
    let factor =
        errors("    level_error: 0 dB\n    calibration_factor: { within: 0.08 dB, distribution: normal }\n");
    assert!((deviation(&factor) / 0.04 - 1.0).abs() < 0.165, "{}", deviation(&factor));
}

/// A sensor is slow: 1 % is left of a step after the stated 50 ms, 10 % after half of them.
#[test]
fn it_settles() {
    let (mut sensor, now) = sensor(1, EXACT);
    sensor.world.set_key(now, true, None);
    let full = read_one(&mut sensor, after(now, 5.0));
    sensor.world.set_key(after(now, 6.0), false, None);
    for (later, left) in [(0.025, 0.1), (0.05, 0.01)] {
        let found = read_one(&mut sensor, after(now, 6.0 + later)) / full;
        assert!((found / left - 1.0).abs() < 0.07, "{later}: {found}");
    }
}

/// A modulated carrier is as strong as its lines together: at 100 % of AM 1.761 dB more (10 log10 1.5).
#[test]
fn it_adds_up_all_lines() {
    let keyed = |keys: &str| {
        let text = WHOLE.replace("  supply: {}\n", "").replace("      rise: 20 ms\n", keys);
        let bench = read(&text).unwrap();
        let now =
            spurline_clock::run(spurline_clock::Pace::Fast, |clock| async move { clock.now() }).unwrap();
        let world = Arc::new(World::new(&bench, false, now));
        world.set_key(now, true, None);
        let mut sensor = Sensor::new(bench.power_meter.clone().unwrap(), bench.seed, world);
        read_one(&mut sensor, after(now, 2.0))
    };
    let bare = keyed("");
    let am = keyed("      modulation: { am: { depth: 100 %, tone: 1 kHz } }\n");
    let fm = keyed("      modulation: { fm: { deviation: 2.5 kHz, tone: 1 kHz } }\n");
    let burst = keyed("      rise: 0 s\n      modulation: { burst: { on: 2 ms, period: 8 ms } }\n");
    assert!((decibels(am / bare) - 1.760_9).abs() < 1e-3, "{}", decibels(am / bare));
    assert!(decibels(fm / bare).abs() < 1e-3);
    // A quarter of the time, 6.02 dB less; the sensor follows bursts of this length a little.
    assert!((decibels(burst / bare) - -6.02).abs() < 1.2, "{}", decibels(burst / bare));
}
