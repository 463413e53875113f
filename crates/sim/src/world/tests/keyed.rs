//! What a keyed unit gives over time, by its supply, and into a bad load.

use super::*;

/// The power that the unit gives relative to its setting, in dB; `None` while it is silent.
fn power(world: &World, at: Moment) -> Option<f64> {
    let emission = world.emission(at).filter(Emission::is_transmitting)?;
    let full = Emission::transmitting(emission.setting, 1.0, 1.0);
    let carrier = |emission| world.unit.rays(emission, &[]).iter().map(|ray| ray.power.get()).sum::<f64>();
    Some(10.0 * (carrier(emission) / carrier(full)).log10())
}

#[track_caller]
fn near(found: Option<f64>, expected: f64, tolerance: f64) {
    let found = found.expect("it transmits");
    assert!((found - expected).abs() < tolerance, "found {found}, expected {expected}");
}

/// All but 1 % of the droop after the stated time: a time constant of 20 s / ln 100 = 4.3429 s. Steps are 0.01 dB.
#[test]
fn a_warm_unit_gives_less() {
    let (world, now) = world(&unit_with("droop: { by: 0.6 dB, within: 20 s }"));
    let at = |s: f64| now.after(Duration::from_secs_f64(s));
    world.set_key(at(0.0), true, None);
    for s in [0.1, 1.0, 4.342_9, 10.0, 20.0, 60.0] {
        near(power(&world, at(s)), -0.6 * (1.0 - (-s / 4.342_94).exp()), 0.005_1);
    }
    near(power(&world, at(20.0)), -0.594, 0.005_1);
    // The same for some time, so that a sweep over a warming unit is no new scene at each point.
    assert_eq!(world.emission(at(40.0)), world.emission(at(40.5)));
    world.set_key(at(60.0), false, None);
    world.set_key(at(64.342_9), true, None);
    near(power(&world, at(64.5)), -0.6 * (-1f64).exp() - 0.6 * (1.0 - (-1f64).exp()) * 0.0355, 0.008);
}

#[test]
fn power_steps_down_and_the_unit_dies() {
    let (world, now) = world(&unit_with("steps_down: { by: 1.5 dB, after: 2 s }\n      dies_after: 12 s"));
    let at = |s: f64| now.after(Duration::from_secs_f64(s));
    for start in [0.0, 10.0, 20.0] {
        world.set_key(at(start), true, Some(Seconds::new(5.0)));
    }
    near(power(&world, at(1.9)), 0.0, 1e-9);
    near(power(&world, at(2.0)), -1.5, 1e-9);
    near(power(&world, at(11.0)), 0.0, 1e-9);
    near(power(&world, at(21.0)), 0.0, 1e-9);
    assert_eq!(power(&world, at(22.0)), None, "12 s in all");
    assert!(world.observed(at(22.0)).keyed && !world.observed(at(22.0)).transmitting);
}

#[test]
fn a_battery_sags_and_a_supply_does_not() {
    let text = unit_with("battery: { sags: 0.3 dB }");
    let (worn, now) = world(&text);
    let at = |s: f64| now.after(Duration::from_secs_f64(s));
    worn.set_key(at(0.0), true, None);
    near(power(&worn, at(120.0)), -0.6, 1e-9);
    let (fed, now) = world(&text.replace("  relay: {", "  supply: {}\n  relay: {"));
    let at = |s: f64| now.after(Duration::from_secs_f64(s));
    fed.set_supply(at(0.0), Volts::new(7.4), Amperes::new(2.5));
    fed.set_key(at(0.0), true, None);
    near(power(&fed, at(120.0)), 0.0, 1e-9);
}

/// -1.412 dB at 85 % (numpy 2.4.6), without a new rise where the voltage changes.
#[test]
fn power_follows_the_supply() {
    let text = unit_with("power_follows_supply: true").replace("  relay: {", "  supply: {}\n  relay: {");
    let (world, now) = world(&text);
    let at = |s: f64| now.after(Duration::from_secs_f64(s));
    world.set_supply(at(0.0), Volts::new(7.4), Amperes::new(2.5));
    world.set_key(at(0.0), true, None);
    near(power(&world, at(1.0)), 0.0, 1e-9);
    world.set_supply(at(1.0), Volts::new(6.29), Amperes::new(2.5));
    near(power(&world, at(1.0)), -1.412, 5e-4);
    // A resistor's current: 0.15 A + 1.35 A · 0.85.
    assert!((world.terminals(at(1.5)).unwrap().current - 1.297_5).abs() < 1e-9);
    world.set_supply(at(2.0), Volts::new(4.9), Amperes::new(2.5));
    assert_eq!(power(&world, at(2.0)), None);
    assert_eq!(world.changes(at(0.5), at(3.0)), [at(1.0), at(2.0)]);
}

