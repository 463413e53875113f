//! Reading a bench: a whole one, the shortest one, and slips.

use spurline_document::Document;
use spurline_units::Hertz;

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
