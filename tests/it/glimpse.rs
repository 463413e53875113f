//! Where no power setting is lower, the first key-down of a run is as short as one can be, and shows the path.

use spurline_record::{EventKind, ReasonCode};
use spurline_sequencer::RunFault;
use spurline_tests::interlocked::{Trial, Tried};

use crate::bench::{Workshop, plan, simulated_bench};

fn bench(more: &[(&str, &str)]) -> String {
    more.iter().fold(simulated_bench(2, ""), |text, (from, to)| {
        assert!(text.contains(from), "`{from}` is not in:\n{text}");
        text.replace(from, to)
    })
}

/// The same without a power meter.
fn alone(more: &[(&str, &str)]) -> String {
    let starts = ["power_meter:", "  power_meter:"];
    let kept = |line: &&str| !starts.iter().any(|start| line.starts_with(start));
    bench(more).lines().filter(kept).map(|line| format!("{line}\n")).collect()
}

fn tried(bench: String) -> Tried {
    Trial::new(plan("146 MHz", 2), bench).run().unwrap()
}

fn held(tried: &Tried) -> Vec<f64> {
    let held = |kind: &EventKind| if let EventKind::KeyUp { held } = kind { Some(held.get()) } else { None };
    tried.events.iter().filter_map(|event| held(&event.kind)).collect()
}

/// At 0 dBm the carrier stands 43 dB above the noise behind all of the 50 dB that the analyser has.
#[test]
fn the_first_key_down_is_a_glimpse_with_all_the_attenuation() {
    let tried = tried(bench(&[]));
    assert!(tried.fault.is_none(), "{:?}", tried.fault);
    let held = held(&tried);
    assert!(held.len() == 2 && held[0] <= 1.2 && held[1] > held[0], "{held:?}");
    let told = tried.events.iter().any(|event| match &event.kind {
        EventKind::Note(note) => note.starts_with("a glimpse of `high` has shown the path: power meter"),
        _ => false,
    });
    assert!(told, "{:#?}", tried.events);
    let keyed = tried.sent.iter().position(|(_, text)| text.contains("CLOS (@")).unwrap();
    let set = tried.sent[keyed..].iter().filter(|(link, _)| link == "analyser");
    let set: Vec<&str> =
        set.filter_map(|(_, text)| text.split("INP:ATT ").nth(1)?.split(&[';', '\n'][..]).next()).collect();
    assert_eq!(set.iter().position(|attenuation| *attenuation == "50"), Some(0), "{set:?}");
    assert_eq!(set.iter().filter(|attenuation| **attenuation == "50").count(), 1, "{set:?}");
}

/// What `check` foretells of it is what is done, and its rest is three times as long as it was, not `key.rest`.
#[test]
fn check_foretells_it() {
    let workshop = Workshop::with(&plan("146 MHz", 2), &bench(&[]));
    let foretold = workshop.call(&["check", "plan.yaml", "--json"]).json();
    let slots = foretold["timetable"].as_array().unwrap();
    let of = |place: usize, key: &str| slots[place][key].as_f64().unwrap();
    assert_eq!(slots.len(), 2, "{slots:#?}");
    assert!(of(0, "keyed_s") <= 1.2 + 1e-9, "{slots:#?}");
    let rest = of(1, "at_s") - of(0, "at_s") - of(0, "keyed_s");
    assert!((rest - 3.0 * of(0, "keyed_s")).abs() < 1e-6, "more than the looks before it take: {slots:#?}");
    let ran = workshop.call(&["run", "plan.yaml", "--json"]).json();
    assert_eq!(ran["keyed"]["count"], 2);
    let rested = ran["keyed"]["least_rest_s"].as_f64().unwrap();
    assert!(rested > 1.5 && rested < rest + 1.0, "{rested} s");
    // Where a lower power shows the path, or nothing is to show it, there is none.
    let lower = plan("146 MHz", 2).replace("{ high: 4..5.5 W }", "{ high: 4..5.5 W, low: 0.5..1.5 W }");
    let aside = bench(&[]) + "verify_path: false\n";
    let low = bench(&[("powers: { high: 4.7 W }", "powers: { high: 4.7 W, low: 1 W }")]);
    for (plan, bench, downs) in [(lower, low, 2), (plan("146 MHz", 2), aside, 1)] {
        let workshop = Workshop::with(&plan, &bench);
        let foretold = workshop.call(&["check", "plan.yaml", "--json"]).json();
        assert_eq!(foretold["timetable"].as_array().unwrap().len(), downs);
        assert_eq!(workshop.call(&["run", "plan.yaml", "--json"]).json()["keyed"]["count"], downs);
    }
}

/// A pad of 24 dB instead of 30 dB before both instruments: they agree, and are 6 dB above what the unit gives.
#[test]
fn a_path_that_is_not_what_its_tables_say_gets_one_glimpse_and_no_more() {
    let wrong = [
        (bench(&[("pad: 30 dB", "pad: 24 dB")]), "where no unit gives more than"),
        (alone(&[("pad: 30 dB", "pad: 24 dB")]), "where no unit gives more than"),
        (alone(&[("pad: 30 dB", "pad: 44 dB")]), "where a unit gives"),
        (bench(&[("{ name: splitter, pad: 6 dB", "{ name: splitter, pad: 12 dB")]), "differ by"),
        (
            bench(&[("{ name: splitter, pad: 6 dB", "{ name: splitter, pad: 60 dB")]),
            "and the analyser nothing",
        ),
    ];
    for (bench, words) in wrong {
        let tried = tried(bench);
        match &tried.fault {
            Some(RunFault::PathChanged { what, .. }) => assert!(what.contains(words), "{words}: {what}"),
            other => panic!("{words}: {other:?}"),
        }
        let held = held(&tried);
        assert!(held.len() == 1 && held[0] < 2.0, "{words}: {held:?}");
    }
    let workshop = Workshop::with(&plan("146 MHz", 2), &bench(&[("pad: 30 dB", "pad: 24 dB")]));
    let called = workshop.call(&["run", "plan.yaml"]);
    assert_eq!(called.exit, 4, "{called:?}");
    assert!(called.talk.contains("nothing more was keyed"), "{called:?}");
}

/// A unit outside its window is to be judged, not a path to be suspected: half and 1.7 times what the window allows.
#[test]
fn a_unit_outside_its_window_is_measured() {
    for power in ["2.4 W", "8 W"] {
        for bench in [
            bench(&[("high: 4.7 W", &format!("high: {power}"))]),
            alone(&[("high: 4.7 W", &format!("high: {power}"))]),
        ] {
            let tried = tried(bench);
            assert!(tried.fault.is_none(), "{power}: {:?}", tried.fault);
            assert_eq!(held(&tried).len(), 2, "{power}");
        }
    }
}

/// No carrier comes: nothing is keyed for longer, and every reading says why.
#[test]
fn without_a_carrier_there_is_nothing_but_the_glimpse() {
    for bench in [bench(&[("high: 4.7 W", "high: 1 pW")]), alone(&[("high: 4.7 W", "high: 1 pW")])] {
        let tried = tried(bench);
        assert!(tried.fault.is_none(), "{:?}", tried.fault);
        assert_eq!(held(&tried).len(), 1);
        let codes: Vec<ReasonCode> = tried
            .events
            .iter()
            .filter_map(|event| match &event.kind {
                EventKind::ReadingFinished(reading) => reading.reason.as_ref().map(|reason| reason.code),
                _ => None,
            })
            .collect();
        assert_eq!(codes, [ReasonCode::NotKeyed, ReasonCode::CarrierInvalid]);
    }
}
