//! The process that holds the key: whoever dies, the key comes up. Times are the simulated bench's own, from its log of
//! the key; `scripts/prove-keyholder` does the same many times and knows narrower bounds.

use std::io::{BufReader, Read};
use std::os::unix::process::CommandExt;
use std::process::{Child, ChildStderr, Stdio};
use std::time::Duration;

use spurline_clock::Pace;

use crate::bench::{Workshop, plan};
use crate::processes::{Serving, running_keyed, signal};

/// A change of the key: when, in seconds of the day and date, whether down, and why.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Change {
    pub(crate) at: jiff::Timestamp,
    pub(crate) down: bool,
    pub(crate) why: String,
}

pub(crate) fn log(workshop: &Workshop) -> Vec<Change> {
    let text = std::fs::read_to_string(workshop.path("key.log")).unwrap();
    let change = |line: &str| {
        let words: Vec<&str> = line.splitn(4, ' ').collect();
        assert!(words[0].parse::<f64>().unwrap() > 0.0, "{line}");
        Change { at: words[2].parse().unwrap(), down: words[1] == "down", why: words[3].to_owned() }
    };
    // A line that is being written has no end yet.
    let whole = text.rfind('\n').map_or(0, |end| end + 1);
    text[..whole].lines().map(change).collect()
}

pub(crate) fn now() -> jiff::Timestamp {
    spurline_clock::run(Pace::Real, |clock| async move { clock.timestamp() }).unwrap()
}

/// Waits for the key to be down: a run says that it keys before it does.
pub(crate) fn until_down(workshop: &Workshop) {
    for _ in 0..400 {
        if log(workshop).last().is_some_and(|change| change.down) {
            return;
        }
        std::thread::sleep(Duration::from_millis(5));
    }
    panic!("the key does not go down: {:?}", log(workshop));
}

/// The first key up after a moment, waited for.
pub(crate) fn up_after(workshop: &Workshop, moment: jiff::Timestamp) -> Change {
    for _ in 0..200 {
        if let Some(up) = log(workshop).into_iter().find(|change| !change.down && change.at >= moment) {
            return up;
        }
        std::thread::sleep(Duration::from_millis(20));
    }
    panic!("the key stays down: {:?}", log(workshop));
}

pub(crate) fn milliseconds(change: &Change, since: jiff::Timestamp) -> i128 {
    change.at.duration_since(since).as_millis()
}

/// The process that holds the key of a run: its one child.
pub(crate) fn holder_of(run: &Child) -> u32 {
    let id = run.id();
    let children = std::fs::read_to_string(format!("/proc/{id}/task/{id}/children")).unwrap();
    let children: Vec<u32> = children.split_whitespace().map(|child| child.parse().unwrap()).collect();
    assert_eq!(children.len(), 1, "a run has one child: {children:?}");
    children[0]
}

pub(crate) fn kill(process: u32, signal: &str) {
    let sent = std::process::Command::new("kill").args([signal, &process.to_string()]).status().unwrap();
    assert!(sent.success());
}

/// The process that holds the key of a run once another one is gone.
fn other_holder_of(run: &Child, first: u32) -> u32 {
    let path = format!("/proc/{id}/task/{id}/children", id = run.id());
    for _ in 0..400 {
        let children = std::fs::read_to_string(&path).unwrap();
        let other =
            children.split_whitespace().map(|child| child.parse().unwrap()).find(|child| *child != first);
        if let Some(other) = other {
            return other;
        }
        std::thread::sleep(Duration::from_millis(5));
    }
    panic!("no other process holds the key");
}

fn is_alive(process: u32) -> bool {
    // One that has ended and was not waited for is dead as well.
    let status = std::fs::read_to_string(format!("/proc/{process}/stat"));
    status.is_ok_and(|status| !status.contains(") Z "))
}

fn gone(process: u32) {
    for _ in 0..100 {
        if !is_alive(process) {
            return;
        }
        std::thread::sleep(Duration::from_millis(20));
    }
    panic!("the process that holds the key has not ended");
}

/// Short key-downs, so that a rest after one that nobody saw the end of is short as well.
fn short() -> String {
    [plan("146 MHz", 3), "key: { longest: 4 s, rest: 1 s }\n".to_owned()].concat()
}

/// A bench whose key is a control line, and its plan.
fn by_line() -> (Workshop, Serving) {
    let workshop = Workshop::with(&short(), "");
    let key = format!("key: {{ serial_line: {}, line: rts }}", workshop.path("key").display());
    let serving = Serving::keyed_by(&workshop, "  key_log: key.log\n", Some(&key));
    (workshop, serving)
}

