//! Reading a bench: a whole one, the shortest one, and slips.

use spurline_document::Document;
use spurline_units::{Db, Hertz};

use super::*;

/// A bench with everything on it, for all tests of this crate.
pub(crate) const WHOLE: &str = include_str!("../../tests/bench.yaml");

/// Reads the node under `simulated:`.
pub(crate) fn read(text: &str) -> Result<SimulatedBench, String> {
    let document = Document::parse("bench.yaml", text).map_err(|m| m.to_string())?;
    let mut reader = Reader::new(&document);
    let bench = reader.fields(&document.root, "a bench").and_then(|mut fields| {
        let node = fields.required(&mut reader, "simulated")?;
        SimulatedBench::read(&mut reader, node)
    });
    reader.finish(bench).map_err(|mistakes| mistakes.to_string())
}

#[test]
fn a_whole_bench_reads() {
    let bench = read(WHOLE).unwrap();
    assert_eq!((bench.seed(), bench.pace()), (7, Pace::Fast));
    assert_eq!(bench.unit(), UnitLabel { model: "FH-2", serial: "FH2-0001", firmware: "1.0.3" });
    assert!(Role::ALL.iter().all(|role| bench.has(*role)));
    let unit = bench.first_unit();
    let third = |carrier, power| {
        unit.harmonics(Hertz::from_mhz(carrier), power).into_iter().find(|(order, _)| *order == 3).unwrap().1
    };
    assert_eq!(third(147.8, "HIGH").get(), 49.0);
    assert_eq!((third(147.8, "low").get(), third(144.2, "high").get()), (68.0, 68.0));
    assert_eq!(bench.analyser.as_ref().unwrap().distortion_phase, [(2, 40f64.to_radians())]);
    assert_eq!(bench.path.parts().count(), 6);
}

#[test]
fn a_unit_is_enough() {
    let text = "simulated:\n  units:\n    - { model: M, serial: S, firmware: F, range: 1..2 MHz, powers: { on: 1 W } }\n";
    let bench = read(text).unwrap();
    assert!(!bench.has(Role::Analyser) && bench.has(Role::UnitControl));
}

#[test]
fn a_part_that_nothing_switches_is_a_mistake() {
    let mistakes =
        read(&WHOLE.replace("  switch: { channels: 4 }\n", "  switch: { channels: 1 }\n")).unwrap_err();
    assert!(mistakes.contains("nothing switches the part `notch-2m`"), "{mistakes}");
    let mistakes = read(&WHOLE.replace("quality: 10", "quality: 0")).unwrap_err();
    assert!(mistakes.contains("expected a quality factor from 0.5 to 1000, found `0`"), "{mistakes}");
}

#[test]
fn slips_are_named_all_at_once() {
    let text = WHOLE
        .replace("rise: 20 ms", "raise: 20 ms")
        .replace("vswr: 1.3", "vswr: 0.3")
        .replace("second_intercept: 45 dBm", "second_intercept: 45 dB")
        .replace("name: splitter-2", "name: splitter-1")
        .replace("cut-link", "cut-lnk")
        .replace("2: 40 deg", "2: 40");
    let mistakes = read(&text).unwrap_err();
    for part in [
        "`raise` is not a key of a unit",
        "standing wave ratio from 1 to 100, found `0.3`",
        "`dB` is not a unit of a level in dBm",
        "two parts are named `splitter-1`",
        "did you mean `cut-link`?",
        "expected an angle with its unit, found the bare number `40`",
    ] {
        assert!(mistakes.contains(part), "{part}\n{mistakes}");
    }
}

/// A bench with everything that a unit, a path and their surroundings can do.
const UNIT: &str = include_str!("../../tests/unit.yaml");

