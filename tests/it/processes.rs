//! A bench in another process: `run` knows its addresses and nothing else.

use std::io::{BufRead, BufReader, Read, Write};
use std::net::{TcpListener, TcpStream};
use std::process::{Child, ChildStderr, Stdio};
use std::time::Duration;

use crate::bench::{PARTS, Workshop, instruments, plan, simulated};

/// A simulated bench that is being served; stopped when dropped.
pub(crate) struct Serving {
    child: Child,
    pub(crate) port: u16,
}

impl Serving {
    /// Serves the truth with `more` in it; the workshop's `bench.yaml` is the same bench without its truth.
    pub(crate) fn start(workshop: &Workshop, more: &str) -> Self {
        Self::keyed_by(workshop, more, None)
    }

    /// The same with another key than the relay.
    pub(crate) fn keyed_by(workshop: &Workshop, more: &str, key: Option<&str>) -> Self {
        Self::keyed_at(workshop, free_ports(), more, key)
    }

    /// The same with a supply as the key, at the port that the relay has elsewhere.
    pub(crate) fn keyed_by_supply(workshop: &Workshop, more: &str, key: impl Fn(u16) -> String) -> Self {
        let port = free_ports();
        Self::keyed_at(workshop, port, more, Some(&key(port + 3)))
    }

    fn keyed_at(workshop: &Workshop, port: u16, more: &str, key: Option<&str>) -> Self {
        let mut wired = [instruments(port, "A-0001"), PARTS.to_owned()].concat();
        if let Some(key) = key {
            let relay = wired.lines().find(|line| line.starts_with("key:")).unwrap().to_owned();
            wired = wired.replace(&relay, key);
        }
        workshop.write("bench.yaml", &wired);
        workshop.write("served.yaml", &[wired, simulated(5, more)].concat());
        let mut child = workshop.command(&["sim", "served.yaml"]).stdout(Stdio::piped()).spawn().unwrap();
        let lines: Vec<String> = BufReader::new(child.stdout.as_mut().unwrap())
            .lines()
            .map(Result::unwrap)
            .take_while(|line| line != "ready")
            .collect();
        assert_eq!(lines[0], format!("analyser TCPIP::127.0.0.1::{port}::SOCKET"));
        assert_eq!(lines.len(), 4);
        Self { child, port }
    }

    /// Whether the relay's contact is closed, asked over the wire.
    pub(crate) fn keyed(&self) -> bool {
        let mut relay = TcpStream::connect(("127.0.0.1", self.port + 3)).unwrap();
        relay.set_read_timeout(Some(Duration::from_secs(5))).unwrap();
        relay.write_all(b"ROUT:CLOS? (@1)\n").unwrap();
        let mut answer = [0; 2];
        relay.read_exact(&mut answer).unwrap();
        answer[0] == b'1'
    }
}

impl Drop for Serving {
    fn drop(&mut self) {
        drop(self.child.kill());
        drop(self.child.wait());
    }
}

/// The first of four neighbouring ports that were free just now.
fn free_ports() -> u16 {
    loop {
        let first = TcpListener::bind("127.0.0.1:0").unwrap().local_addr().unwrap().port();
        if first < 65_000 && (first..first + 4).all(|port| TcpListener::bind(("127.0.0.1", port)).is_ok()) {
            return first;
        }
    }
}

#[test]
fn a_run_reaches_a_bench_in_another_process() {
    let workshop = Workshop::with(&plan("146 MHz", 3), "");
    let serving = Serving::start(&workshop, "");
    let called = workshop.call(&["run", "plan.yaml", "--json"]);
    assert_eq!(called.exit, 1, "{called:?}");
    let document = called.json();
    let readings = document["readings"].as_array().unwrap();
    assert_eq!(readings.len(), 3);
    assert_eq!(document["simulated_seed"], serde_json::Value::Null);
    // The third harmonic lies 49 dB below 36.72 dBm.
    assert!((readings[2]["level_dbm"].as_f64().unwrap() - -12.28).abs() < 1.5, "{document}");
    assert!(!serving.keyed());
}