fn by_relay() -> (Workshop, Serving) {
    let workshop = Workshop::with(&short(), "");
    let serving = Serving::start(&workshop, "  key_log: key.log\n");
    (workshop, serving)
}

fn rest_of(mut talk: BufReader<ChildStderr>) -> String {
    let mut text = String::new();
    talk.read_to_string(&mut text).unwrap();
    text
}

#[test]
fn a_run_that_is_killed_is_outlived_by_who_brings_the_key_up() {
    for (workshop, _serving) in [by_line(), by_relay()] {
        let (mut run, _talk) = running_keyed(&workshop);
        let holder = holder_of(&run);
        let killed = now();
        run.kill().unwrap();
        run.wait().unwrap();
        let up = up_after(&workshop, killed);
        // Before a beat would be missed, and before a relay opens by itself.
        assert!(milliseconds(&up, killed) < 200, "{up:?}, killed at {killed}");
        assert!(up.why.ends_with("was told"), "{up:?}");
        gone(holder);
    }
}

/// And measures anew once it runs again: a machine that sleeps or a disk that is slow ends no night.
#[test]
fn a_run_that_is_stopped_loses_the_key() {
    let (workshop, _serving) = by_line();
    let (mut run, talk) = running_keyed(&workshop);
    let stopped = now();
    kill(run.id(), "-STOP");
    let up = up_after(&workshop, stopped);
    assert!(milliseconds(&up, stopped) <= 500, "{up:?}, stopped at {stopped}");
    kill(run.id(), "-CONT");
    let (ended, talk) = (run.wait().unwrap().code(), rest_of(talk));
    assert_eq!(ended, Some(1), "{talk}");
    assert!(talk.contains("this program did not run for") && talk.contains("done again"), "{talk}");
    let shown = workshop.call(&["show", "last", "--json"]).json();
    assert_eq!((&shown["state"], shown["readings"].as_array().unwrap().len()), (&"finished".into(), 3));
}

#[test]
fn a_keyholder_that_dies_is_replaced_and_the_scope_is_measured_anew() {
    for (how, (workshop, _serving)) in [("-KILL", by_line()), ("-ABRT", by_relay())] {
        let (mut run, talk) = running_keyed(&workshop);
        let first = holder_of(&run);
        let killed = now();
        kill(first, how);
        let up = up_after(&workshop, killed);
        // The system closes a line at once; a relay is told by the next holder.
        assert!(milliseconds(&up, killed) < 1000, "{how}: {up:?}, killed at {killed}");
        let ended = run.wait().unwrap().code();
        let talk = rest_of(talk);
        assert_eq!(ended, Some(1), "{talk}");
        let shown = workshop.call(&["show", "last", "--json"]).json();
        assert_eq!(shown["state"], "finished");
        assert_eq!(shown["readings"].as_array().unwrap().len(), 3);
        assert!(talk.contains("nobody holds the key any more"), "{talk}");
        // Two glimpses and a key-down, and between the glimpses three times the longest key-down: nobody saw how long the
        // first was.
        let log = log(&workshop);
        assert_eq!(log.iter().filter(|change| change.down).count(), 3, "{log:?}");
        let again = log.iter().filter(|change| change.down).nth(1).unwrap();
        assert!(milliseconds(again, up.at) >= 11_900, "it keyed again without a rest: {log:?}");
    }
}

/// A port that leaves its line as it is, and cannot be reached for a while: the last process that tried goes on trying
/// when the run is dead as well.
#[test]
fn a_key_that_cannot_be_reached_comes_up_when_it_can_be_whoever_is_dead() {
    let workshop = Workshop::with(&short(), "");
    let key = format!("key: {{ serial_line: {}, line: rts }}", workshop.path("key").display());
    let more = "  key_log: key.log\n  key_line: { hupcl: false }\n";
    let _serving = Serving::keyed_by(&workshop, more, Some(&key));
    let (mut run, _talk) = running_keyed(&workshop);
    let first = holder_of(&run);
    std::fs::rename(workshop.path("key"), workshop.path("away")).unwrap();
    kill(first, "-KILL");
    gone(first);
    let last = other_holder_of(&run, first);
    run.kill().unwrap();
    run.wait().unwrap();
    std::thread::sleep(Duration::from_millis(700));
    assert!(is_alive(last) && log(&workshop).last().unwrap().down, "{:?}", log(&workshop));
    let back = now();
    std::fs::rename(workshop.path("away"), workshop.path("key")).unwrap();
    let up = up_after(&workshop, back);
    assert!(milliseconds(&up, back) < 1500, "{up:?}, back at {back}");
    gone(last);
}

