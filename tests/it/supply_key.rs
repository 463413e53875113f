//! The output of a supply is the key.

use spurline_tests::interlocked::Trial;

use crate::bench::{PARTS, Workshop, instruments, plan, root, simulated};
use crate::keyholder::{holder_of, kill, log, milliseconds, now, up_after};
use crate::processes::{Serving, running_keyed};

fn key(port: u16) -> String {
    format!(
        "key: {{ supply_output: {{ at: \"TCPIP::127.0.0.1::{port}::SOCKET\", profile: supply-generic, set: 12 V, limit: 0.2 A }} }}"
    )
}

/// Short key-downs, and the timer of a unit that nobody else would bring up.
fn timed() -> String {
    [plan("146 MHz", 3), "key: { longest: 4 s, rest: 1 s, own_timer: 60 s }\n".to_owned()].concat()
}

fn served() -> (Workshop, Serving) {
    let workshop = Workshop::with(&timed(), "");
    let serving = Serving::keyed_by_supply(&workshop, "  supply: {}\n  key_log: key.log\n", key);
    (workshop, serving)
}

#[test]
fn a_supply_keys_a_bench_in_this_process_and_its_messages_are_replayed() {
    let bench = root().join("config/benches/supply-key.yaml");
    let workshop = Workshop::with(&plan("146 MHz", 3), "");
    let called = workshop.call(&["run", "plan.yaml", "--bench", bench.to_str().unwrap(), "--json"]);
    assert_eq!(called.json()["readings"].as_array().unwrap().len(), 3, "{called:?}");
    assert_ne!(called.exit, 4, "{called:?}");
    let replayed = workshop.call(&["replay", "last"]);
    assert_eq!(replayed.exit, 0, "{replayed:?}");
}

/// Off and confirmed comes before all else, and nothing resets what may feed something.
#[test]
fn a_supply_that_keys_is_off_before_anything_else_and_never_reset() {
    let wired = [instruments(25_025, "A-0001"), PARTS.to_owned(), simulated(5, "  supply: {}\n")].concat();
    let relay = wired.lines().find(|line| line.starts_with("key:")).unwrap().to_owned();
    let tried = Trial::new(plan("146 MHz", 3), wired.replace(&relay, &key(25_028))).run().unwrap();
    assert!(tried.fault.is_none(), "{:?}", tried.fault);
    let told: Vec<&String> =
        tried.sent.iter().filter(|(link, _)| link == "supply").map(|(_, text)| text).collect();
    let place = |words: &str| told.iter().position(|text| text.contains(words)).unwrap();
    // What begins every link is common to all instruments (IEEE 488.2), and says nothing of an output.
    let first = told.iter().position(|text| !text.starts_with('*')).unwrap();
    assert!(told[first].starts_with("OUTP OFF;:OUTP?"), "{told:?}");
    assert!(first < place("VOLT 12") && place("VOLT 12") < place("OUTP ON"), "{told:?}");
    assert!(!told.iter().any(|text| text.contains("*RST")), "{told:?}");
    assert!(told.last().unwrap().contains("OUTP OFF"), "{told:?}");
    // On for the key-downs and no more.
    let count = |words: &str| told.iter().filter(|text| text.contains(words)).count();
    assert!(count("OUTP ON") >= 1 && count("OUTP OFF") > count("OUTP ON"), "{told:?}");
}

#[test]
fn a_run_that_is_killed_is_outlived_by_who_switches_the_output_off() {
    let (workshop, _serving) = served();
    let (mut run, _talk) = running_keyed(&workshop);
    let holder = holder_of(&run);
    let killed = now();
    run.kill().unwrap();
    run.wait().unwrap();
    let up = up_after(&workshop, killed);
    assert!(milliseconds(&up, killed) < 500, "{up:?}, killed at {killed}");
    assert_eq!(up.why, "the supply was told");
    assert_ne!(holder, 0);
}

#[test]
fn a_whole_run_in_two_processes_is_replayed() {
    let (workshop, _serving) = served();
    let called = workshop.call(&["run", "plan.yaml"]);
    assert_eq!(called.exit, 1, "{called:?}");
    assert!(log(&workshop).len() >= 2);
    let replayed = workshop.call(&["replay", "last"]);
    assert!(replayed.exit == 0 && replayed.out.contains("all the same"), "{replayed:?}");
}

/// Nothing opens it by itself: both dead, the unit stays keyed, as `check` says.
#[test]
fn with_both_dead_it_stays_on_and_check_says_so() {
    let (workshop, _serving) = served();
    let (mut run, _talk) = running_keyed(&workshop);
    let holder = holder_of(&run);
    kill(run.id(), "-STOP");
    kill(holder, "-KILL");
    run.kill().unwrap();
    run.wait().unwrap();
    std::thread::sleep(std::time::Duration::from_millis(500));
    assert!(log(&workshop).last().unwrap().down, "{:?}", log(&workshop));
    let checked = workshop.call(&["check", "plan.yaml"]);
    assert!(checked.out.contains("stays keyed until"), "{checked:?}");
    workshop.write("plan.yaml", &plan("146 MHz", 3));
    let refused = workshop.call(&["check", "plan.yaml"]);
    assert!(refused.exit == 2 && refused.talk.contains("own_timer"), "{refused:?}");
}

#[test]
fn a_supply_that_keys_feeds_nothing() {
    let wired = [instruments(25_025, "A-0001"), PARTS.to_owned()].concat();
    let relay = wired.lines().find(|line| line.starts_with("key:")).unwrap().to_owned();
    let keyed = wired.replace(&relay, &key(25_028));
    let workshop = Workshop::with(&timed(), &format!("{keyed}battery: removed\n"));
    assert_eq!(workshop.call(&["check", "plan.yaml"]).exit, 0);
    let fed = format!("{}supply: [ {{ name: battery, set: 7.4 V, limit: 2.5 A }} ]\n", timed());
    workshop.write("plan.yaml", &fed);
    let refused = workshop.call(&["check", "plan.yaml"]);
    assert!(refused.exit == 2 && refused.talk.contains("has none"), "{refused:?}");
    let both = "supply: { at: \"TCPIP::127.0.0.1::25030::SOCKET\", profile: supply-generic }\n";
    workshop.write("bench.yaml", &format!("{keyed}{both}battery: removed\n"));
    let refused = workshop.call(&["check", "plan.yaml"]);
    assert!(refused.exit == 2 && refused.talk.contains("expected one supply"), "{refused:?}");
}
