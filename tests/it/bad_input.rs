//! Bad input: a clear error with its place, and nothing keyed.

use crate::bench::{Called, PARTS, Workshop, instruments, plan, simulated, simulated_bench};

fn refused(plan: &str, bench: &str) -> Called {
    let workshop = Workshop::with(plan, bench);
    let called = workshop.call(&["run", "plan.yaml"]);
    assert_eq!(called.exit, 2, "{called:?}");
    assert!(!called.talk.contains("KEY DOWN") && called.out.is_empty(), "{called:?}");
    called
}

#[track_caller]
fn says(called: &Called, texts: &[&str]) {
    for text in texts {
        assert!(called.talk.contains(text), "`{text}` is not in:\n{}", called.talk);
    }
}

fn good_plan() -> String {
    plan("146 MHz", 3)
}

fn good_bench() -> String {
    simulated_bench(1, "")
}

#[test]
fn an_unknown_key_is_a_mistake() {
    let plan = good_plan().replace("measure:", "mesure:");
    let called = refused(&plan, &good_bench());
    says(&called, &["`mesure` is not a key of a plan", "plan.yaml:6:1", "did you mean `measure`?"]);
}

#[test]
fn units_are_not_guessed() {
    let called = refused(&plan("146 Mhz", 3), &good_bench());
    says(&called, &["`Mhz` is not a unit of a frequency", "did you mean `MHz`?", "plan.yaml:5"]);
    let called = refused(&plan("146 mHz", 3), &good_bench());
    says(&called, &["`mHz` is not a unit of a frequency", "did you mean `MHz`?"]);
    let called = refused(&plan("146", 3), &good_bench());
    says(&called, &["expected a frequency with its unit, found the bare number `146`"]);
}

#[test]
fn a_missing_file_is_named() {
    let called = refused(&good_plan().replace("bench.yaml", "gone.yaml"), &good_bench());
    says(&called, &["cannot read `gone.yaml`", "plan.yaml:2:8"]);
    let bench = good_bench().replace("{ attenuator: 30 dB, over: 1 MHz..3.2 GHz,", "{ attenuator: gone.s2p,");
    let called = refused(&good_plan(), &bench);
    says(&called, &["gone.s2p", "bench.yaml:6"]);
}

#[test]
fn an_overrated_part_is_refused() {
    let called = refused(&good_plan(), &good_bench().replace("rated: 25 W", "rated: 2 W"));
    says(&called, &["would put 5.50 W into `pad`, which is rated for 2 W", "bench.yaml:6"]);
}

/// The plan expects 5.5 W at most, which the pad bears, and the unit gives 40 W.
#[test]
fn more_than_a_part_bears_brings_the_key_up_and_ends_the_run() {
    let bench = good_bench().replace("high: 4.7 W", "high: 40 W");
    let workshop = Workshop::with(&good_plan(), &bench);
    let called = workshop.call(&["run", "plan.yaml"]);
    assert_eq!(called.exit, 4, "{called:?}");
    says(
        &called,
        &["is more than the bench bears", "W goes into `pad`, which is rated for 25 W", "key up after"],
    );
    let document = workshop.call(&["show", "last", "--json"]).json();
    assert_eq!(document["readings"].as_array().unwrap().len(), 0, "the glimpse saw it: nothing was measured");
    assert_eq!(document["key_downs"].as_array().unwrap().len(), 1);
}

/// The unit does not know the second setting: that is found out before the first one is keyed.
#[test]
fn what_the_unit_refuses_is_known_before_anything_is_keyed() {
    let plan = good_plan().replace("{ high: 4..5.5 W }", "{ high: 4..5.5 W, eco: 1..2 W }");
    let called = Workshop::with(&plan, &good_bench()).call(&["run", "plan.yaml"]);
    assert_eq!(called.exit, 4, "{called:?}");
    says(
        &called,
        &["the unit cannot be set to `one` at `eco`", "does it know the power setting by this name?"],
    );
    assert!(!called.talk.contains("KEY DOWN"), "{called:?}");
}

#[test]
fn too_much_for_the_analyser_is_refused() {
    let bench = good_bench().replace("attenuator: 30 dB", "attenuator: 3 dB");
    let called = refused(&good_plan(), &bench);
    says(&called, &["analyser's input", "dB below what destroys it", "bench.yaml:"]);
}

