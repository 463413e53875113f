//! The bench over time: key, ramp, supply, and what arrives where.

mod around;
mod keyed;

use std::time::Duration;

use super::*;
use crate::bench::tests::{WHOLE, read};
use crate::physics::line::Line;

fn moment() -> Moment {
    spurline_clock::run(spurline_clock::Pace::Fast, |clock| async move { clock.now() }).unwrap()
}

fn world(text: &str) -> (World, Moment) {
    let now = moment();
    (World::new(&read(text).unwrap(), false, now), now)
}

fn on_battery() -> String {
    WHOLE.replace("  supply: {}\n", "")
}

/// The bench without a supply, its unit with more keys.
fn unit_with(keys: &str) -> String {
    on_battery().replace("      rise: 20 ms\n", &format!("      rise: 20 ms\n      {keys}\n"))
}

/// The level of the one line at a frequency, if there is any.
fn level(lines: &[Line], mhz: f64) -> Option<f64> {
    let found = lines.iter().find(|line| (line.frequency.mhz() - mhz).abs() < 1e-6);
    found.map(|line| line.power.to_dbm().get())
}

#[test]
fn the_unit_comes_up_and_goes_down() {
    let (world, now) = world(&on_battery());
    let at = |ms| now.after(Duration::from_millis(ms));
    world.tune(at(0), Hertz::from_mhz(145.0));
    world.set_key(at(100), true, None);
    world.set_key(at(500), false, None);
    let share = |ms| world.emission(at(ms)).map(|e| e.share);
    assert_eq!((share(99), share(500)), (None, None));
    // Half the rise of 20 ms: sin²(45°).
    assert!((share(110).unwrap() - 0.5).abs() < 1e-12);
    assert_eq!(share(120), Some(1.0));
    let seen = world.observed(at(900));
    assert_eq!(seen.longest_key_down, Duration::from_millis(400));
    assert_eq!(seen.key_history.len(), 2);
    assert!(!seen.keyed && !seen.transmitting && seen.analyser_damaged.is_none());
}

#[test]
fn a_timed_contact_opens_by_itself_and_can_be_renewed() {
    let (world, now) = world(&on_battery());
    let at = |ms| now.after(Duration::from_millis(ms));
    let second = Some(Seconds::new(1.0));
    world.set_key(at(0), true, second);
    world.set_key(at(800), true, second);
    assert!(world.observed(at(1799)).keyed && !world.observed(at(1800)).keyed);
    assert_eq!(world.observed(at(5000)).longest_key_down, Duration::from_millis(1800));
}

#[test]
fn without_supply_it_cannot_transmit() {
    let (world, now) = world(WHOLE);
    let at = |ms| now.after(Duration::from_millis(ms));
    world.set_key(at(0), true, None);
    assert!(world.emission(at(100)).is_none());
    assert_eq!(world.terminals(at(100)), Some(Terminals::default()));
    world.set_supply(at(200), Volts::new(7.4), Amperes::new(2.5));
    assert_eq!(world.emission(at(210)).map(|e| e.share < 0.6), Some(true));
    assert_eq!(world.terminals(at(300)).map(|t| (t.sensed, t.current)), Some((7.4, 1.5)));
    // A limit below what it draws pulls the voltage down.
    world.set_supply(at(400), Volts::new(7.4), Amperes::new(1.0));
    assert!(world.emission(at(500)).is_none());
}

/// The carrier of 4.7 W, the pads, the splitter and the cable of the bench file add up to within their mismatch:
/// limits 20 log10(1 ± |G1||G2|) summed over all pairs of neighbours stay below 0.4 dB.
#[test]
fn what_leaves_the_unit_arrives_less_the_path() {
    let (world, now) = world(&on_battery());
    world.tune(now, Hertz::from_mhz(145.0));
    let emission = Emission::transmitting(world.setting(now), 1.0, 1.0);
    let lines = world.lines(Port::Analyser, Some(emission), Contacts::default());
    let level = |mhz| level(&lines, mhz).unwrap();
    let carrier = 10.0 * 4700f64.log10();
    let loss = |mhz: f64| 30.0 + 0.2 * mhz / 1000.0 + 6.0 + 0.5 * (mhz / 1000.0).sqrt();
    assert!((level(145.0) - (carrier - loss(145.0))).abs() < 0.4, "{}", level(145.0));
    // The unit reflects half the voltage at its harmonics: 20 log10(1 + 0.5 · 0.048) more room.
    assert!((level(290.0) - (carrier - 62.0 - loss(290.0))).abs() < 0.6, "{}", level(290.0));
    assert_eq!(level(433.92), -95.0);
    assert!(lines.iter().all(|l| l.frequency.mhz() < 726.0), "orders that are not named are absent");
    assert_eq!(world.lines(Port::PowerMeter, None, Contacts::default()), []);
}

/// A notch of 40 dB and 0.2 dB of its own reflects 0.99. Before it a splitter reflects 0.07, behind it a cable 0.048
/// and the analyser 0.167: together they move the carrier by up to 20 log10(1 - 0.99 · 0.285), 2.9 dB.
#[test]
fn a_contact_brings_a_part_in_and_out() {
    let (world, now) = world(&on_battery());
    let at = |ms| now.after(Duration::from_millis(ms));
    world.tune(at(0), Hertz::from_mhz(145.0));
    world.set_contact(at(10), 2, true, None);
    world.set_contact(at(20), 2, false, None);
    let emission = Emission::transmitting(world.setting(at(0)), 1.0, 1.0);
    let line = |ms, port, order: usize| {
        world.lines(port, Some(emission), world.contacts(at(ms)))[order - 1].power.to_dbm().get()
    };
    assert!((line(0, Port::Analyser, 1) - line(10, Port::Analyser, 1) - 40.2).abs() < 2.9);
    // At twice its frequency and a quality of 10 it passes all but 0.02 dB (scikit-rf 2.2.0).
    assert!((line(0, Port::Analyser, 2) - line(10, Port::Analyser, 2) - 0.2).abs() < 0.4);
    assert_eq!(line(0, Port::Analyser, 1), line(20, Port::Analyser, 1));
    assert_eq!(line(0, Port::PowerMeter, 1), line(10, Port::PowerMeter, 1));
    assert_eq!(world.changes(at(0), at(30)), [at(10), at(20)]);
}
