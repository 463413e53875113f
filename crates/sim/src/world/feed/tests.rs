//! Supply, cable and unit against circuits solved by hand.

use super::*;

fn circuit(cable: f64, senses_unit: bool, nominal: Option<f64>) -> Circuit {
    Circuit { cable, senses_unit, nominal, works_from: 5.0 }
}

fn feed(volts: f64, limit: f64) -> Feed {
    Feed { volts, limit }
}

#[track_caller]
fn near(found: f64, expected: f64) {
    assert!((found - expected).abs() < 1e-9, "found {found}, expected {expected}");
}

/// Power as the square of the voltage: 15 % up and down are +1.214 dB and -1.412 dB (numpy 2.4.6).
#[test]
fn power_goes_with_the_square_of_the_voltage() {
    let bare = circuit(0.0, false, Some(7.4));
    let decibels = |ratio: f64| 10.0 * bare.drive(feed(7.4 * ratio, 5.0), 1.0).unwrap().log10();
    near(decibels(1.0), 0.0);
    assert!((decibels(1.15) - 1.214).abs() < 5e-4 && (decibels(0.85) - -1.412).abs() < 5e-4);
    assert_eq!(circuit(0.0, false, None).drive(feed(8.5, 5.0), 1.0), Some(1.0));
    assert_eq!(bare.drive(feed(4.9, 5.0), 1.0), None, "it does not work so low");
}

/// 0.2 ohm and 1.5 A that stay the same: 0.3 V less at the unit, and nothing less where the unit is sensed.
#[test]
fn a_cable_takes_voltage() {
    let constant = circuit(0.2, false, None).transmitting(feed(7.4, 3.0), 1.0, 1.0);
    near(constant.unit, 7.1);
    near(constant.sensed, 7.4);
    let sensed = circuit(0.2, true, None).transmitting(feed(7.4, 3.0), 1.0, 1.0);
    near(sensed.unit, 7.4);
    near(sensed.sensed, 7.4);
    // An amplifier of 1.35 A at 7.4 V is 5.481 ohm: (7.4 - 0.2 · 0.15) / (1 + 0.2 / 5.481) V are left to it.
    let following = circuit(0.2, false, Some(7.4)).transmitting(feed(7.4, 3.0), 1.0, 1.0);
    near(following.unit, 7.37 / (1.0 + 0.2 * 1.35 / 7.4));
    near(following.sensed, 7.4);
    // 5.25 V are enough for a unit that works from 5 V, but not through this cable.
    let long = circuit(0.2, false, None);
    assert!(long.works(feed(5.25, 3.0)) && long.drive(feed(5.25, 3.0), 1.0).is_none());
}

#[test]
fn a_current_limit_folds_the_voltage() {
    // A resistor of 5.481 ohm takes 1.05 of its 1.35 A: 7/9 of its voltage, 20 log10(7/9) = -2.183 dB.
    let following = circuit(0.0, false, Some(7.4));
    let limited = following.transmitting(feed(7.4, 1.2), 1.0, 1.0);
    near(limited.sensed, 7.4 * 7.0 / 9.0);
    near(limited.current, 1.2);
    assert!(limited.is_limiting);
    near(10.0 * following.drive(feed(7.4, 1.2), 1.0).unwrap().log10(), 20.0 * (7.0f64 / 9.0).log10());
    // At 0.9 A it is 7.4 · 0.75 / 1.35 = 4.11 V: too little.
    assert_eq!(following.drive(feed(7.4, 0.9), 1.0), None);
    let constant = circuit(0.0, false, None);
    assert_eq!((constant.drive(feed(7.4, 1.5), 1.0), constant.drive(feed(7.4, 1.0), 1.0)), (Some(1.0), None));
    let collapsed = constant.transmitting(feed(7.4, 1.0), 1.0, 1.0);
    assert_eq!((collapsed.sensed, collapsed.current, collapsed.is_limiting), (5.0, 1.0, true));
    // A quarter of the power takes half of the amplifier's current: 0.825 A.
    let low = constant.transmitting(feed(7.4, 1.0), 0.25, 1.0);
    near(low.current, 0.825);
    assert!(!low.is_limiting && constant.drive(feed(7.4, 1.0), 0.25).is_some());
}

#[test]
fn a_unit_that_rests_draws_little() {
    let rests = circuit(0.1, false, None);
    assert_eq!(rests.resting(feed(0.0, 3.0)).current, 0.0);
    let fed = rests.resting(feed(7.4, 3.0));
    near(fed.unit, 7.385);
    near(fed.current, 0.15);
    let starved = rests.resting(feed(7.4, 0.1));
    assert_eq!((starved.current, starved.is_limiting), (0.1, true));
    assert!(!rests.works(feed(7.4, 0.1)));
}