#[test]
fn a_keyholder_that_is_stopped_is_ended() {
    let (workshop, _serving) = by_line();
    let (mut run, _talk) = running_keyed(&workshop);
    let first = holder_of(&run);
    let stopped = now();
    kill(first, "-STOP");
    let up = up_after(&workshop, stopped);
    assert!(milliseconds(&up, stopped) < 3000, "{up:?}, stopped at {stopped}");
    assert_eq!(up.why, "the line was closed");
    gone(first);
    signal("-INT", &run);
    assert_eq!(run.wait().unwrap().code(), Some(130));
}

#[test]
fn what_a_terminal_sends_to_all_is_for_the_run() {
    let (workshop, _serving) = by_line();
    let mut command = workshop.command(&["run", "plan.yaml"]);
    command.process_group(0).stderr(Stdio::piped()).stdout(Stdio::null());
    let (mut run, _talk) = crate::processes::keyed(command);
    let holder = holder_of(&run);
    for name in ["-INT", "-TERM", "-HUP", "-QUIT"] {
        kill(holder, name);
    }
    std::thread::sleep(Duration::from_millis(300));
    assert!(is_alive(holder) && log(&workshop).last().unwrap().down, "signals are not its business");
    let sent = std::process::Command::new("kill").args(["-INT", "--", &format!("-{}", run.id())]).status();
    assert!(sent.unwrap().success());
    assert_eq!(run.wait().unwrap().code(), Some(130));
    gone(holder);
    assert!(!log(&workshop).last().unwrap().down);
}

#[test]
fn nobody_starts_it_by_hand() {
    let workshop = Workshop::new();
    let called = workshop.call(&["keyholder"]);
    assert_eq!(called.exit, 2, "{called:?}");
    assert!(called.talk.contains("started by a run"), "{called:?}");
    assert!(!workshop.call(&["--help"]).out.contains("keyholder"));
}

/// Messages on the relay's link pass through another process, and stand in the record all the same.
#[test]
fn a_run_whose_key_was_held_elsewhere_is_replayed() {
    for (workshop, _serving) in [by_line(), by_relay()] {
        assert_eq!(workshop.call(&["run", "plan.yaml"]).exit, 1);
        let replayed = workshop.call(&["replay", "last"]);
        assert_eq!(replayed.exit, 0, "{replayed:?}");
        assert!(
            replayed.out.contains("all the same") || replayed.talk.contains("all the same"),
            "{replayed:?}"
        );
    }
}

#[test]
fn a_control_line_keys_a_bench_in_this_process() {
    let bench = crate::bench::root().join("config/benches/serial-key.yaml");
    let workshop = Workshop::with(&plan("146 MHz", 3), "");
    let called = workshop.call(&["run", "plan.yaml", "--bench", bench.to_str().unwrap(), "--json"]);
    let document = called.json();
    assert_eq!(document["readings"].as_array().unwrap().len(), 3, "{called:?}");
    assert!(!called.talk.contains("may key"), "it is no real port: {called:?}");
    let replayed = workshop.call(&["replay", "last"]);
    assert_eq!(replayed.exit, 0, "{replayed:?}");
}

#[test]
fn a_key_that_stays_down_wants_the_units_own_timer() {
    let workshop = Workshop::with(&plan("146 MHz", 3), "");
    let wired = [crate::bench::instruments(25_025, "A-0001"), crate::bench::PARTS.to_owned()].concat();
    workshop.write("bench.yaml", &wired.replace(", opens_by_itself: 1 s", ""));
    let refused = workshop.call(&["check", "plan.yaml"]);
    assert_eq!(refused.exit, 2, "{refused:?}");
    assert!(refused.talk.contains("own_timer"), "{refused:?}");
    workshop.write("plan.yaml", &[plan("146 MHz", 3), "key: { own_timer: 60 s }\n".to_owned()].concat());
    let checked = workshop.call(&["check", "plan.yaml"]);
    assert_eq!(checked.exit, 0, "{checked:?}");
    assert!(checked.out.contains("ends it after 1 min, as the plan says"), "{checked:?}");
    for path in ["/dev/ttyUSB0", "/dev/serial/by-path/x", "key"] {
        let key = format!("key: {{ serial_line: {path}, line: dtr }}");
        let relay = wired.lines().find(|line| line.starts_with("key:")).unwrap().to_owned();
        workshop.write("bench.yaml", &wired.replace(&relay, &key));
        let refused = workshop.call(&["check", "plan.yaml"]);
        assert!(refused.exit == 2 && refused.talk.contains("/dev/serial/by-id"), "{path}: {refused:?}");
    }
}