#[test]
fn a_run_that_is_interrupted_brings_the_key_up_first() {
    let workshop = Workshop::with(&plan("146 MHz", 10), "");
    let serving = Serving::start(&workshop, "  key_log: key.log\n");
    let (mut child, _talk) = running_keyed(&workshop);
    assert!(serving.keyed());
    signal("-INT", &child);
    assert_eq!(child.wait().unwrap().code(), Some(130));
    assert!(!serving.keyed());
    let shown = workshop.call(&["show", "last", "--json"]).json();
    assert_eq!(shown["state"], "interrupted");
    // Nothing of it exceeds, and no program is to read that it complies.
    assert!(shown["outcome"].is_null(), "{shown:#}");
    let listed = workshop.call(&["runs", "--json"]).json();
    assert!(listed["runs"][0]["outcome"].is_null(), "{listed:#}");
}

#[test]
fn a_second_run_on_the_same_bench_is_told_who_uses_it() {
    let workshop = Workshop::with(&plan("146 MHz", 10), "");
    let serving = Serving::start(&workshop, "  key_log: key.log\n");
    let (mut child, _talk) = running_keyed(&workshop);
    let second = workshop.call(&["run", "plan.yaml"]);
    assert_eq!(second.exit, 4, "{second:?}");
    let who = format!("is in use by another spurline, process {}", child.id());
    assert!(second.talk.contains(&who), "{second:?}");
    assert!(serving.keyed(), "the first is not disturbed");
    signal("-INT", &child);
    assert_eq!(child.wait().unwrap().code(), Some(130));
}

/// Nobody brings the key up here: the relay opens by itself, one second after it was last told to close.
#[test]
fn a_run_that_is_killed_with_its_keyholder_leaves_a_relay_that_opens_by_itself() {
    let workshop = Workshop::with(&plan("146 MHz", 10), "");
    let serving = Serving::start(&workshop, "  key_log: key.log\n");
    let (mut child, _talk) = running_keyed(&workshop);
    assert!(serving.keyed());
    crate::keyholder::kill(crate::keyholder::holder_of(&child), "-KILL");
    child.kill().unwrap();
    child.wait().unwrap();
    std::thread::sleep(Duration::from_millis(1100));
    assert!(!serving.keyed());
}

/// A run whose key is down, as far as the bench keeps a log of it, and what more it will say.
pub(crate) fn running_keyed(workshop: &Workshop) -> (Child, BufReader<ChildStderr>) {
    let mut command = workshop.command(&["run", "plan.yaml"]);
    command.stderr(Stdio::piped()).stdout(Stdio::null());
    let running = keyed(command);
    if workshop.path("key.log").exists() {
        crate::keyholder::until_down(workshop);
    }
    running
}

/// The same, started so.
pub(crate) fn keyed(mut command: std::process::Command) -> (Child, BufReader<ChildStderr>) {
    let mut child = command.spawn().unwrap();
    let mut talk = BufReader::new(child.stderr.take().unwrap());
    let mut line = String::new();
    while !line.contains("KEY DOWN") {
        line.clear();
        assert!(talk.read_line(&mut line).unwrap() > 0, "the run ended and has not keyed");
    }
    (child, talk)
}

pub(crate) fn signal(name: &str, child: &Child) {
    let sent = std::process::Command::new("kill").args([name, &child.id().to_string()]).status().unwrap();
    assert!(sent.success());
}

#[test]
fn a_served_bench_stops_when_told() {
    let workshop = Workshop::with(&plan("146 MHz", 3), "");
    let mut serving = Serving::start(&workshop, "");
    signal("-TERM", &serving.child);
    assert_eq!(serving.child.wait().unwrap().code(), Some(0));
}