#[test]
fn a_unit_with_everything_reads() {
    let bench = read(UNIT).unwrap();
    let unit = bench.first_unit();
    assert_eq!((unit.spurs.len(), unit.receiver.len()), (3, 2));
    let inhibited = [
        Inhibited::Silent,
        Inhibited::ComesAt(Place::At(Hertz::from_mhz(146.52))),
        Inhibited::ComesAt(Place::Last),
        Inhibited::LetsThrough(Db::new(40.0)),
    ];
    assert!(unit.inhibited.iter().map(|inhibit| inhibit.does).eq(inhibited));
    assert_eq!(unit.receiver[1].place, OscillatorPlace::Offset(-21.4e6));
    assert_eq!(unit.modulation.fm.map(|swing| swing.index()), Some(2.5));
    assert!(bench.supply.as_ref().is_some_and(|supply| supply.senses_unit));
    assert_eq!(bench.ambient.iter().filter(|line| line.is_passing()).count(), 1);
}

#[test]
fn what_no_unit_can_do_is_refused() {
    for (from, to, mistake) in [
        (
            "tone: 1 kHz",
            "tone: 10 Hz",
            "expected a deviation of at most 50 times the tone, found 2.5 kHz at 10 Hz",
        ),
        ("tone: 400 Hz", "tone: 0 Hz", "expected more than 0 Hz, found 0 Hz"),
        ("depth: 30 %", "depth: 130 %", "expected a depth from 0 % to 100 %, found 130 %"),
        ("on: 30 ms", "on: 90 ms", "expected a burst of at most its period, found 90 ms in 60 ms"),
        ("period: 60 ms", "period: 60 us", "expected at least 1 ms, found 60 us"),
        ("{ offset: 12.5 kHz,", "{ offset: 12.5 kHz, frequency: 1 MHz,", "found more than one"),
        ("{ offset: 12.5 kHz,", "{ offset: -12.5 kHz,", "a frequency"),
        ("offset: -21.4 MHz", "offset: -+21.4 MHz", "expected an offset such as `-21.4 MHz`"),
        ("offset: -21.4 MHz", "offset: -21.4", "found the bare number `21.4`"),
        ("share_of_carrier: 0.5", "share_of_carrier: 0", "from 0.01 to 10, found `0`"),
        ("within: 20 s", "within: 0 s", "expected more than 0 s, found 0 s"),
        ("regulated_above: 6.5 V", "regulated_above: 7.5 V", "at most the nominal 7.4 V, found 7.5 V"),
        (
            "power_follows_supply: true",
            "power_follows_supply: false",
            "expected `power_follows_supply: true`",
        ),
        ("sags: 0.2 dB", "sags: -0.2 dB", "expected at least 0.00 dB, found -0.20 dB"),
        ("folds_back_beyond: 2", "folds_back_beyond: 0.5", "from 1 to 100, found `0.5`"),
        ("until: 9 s", "until: 2 s", "expected an ambient line that ends after 2 s, found one until 2 s"),
        (
            "level: { within: 0.1 dB",
            "level_spread: 0.1 dB\n    level: { within: 0.1 dB",
            "expected one of the keys `level` and `level_spread`, found both",
        ),
        ("within: 0.07 dB", "within: -0.07 dB", "expected at least 0.00 dB, found -0.07 dB"),
        ("reconnection: 0.03 dB", "reconnection: -0.03 dB", "expected at least 0.00 dB"),
        ("comes_at: last", "comes_at: first", "expected `last` or a frequency, found `first`"),
        ("comes_at: last", "comes_at: 0 Hz", "expected more than 0 Hz, found 0 Hz"),
        ("comes_at: last", "comes_at: last, lets_through: 3 dB", "found more than one"),
        ("range: 400 MHz..406 MHz, comes_at: last", "range: 400 MHz..406 MHz", "`lets_through`"),
        ("lets_through: 40 dB", "lets_through: 0 dB", "expected more than 0.00 dB, found 0.00 dB"),
        ("senses: unit", "senses: terminals", "expected where the voltage is sensed"),
    ] {
        assert!(UNIT.contains(from), "{from}");
        let mistakes = read(&UNIT.replacen(from, to, 1)).unwrap_err();
        assert!(mistakes.contains(mistake), "{mistake}\n{mistakes}");
    }
    let line = "    - { frequency: 1 MHz, level: -90 dBm, from: 1 s }\n";
    let many = UNIT.replace("  leak:", &format!("{}  leak:", line.repeat(64)));
    assert!(
        read(&many).unwrap_err().contains("expected at most 64 ambient lines that come and go, found 65")
    );
}