#[test]
fn a_unit_is_silent_where_it_must_not_transmit() {
    let (world, now) =
        world(&unit_with("inhibited: [ 156 MHz..157 MHz, 400..401 MHz ]\n      time_out: 60 s"));
    let at = |s: f64| now.after(Duration::from_secs_f64(s));
    world.tune(at(0.0), Hertz::from_mhz(156.8));
    world.set_key(at(0.0), true, None);
    assert_eq!((power(&world, at(1.0)), world.setting(at(1.0)).carrier.mhz()), (None, 156.8));
    world.tune(at(2.0), Hertz::from_mhz(145.0));
    // It comes up as at key down: half of its power after half of its rise.
    near(power(&world, at(2.01)), -3.010_3, 1e-3);
    near(power(&world, at(61.9)), 0.0, 1e-9);
    assert_eq!(power(&world, at(62.0)), None, "its own timer");
}

/// Where it leaks it transmits at another carrier with its harmonics, or so much weaker; the port still tells what was
/// asked for.
#[test]
fn an_inhibit_leaks() {
    let (world, now) = world(&unit_with(
        "inhibited: [ { range: 220..225 MHz, comes_at: 146.5 MHz }, { range: 400..406 MHz, comes_at: last }, { range: 150..160 MHz, lets_through: 40 dB } ]",
    ));
    let at = |s: f64| now.after(Duration::from_secs_f64(s));
    let lines = |s: f64| world.lines(Port::Analyser, world.emission(at(s)), Contacts::default());
    let second = |mhz: f64, s: f64| level(&lines(s), mhz).unwrap() - level(&lines(s), 2.0 * mhz).unwrap();
    world.set_key(at(0.0), true, None);
    world.tune(at(0.0), Hertz::from_mhz(144.0));
    let plain = second(144.0, 1.0);
    world.tune(at(2.0), Hertz::from_mhz(223.5));
    assert_eq!((level(&lines(3.0), 223.5), world.setting(at(3.0)).carrier.mhz()), (None, 223.5));
    near(power(&world, at(3.0)), 0.0, 1e-9);
    assert!((second(146.5, 3.0) - plain).abs() < 1.0, "its harmonics come with it");
    // Straight from one inhibited range to the other: 144 MHz was the last that it may use.
    world.tune(at(4.0), Hertz::from_mhz(401.0));
    assert!(level(&lines(5.0), 401.0).is_none() && level(&lines(5.0), 144.0).is_some());
    world.tune(at(6.0), Hertz::from_mhz(156.8));
    near(power(&world, at(7.0)), -40.0, 1e-9);
    assert!(level(&lines(7.0), 156.8).is_some() && level(&lines(7.0), 144.0).is_none());
    assert!((second(156.8, 7.0) - plain).abs() < 1.0);
}

/// A hundredth of the amplifier's 1.35 A goes with 40 dB less.
#[test]
fn a_weak_leak_draws_little() {
    let text = unit_with("inhibited: [ { range: 150..160 MHz, lets_through: 40 dB } ]");
    let (world, now) = world(&text.replace("  relay: {", "  supply: {}\n  relay: {"));
    let at = |s: f64| now.after(Duration::from_secs_f64(s));
    world.set_supply(at(0.0), Volts::new(7.4), Amperes::new(2.5));
    world.tune(at(0.0), Hertz::from_mhz(156.8));
    world.set_key(at(0.0), true, None);
    assert!((world.terminals(at(1.0)).unwrap().current - 0.163_5).abs() < 1e-9);
    near(power(&world, at(1.0)), -40.0, 1e-9);
}

/// 30 ms of every 60 ms: half of the mean power, and the input may break in any burst.
#[test]
fn bursts_come_and_go() {
    let (world, now) = world(
        &unit_with("modulation: { burst: { on: 30 ms, period: 60 ms } }")
            .replace("rise: 20 ms", "rise: 1 ms"),
    );
    let at = |ms: f64| now.after(Duration::from_secs_f64(ms / 1e3));
    world.set_key(at(100.0), true, None);
    let heard = |ms: f64| power(&world, at(ms)).is_some();
    assert_eq!(
        [110.0, 129.9, 130.1, 159.0, 161.0, 191.0].map(heard),
        [true, true, false, false, true, false]
    );
    near(power(&world, at(160.5)), -3.010_3, 1e-3);
    world.set_contact(at(140.0), 2, true, None);
    assert_eq!(world.changes(at(130.0), at(150.0)), [at(140.0)]);
    assert_eq!(world.changes(at(130.0), at(200.0)), [at(140.0), at(160.0)]);
}

