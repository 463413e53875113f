//! Supply, cable and unit against circuits solved by hand.

use proptest::prelude::*;

use super::*;

fn circuit(cable: f64, senses_unit: bool, nominal: Option<f64>) -> Circuit {
    let amplifier = nominal.map_or(Amplifier::Constant, |nominal| Amplifier::Resistor { nominal });
    Circuit { cable, senses_unit, amplifier, full: KEYED - RECEIVING, works_from: 5.0 }
}

fn regulated(cable: f64, from: f64) -> Circuit {
    Circuit { amplifier: Amplifier::Regulated { from }, ..circuit(cable, false, None) }
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
    let constant = circuit(0.2, false, None).transmitting(feed(7.4, 3.0), 1.0);
    near(constant.unit, 7.1);
    near(constant.sensed, 7.4);
    let sensed = circuit(0.2, true, None).transmitting(feed(7.4, 3.0), 1.0);
    near(sensed.unit, 7.4);
    near(sensed.sensed, 7.4);
    // An amplifier of 1.35 A at 7.4 V is 5.481 ohm: (7.4 - 0.2 · 0.15) / (1 + 0.2 / 5.481) V are left to it.
    let following = circuit(0.2, false, Some(7.4)).transmitting(feed(7.4, 3.0), 1.0);
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
    let limited = following.transmitting(feed(7.4, 1.2), 1.0);
    near(limited.sensed, 7.4 * 7.0 / 9.0);
    near(limited.current, 1.2);
    assert!(limited.is_limiting);
    near(10.0 * following.drive(feed(7.4, 1.2), 1.0).unwrap().log10(), 20.0 * (7.0f64 / 9.0).log10());
    // At 0.9 A it is 7.4 · 0.75 / 1.35 = 4.11 V: too little.
    assert_eq!(following.drive(feed(7.4, 0.9), 1.0), None);
    let constant = circuit(0.0, false, None);
    assert_eq!((constant.drive(feed(7.4, 1.5), 1.0), constant.drive(feed(7.4, 1.0), 1.0)), (Some(1.0), None));
    let collapsed = constant.transmitting(feed(7.4, 1.0), 1.0);
    assert_eq!((collapsed.sensed, collapsed.current, collapsed.is_limiting), (5.0, 1.0, true));
    // A quarter of the power takes half of the amplifier's current: 0.825 A.
    let low = constant.transmitting(feed(7.4, 1.0), 0.25);
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

/// Flat down to 6.5 V, then (V / 6.5)²: 6 V are 20 log10(6 / 6.5) = -0.695 dB, and 0.15 A + 1.35 A · 6 / 6.5.
#[test]
fn a_regulated_amplifier_gives_the_same_from_there_on() {
    let bare = regulated(0.0, 6.5);
    for volts in [6.5, 7.4, 8.4] {
        assert_eq!(bare.drive(feed(volts, 3.0), 1.0), Some(1.0), "{volts} V");
        near(bare.transmitting(feed(volts, 3.0), 1.0).current, 1.5);
    }
    near(10.0 * bare.drive(feed(6.0, 3.0), 1.0).unwrap().log10(), 20.0 * (6.0f64 / 6.5).log10());
    near(bare.transmitting(feed(6.0, 3.0), 1.0).current, 0.15 + 1.35 * 6.0 / 6.5);
    // Through 0.2 ohm and 1.5 A, 6.8 V are the last that leave it 6.5 V; at 6.7 V it is the resistor of 6.5 V / 1.35 A.
    let far = regulated(0.2, 6.5);
    assert_eq!(far.drive(feed(6.81, 3.0), 1.0), Some(1.0));
    let sloping = far.transmitting(feed(6.7, 3.0), 1.0);
    near(sloping.unit, (6.7 - 0.2 * 0.15) / (1.0 + 0.2 * 1.35 / 6.5));
    // At 1.2 A it has 1.05 of its 1.35 A, as the resistor that it is below its regulator's voltage: 5.056 V.
    let limited = far.transmitting(feed(7.4, 1.2), 1.0);
    near(limited.unit, 6.5 * 1.05 / 1.35);
    near(limited.sensed, 6.5 * 1.05 / 1.35 + 0.2 * 1.2);
}

/// A unit of 25 W must take more than 1.35 A: 25 W / 0.85 at the lowest voltage that gives full power.
#[test]
fn much_power_takes_much_current() {
    let behaviour = |keys: &str| {
        let text = crate::bench::tests::WHOLE
            .replace("      rise: 20 ms", &format!("      rise: 20 ms\n      {keys}"))
            .replace("high: 4.7 W", "high: 25 W");
        let bench = crate::bench::tests::read(&text).unwrap();
        let truth = bench.first_unit();
        let supply = bench.supply.as_ref().unwrap();
        let circuit = Circuit::new(supply, &truth.behaviour, truth.works_from.get(), 25.0);
        circuit.transmitting(feed(7.4, 20.0), 1.0).current
    };
    near(behaviour("works_from: 5 V"), 0.15 + 25.0 / (0.85 * 5.0));
    near(behaviour("power_follows_supply: true"), 0.15 + 25.0 / (0.85 * 7.4));
    near(behaviour("power_follows_supply: true\n      regulated_above: 6.5 V"), 0.15 + 25.0 / (0.85 * 6.5));
}

fn any_circuit() -> impl Strategy<Value = (Circuit, f64)> {
    let amplifier = prop_oneof![
        Just(Amplifier::Constant),
        (3.0..15.0).prop_map(|nominal| Amplifier::Resistor { nominal }),
        (3.0..15.0).prop_map(|from| Amplifier::Regulated { from }),
    ];
    let rest = (amplifier, 0.0..1.0, any::<bool>(), 1.0..12.0, 0.1..60.0);
    rest.prop_map(|(amplifier, cable, senses_unit, works_from, watts): (Amplifier, f64, bool, f64, f64)| {
        let least = watts / (MOST_EFFICIENT * amplifier.full_from(works_from));
        let full = least.max(KEYED - RECEIVING);
        (Circuit { cable, senses_unit, amplifier, full, works_from }, watts)
    })
}

proptest! {
    /// Ohm's law of the cable, the limit, no more than the set voltage, and no more power out than in.
    #[test]
    fn the_circuit_is_one(
        (circuit, watts) in any_circuit(),
        volts in 0.0..20.0,
        limit in 0.0..20.0,
        part in 0.0..=1.0,
    ) {
        let feed = feed(volts, limit);
        let found = circuit.transmitting(feed, part);
        prop_assert!(found.current <= limit + SAME || volts <= 0.0, "{found:?}");
        prop_assert!(found.sensed <= volts + 1e-9 && found.sensed.is_finite(), "{found:?}");
        prop_assert!(found.is_limiting || (found.sensed - volts).abs() < 1e-9, "{found:?}");
        if found.unit > 0.0 {
            let cable = if circuit.senses_unit { 0.0 } else { circuit.cable };
            prop_assert!((found.sensed - found.unit - cable * found.current).abs() < 1e-9, "{found:?}");
            prop_assert!(found.unit >= circuit.works_from);
            let driven = circuit.amplifier.driven(found.unit);
            let amplifier = circuit.full * part.sqrt() * driven;
            prop_assert!((found.current - RECEIVING - amplifier).abs() < 1e-6, "{found:?}");
            let out = watts * part * circuit.drive(feed, part).unwrap();
            prop_assert!(out <= MOST_EFFICIENT * amplifier * found.unit * (1.0 + 1e-9) + 1e-9, "{out} W");
        }
    }

    /// More voltage is never less power.
    #[test]
    fn power_rises_with_the_voltage((circuit, _) in any_circuit(), volts in 1.0..20.0, more in 0.0..2.0) {
        let drive = |volts| circuit.drive(feed(volts, 100.0), 1.0).unwrap_or(0.0);
        prop_assert!(drive(volts + more) >= drive(volts) - 1e-12);
    }
}