#[test]
fn a_level_that_the_power_meter_does_not_read_is_refused() {
    let plan = good_plan().replace("4..5.5 W", "0.5..5.5 mW");
    let called = refused(&plan, &good_bench());
    says(&called, &["would bring -39.0 dBm to the power meter, which reads -30..20 dBm", "bench.yaml:3"]);
}

#[test]
fn a_distress_frequency_is_never_keyed() {
    let called = refused(&plan("156.8 MHz", 3), &good_bench());
    says(&called, &["kept for distress and safety"]);
}

#[test]
fn every_mistake_is_told_at_once() {
    let plan = good_plan()
        .replace("measure:", "mesure:")
        .replace("146 MHz", "146 mHz")
        .replace("4..5.5 W", "6..4 W");
    let called = refused(&plan, &good_bench().replace("contact: 1", "contact: 0"));
    says(&called, &["mesure", "mHz", "ends below its start", "the number of a contact"]);
}

#[test]
fn the_wrong_instrument_is_not_used() {
    let bench = [instruments(25_025, "A-9999"), PARTS.to_owned(), simulated(1, "")].concat();
    let workshop = Workshop::with(&good_plan(), &bench);
    let called = workshop.call(&["run", "plan.yaml"]);
    assert_eq!(called.exit, 4, "{called:?}");
    says(&called, &["expected the analyser with serial number `A-9999`", "found `A-0001`"]);
    assert!(!called.talk.contains("KEY DOWN"));
}

#[test]
fn nobody_at_the_address_is_said() {
    // Port 1 is reserved, and nobody listens there.
    let bench = [instruments(1, "A-0001"), PARTS.to_owned()].concat();
    let workshop = Workshop::with(&good_plan(), &bench);
    let called = workshop.call(&["run", "plan.yaml"]);
    assert_eq!(called.exit, 4, "{called:?}");
    says(&called, &["cannot connect to 127.0.0.1:4", "refused", "is it switched on"]);
    assert!(!called.talk.contains("KEY DOWN"));
}

#[test]
fn no_bench_is_said() {
    let workshop = Workshop::with(&good_plan().replace("bench: bench.yaml\n", ""), "");
    let called = workshop.call(&["run", "plan.yaml"]);
    assert_eq!(called.exit, 2);
    says(&called, &["no bench", "--bench FILE"]);
}

/// Every command with what is not there: what, and what to do.
#[test]
fn what_is_not_there_is_told_with_the_next_step() {
    let workshop = Workshop::with(&good_plan(), &good_bench());
    for (arguments, told) in [
        (&["run", "gone.yaml"][..], "`spurline new` writes a file to begin with"),
        (&["check", "gone.yaml"], "from the folder that you are in"),
        (&["prove", "gone.yaml"], "the plan or bench cannot be read"),
        (&["sim", "gone.yaml"], "the plan or bench cannot be read"),
        (&["serve", "gone.yaml"], "name the file of a service"),
        (&["serve", "."], "name the file of a service"),
        (&["show", "last"], "measure something first"),
        (&["judge", "last"], "measure something first"),
        (&["verify", "last"], "measure something first"),
        (&["resume", "last"], "measure something first"),
        (&["lockdown", "last"], "measure something first"),
        (&["identify", "nonsense"], "write `TCPIP::"),
        (&["import", "gone"], "name a file that `spurline export` wrote"),
        (&["run", "plan.yaml", "--firmware", ""], "--firmware: expected a text, found nothing"),
        (&["run", "plan.yaml", "--firmware", "  "], "--firmware: expected a text, found nothing"),
        (&["run", "plan.yaml", "--unit", " "], "--unit: expected a text, found nothing"),
    ] {
        let called = workshop.call(arguments);
        assert_eq!(called.exit, 2, "{arguments:?}: {called:?}");
        let flat = called.talk.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(flat.contains(told) && flat.contains(" help: "), "{arguments:?}: {called:?}");
        assert!(!workshop.path("data").exists(), "{arguments:?} made a record");
    }
}

/// A record that has a proof of a bench and no run yet.
#[test]
fn a_record_that_holds_no_run_says_so() {
    let workshop = Workshop::new();
    let bench = crate::bench::root().join("config/benches/with-generator.yaml");
    assert_eq!(workshop.call(&["prove", bench.to_str().unwrap()]).exit, 0);
    let called = workshop.call(&["runs"]);
    assert_eq!((called.exit, called.out.as_str()), (0, ""), "{called:?}");
    says(&called, &["the record holds no run", "`spurline run PLAN`"]);
}
