//! A person keys: told when, seen to do it, told to let go. The hand is the simulated bench's own, in virtual time.

use serde_json::Value;

use crate::bench::{Called, PARTS, Workshop, instruments, plan, shipped};
use crate::keyholder::kill;

const BY_HAND: (&str, &str) = ("by-hand", "by-hand");
const HAND: &str = "hand: { reacts_in: 0.4 s, keys: true, lets_go: true }";

fn workshop(hand: &str, in_plan: &[(&str, &str)]) -> Workshop {
    let log = format!("{hand}\n  key_log: key.log");
    shipped(BY_HAND, in_plan, &[(HAND, &log)])
}

/// A run with this hand, and its record.
fn run_with(hand: &str, in_plan: &[(&str, &str)]) -> (Workshop, Called, Value) {
    let workshop = workshop(hand, in_plan);
    let called = workshop.call(&["run", "plan.yaml"]);
    let shown = workshop.call(&["show", "last", "--json"]).json();
    (workshop, called, shown)
}

/// The moments at which the unit's key really went down and came up, in seconds.
fn keyed(workshop: &Workshop) -> Vec<(f64, bool)> {
    let text = std::fs::read_to_string(workshop.path("key.log")).unwrap_or_default();
    let change = |line: &str| {
        let words: Vec<&str> = line.split(' ').collect();
        (words[0].parse().unwrap(), words[1] == "down")
    };
    text.lines().map(change).collect()
}

fn replays(workshop: &Workshop) {
    let replayed = workshop.call(&["replay", "last"]);
    assert_eq!(replayed.exit, 0, "{replayed:?}");
    assert!(replayed.out.contains("all the same"), "{replayed:?}");
}

fn codes(shown: &Value) -> Vec<Value> {
    shown["readings"].as_array().unwrap().iter().map(|reading| reading["reason_code"].clone()).collect()
}

#[test]
fn a_whole_run_is_keyed_by_hand() {
    let (workshop, called, shown) = run_with(HAND, &[]);
    assert_eq!(called.exit, 0, "{called:?}");
    let told: Vec<&str> = called.talk.lines().map(str::trim).collect();
    // The first key-down was a glimpse at the path.
    let place = |line: &str| told.iter().rposition(|told| told.starts_with(line)).unwrap();
    let key = place("key the unit now: VHF low, 144.2 MHz, high; at most 10 s");
    assert!(key < place("KEY DOWN") && place("KEY DOWN") < place("let go now"), "{told:?}");
    assert!(place("let go now") < place("key up after"), "{told:?}");
    assert_eq!(shown["state"], "finished");
    let readings = shown["readings"].as_array().unwrap();
    assert!(readings.len() == 3 && readings.iter().all(|one| one["outcome"] == "complies"), "{shown:#}");
    let keyed = keyed(&workshop);
    assert!(keyed.len() == 4 && keyed[2].1 && !keyed[3].1, "{keyed:?}");
    // The record's key-down is a little shorter than the thumb's: the analyser sees it a look later.
    let held = shown["keyed"]["total_s"].as_f64();
    let really = keyed[3].0 - keyed[2].0 + keyed[1].0 - keyed[0].0;
    let held = held.unwrap_or_else(|| panic!("{:#}", shown["keyed"]));
    assert!((held - really).abs() < 2.0 && really < 10.0, "{held} s, and really {really} s");
    replays(&workshop);
}

#[test]
fn a_hand_that_never_keys_leaves_invalid_readings() {
    let hand = HAND.replace("keys: true", "keys: false");
    let (workshop, called, shown) = run_with(&hand, &[]);
    assert_eq!(called.exit, 3, "{called:?}");
    assert!(keyed(&workshop).is_empty());
    assert!(
        called.talk.contains("let go now, and do not key any more: no carrier came within 1 min"),
        "{called:?}"
    );
    assert!(!called.talk.contains("KEY DOWN"), "{called:?}");
    assert_eq!(codes(&shown), ["not-keyed", "carrier-invalid", "carrier-invalid"]);
    assert!(shown["readings"].as_array().unwrap().iter().all(|one| one["outcome"] == "invalid"));
    replays(&workshop);
}