/// What comes back is held where it begins: at VSWR 3 a unit that bears 2 gives (1/3 over 1/2)², -3.522 dB.
#[test]
fn a_reflecting_load_folds_the_power_back() {
    let path = "    common:\n      - { name: pad-30, pad: 30 dB, slope: 0.2 dB, vswr: 1.1, calibrated_within: 0.15 dB }\n";
    let bad = "    common:\n      - { name: pad-30, pad: 60 dB, vswr: 3 }\n";
    let carrier = |keys: &str, path: &str| {
        let text = unit_with(keys).replace("    common:\n      - { name: pad-30, pad: 30 dB, slope: 0.2 dB, vswr: 1.1, calibrated_within: 0.15 dB }\n", path);
        let (world, now) = world(&text);
        world.tune(now, Hertz::from_mhz(145.0));
        let emission = Emission::transmitting(world.setting(now), 1.0, 1.0);
        level(&world.lines(Port::PowerMeter, Some(emission), Contacts::default()), 145.0).unwrap()
    };
    let folds = "folds_back_beyond: 2";
    assert_eq!(carrier("", path), carrier(folds, path));
    let lost = carrier("", bad) - carrier(folds, bad);
    assert!((lost - 3.521_8).abs() < 1e-3, "{lost}");
}

#[test]
fn spurs_stand_where_they_are_named() {
    let (world, now) = world(&unit_with(
        "spurs: [ { frequency: 26 MHz, below: 70 dB }, { offset: 12.5 kHz, below: 60 dB }, { share_of_carrier: 0.5, below: 55 dB } ]",
    ));
    world.tune(now, Hertz::from_mhz(145.0));
    let rays = world.unit.rays(Emission::transmitting(world.setting(now), 1.0, 1.0), &[]);
    let found: Vec<(f64, f64)> = rays
        .iter()
        .map(|ray| (ray.frequency.mhz(), 10.0 * (ray.power.get() / 4.7).log10()))
        .map(|(mhz, level)| ((mhz * 1e4).round() / 1e4, level.round()))
        .collect();
    assert_eq!(found, [(145.0, 0.0), (26.0, -70.0), (145.0125, -60.0), (144.9875, -60.0), (72.5, -55.0)]);
    world.tune(now, Hertz::from_mhz(146.0));
    let rays = world.unit.rays(Emission::transmitting(world.setting(now), 1.0, 1.0), &[]);
    assert_eq!(rays[1].frequency.mhz(), 26.0);
    assert!((rays[3].frequency.mhz() - 145.9875).abs() < 1e-9 && rays[4].frequency.mhz() == 73.0);
}

/// A harmonic swings as far as its order says; a clock's line does not swing at all. 4.7 W with an index of 2.5:
/// J1 is -6.071 dB, with 7.5 at the third harmonic J2 is -12.755 dB (scipy 1.17.1).
#[test]
fn modulation_goes_with_the_line() {
    let (world, now) = world(&unit_with(
        "modulation: { fm: { deviation: 2.5 kHz, tone: 1 kHz } }\n      spurs: [ { frequency: 26 MHz, below: 70 dB }, { share_of_carrier: 0.5, below: 60 dB } ]",
    ));
    world.tune(now, Hertz::from_mhz(145.0));
    let emission = Emission::transmitting(world.setting(now), 1.0, 1.0);
    let rays = world.unit.rays(emission, &world.unit.harmonics(emission.setting));
    let at = |mhz: f64| {
        let found: Vec<_> = rays.iter().filter(|ray| (ray.frequency.mhz() - mhz).abs() < 1e-7).collect();
        assert_eq!(found.len(), 1, "{mhz} MHz");
        10.0 * (found[0].power.get() / 4.7).log10()
    };
    assert!((at(145.001) - -6.071_2).abs() < 1e-3);
    assert!((at(435.002) - (-68.0 - 12.755_1)).abs() < 1e-3);
    assert!((at(26.0) - -70.0).abs() < 1e-9);
    // 20 log10 |J1(1.25)| is -5.838 dB (scipy 1.17.1).
    assert!((at(72.501) - (-60.0 - 5.838_0)).abs() < 1e-3, "{}", at(72.501));
    // All of it together is what the power meter's thermal sensor sees.
    let carrier: f64 = rays.iter().filter(|ray| ray.group == 1).map(|ray| ray.power.get()).sum();
    assert!((carrier / 4.7 - 1.0).abs() < 1e-4);
}