/// Who holds the key longer than the plan says is told to let go, seen or not.
#[test]
fn a_carrier_is_waited_for_as_long_as_the_plan_says() {
    let hand = HAND.replace("keys: true", "keys: false");
    let (workshop, called, shown) = run_with(&hand, &[("comes_within: 60 s", "comes_within: 10 s")]);
    assert_eq!(called.exit, 3, "{called:?}");
    assert!(
        called.talk.contains("let go now, and do not key any more: no carrier came within 10 s"),
        "{called:?}"
    );
    assert_eq!(codes(&shown), ["not-keyed", "carrier-invalid", "carrier-invalid"]);
    replays(&workshop);
}

/// Whoever keys just when nobody waits for it any more is seen all the same, and told until the carrier has gone.
#[test]
fn a_hand_that_keys_too_late_is_seen() {
    let in_plan = [("comes_within: 60 s", "comes_within: 3 s")];
    let slow = HAND.replace("reacts_in: 0.4 s", "reacts_in: 3.5 s");
    let (workshop, called, shown) = run_with(&slow, &in_plan);
    assert_eq!(called.exit, 3, "{called:?}");
    assert!(called.talk.contains("let go now: the carrier is still there"), "{called:?}");
    assert_eq!(codes(&shown)[0], "not-keyed");
    let keyed = keyed(&workshop);
    assert!(keyed.len() >= 2 && !keyed[keyed.len() - 1].1, "{keyed:?}");
    replays(&workshop);
    let holds = slow.replace("lets_go: true", "lets_go: false");
    let (_, called, shown) = run_with(&holds, &in_plan);
    assert_eq!(called.exit, 4, "{called:?}");
    assert!(called.talk.contains("LET GO NOW") && shown["state"] == "failed", "{called:?}");
    // The unit's own timer does not end what is measured.
    let (_, called, _) = run_with(HAND, &[("own_timer: 60 s", "own_timer: 5 s")]);
    assert_eq!(called.exit, 2, "{called:?}");
    assert!(
        called.talk.contains("expected a time of at least the longest key-down, 10 s, found 5 s"),
        "{called:?}"
    );
    // Nobody is that fast: a plan that waits for less is refused.
    let (_, called, _) = run_with(HAND, &[("comes_within: 60 s", "comes_within: 500 ms")]);
    assert_eq!(called.exit, 2, "{called:?}");
    assert!(called.talk.contains("expected a time of at least 3 s, found 500 ms"), "{called:?}");
}

/// A window that says only what is expected is no limit that a unit exceeds.
#[test]
fn a_power_that_was_not_expected_is_invalid_where_no_specification_gives_it() {
    for (says, outcome, exit) in [("exceeds", "exceeds", 1), ("invalid", "invalid", 3)] {
        let rule = format!("rule: us-part-97\noutside_window: {says}\n");
        let windows = [("high: 3.5..6 W", "high: 7..9 W"), ("rule: us-part-97\n", &rule)];
        let (workshop, called, shown) = run_with(HAND, &windows);
        assert_eq!(called.exit, exit, "{called:?}");
        assert_eq!(shown["readings"][0]["outcome"], outcome, "{shown:#}");
        assert_eq!(codes(&shown)[0], "outside-window");
        let again = workshop.call(&["judge", "last", "--json"]).json();
        assert_eq!(again["outcome"], outcome, "{again:#}");
    }
}

#[test]
fn a_hand_that_lets_go_too_early_makes_its_readings_invalid() {
    let hand = HAND.replace("keys: true", "lets_go_after: 1.8 s");
    let (workshop, called, shown) = run_with(&hand, &[]);
    assert_eq!(called.exit, 3, "{called:?}");
    let readings = shown["readings"].as_array().unwrap();
    assert!(readings.iter().all(|one| one["outcome"] == "invalid"), "{shown:#}");
    let why = readings[0]["reason"].as_str().unwrap();
    assert!(why.contains("the carrier left") && why.contains("let go too early"), "{why}");
    replays(&workshop);
}

#[test]
fn a_hand_that_does_not_let_go_ends_the_run() {
    let hand = HAND.replace("lets_go: true", "lets_go: false");
    let (workshop, called, shown) = run_with(&hand, &[]);
    assert_eq!(called.exit, 4, "{called:?}");
    let urged = called.talk.lines().filter(|line| line.contains("the carrier is still there")).count();
    assert!((3..=5).contains(&urged), "told each second: {called:?}");
    assert!(called.talk.contains("LET GO NOW"), "{called:?}");
    assert!(called.talk.contains("a carrier is there while the key is up"), "{called:?}");
    assert!(called.talk.contains("supply off by hand"), "{called:?}");
    assert!(!called.talk.contains("key up after"), "nobody has seen it come up: {called:?}");
    assert_eq!(shown["state"], "failed");
    assert_eq!(shown["keyed"]["without_end"], 1, "{:#}", shown["keyed"]);
    assert_eq!(keyed(&workshop).len(), 1, "it is down to the end");
    replays(&workshop);
}

/// The supply is the second way off: it is off although nobody let go, and the run ends all the same.
#[test]
fn a_supply_ends_what_a_hand_holds() {
    let hand = HAND.replace("lets_go: true", "lets_go: false");
    let supply = "supply: { at: \"TCPIP::127.0.0.1::15367::SOCKET\", profile: supply-generic }\nkey: {";
    let fed = [(
        "high: 3.5..6 W } } ]",
        "high: 3.5..6 W } } ]\nsupply: [ { name: battery, set: 7.4 V, limit: 2.5 A } ]",
    )];
    let log = format!("{hand}\n  key_log: key.log\n  supply: {{}}");
    let workshop = shipped(BY_HAND, &fed, &[(HAND, &log), ("key: {", supply)]);
    let called = workshop.call(&["run", "plan.yaml"]);
    assert_eq!(called.exit, 4, "{called:?}");
    assert!(called.talk.contains("the unit's supply was switched off"), "{called:?}");
    // What was told to the supply is told again, word by word.
    replays(&workshop);
}

/// What is not a channel is keyed where nothing should come: nobody sees the key, and the reading says so.
#[test]
fn silence_is_keyed_by_hand_as_well() {
    let silent =
        [("measure: {", "silent_at: { at: [ 150 MHz ], bands: [ \"140 MHz..160 MHz\" ] }\nmeasure: {")];
    let workshop = shipped(
        BY_HAND,
        &silent,
        &[
            (HAND, &format!("{HAND}\n  key_log: key.log")),
            ("harmonics: { 2", "inhibited: [ 149 MHz..151 MHz ]\n      harmonics: { 2"),
        ],
    );
    let called = workshop.call(&["run", "plan.yaml", "--json"]);
    let shown = called.json();
    let readings = shown["readings"].as_array().unwrap_or_else(|| panic!("{called:?}"));
    let silence = readings.iter().find(|one| one["quantity"] == "silence").unwrap();
    assert_eq!(silence["outcome"], "complies", "{silence:#}");
    assert!(silence.to_string().contains("nobody sees whether the unit was keyed"), "{silence:#}");
    assert!(keyed(&workshop).len() >= 4, "{:?}", keyed(&workshop));
    replays(&workshop);
}

#[test]
fn without_a_terminal_nothing_is_keyed_by_hand() {
    let wired = [instruments(25_025, "A-0001"), PARTS.to_owned()].concat();
    let relay = wired.lines().find(|line| line.starts_with("key:")).unwrap().to_owned();
    let workshop = Workshop::with(&plan("146 MHz", 3), &wired.replace(&relay, "key: { operator: true }"));
    for more in [&[][..], &["--json"][..]] {
        let called = workshop.call(&[&["run", "plan.yaml", "--arm"], more].concat());
        assert_eq!(called.exit, 2, "{called:?}");
        assert!(called.talk.contains("a person's hand"), "{called:?}");
        assert!(called.talk.contains("Nothing was keyed"), "{called:?}");
    }
    let checked = workshop.call(&["check", "plan.yaml"]);
    assert_eq!(checked.exit, 0, "{checked:?}");
    assert!(checked.out.contains("no lease on"), "{checked:?}");
}

/// Stopped while the thumb is down, the run tells it to let go before it ends.
#[test]
fn a_run_that_is_stopped_tells_the_hand_to_let_go() {
    let workshop = shipped(
        BY_HAND,
        &[],
        &[(HAND, &format!("{HAND}\n  key_log: key.log")), ("clock: fast ", "clock: real ")],
    );
    let mut command = workshop.command(&["run", "plan.yaml"]);
    command.stderr(std::process::Stdio::piped()).stdout(std::process::Stdio::null());
    let (mut run, mut talk) = crate::processes::keyed(command);
    kill(run.id(), "-INT");
    let mut rest = String::new();
    std::io::Read::read_to_string(&mut talk, &mut rest).unwrap();
    assert_eq!(run.wait().unwrap().code(), Some(130), "{rest}");
    assert!(rest.contains("let go now: the run ends"), "{rest}");
    let keyed = keyed(&workshop);
    assert!(keyed.len() == 2 && !keyed[1].1, "{keyed:?}");
}
