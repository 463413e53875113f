//! `identify` at a simulated bench in another process, over the wire.

use std::io::{BufRead, BufReader, Write};
use std::net::{TcpListener, TcpStream};

use serde_json::Value;

use crate::bench::{Workshop, plan, root};
use crate::processes::Serving;

fn address(port: u16) -> String {
    format!("TCPIP::127.0.0.1::{port}::SOCKET")
}

/// What became of the last command of that key.
fn command<'a>(document: &'a Value, key: &str) -> &'a Value {
    let commands = document["commands"].as_array().unwrap();
    let found = commands.iter().rev().find(|command| command["command"] == key);
    found.unwrap_or_else(|| panic!("nothing about `{key}`: {document:#}"))
}

fn asked(port: u16, question: &str) -> String {
    let mut stream = TcpStream::connect(("127.0.0.1", port)).unwrap();
    stream.write_all(format!("{question}\n").as_bytes()).unwrap();
    let mut answer = String::new();
    BufReader::new(stream).read_line(&mut answer).unwrap();
    answer
}

/// Everything that a run tells an analyser.
const SETTINGS: &str = "FREQ:CENT?;:FREQ:SPAN?;:BAND?;:BAND:VID?;:SWE:POIN?;:SWE:TIME?;:INP:ATT?;\
    :DISP:WIND:TRAC:Y:RLEV?;:DET?;:INIT:CONT?;:CAL:AUTO?;:INP:GAIN:STAT?;:FORM?;:FORM:BORD?";

#[test]
fn an_analyser_fits_the_profile_that_is_written_for_it_and_gets_everything_back() {
    let workshop = Workshop::with(&plan("146 MHz", 3), "");
    let serving = Serving::start(&workshop, "");
    let before = asked(serving.port, SETTINGS);
    let called =
        workshop.call(&["identify", &address(serving.port), "--profile", "analyser-generic", "--json"]);
    assert_eq!(called.exit, 0, "{called:?}");
    let document = called.json();
    assert_eq!(document["identity"]["serial"], "A-0001");
    assert_eq!((&document["usable"], &document["kind"]), (&true.into(), &"analyser".into()));
    for key in ["attenuation", "sweep", "wait", "trace", "marker", "condition", "align", "longest"] {
        assert_eq!(command(&document, key)["understood"], true, "{document:#}");
    }
    assert_eq!(command(&document, "reset")["understood"], Value::Null);
    assert_eq!(asked(serving.port, SETTINGS), before);
    assert_eq!(asked(serving.port, "SYST:ERR?"), "0,\"No error\"\n");
}

#[test]
fn a_profile_with_slips_is_told_each_of_them() {
    let workshop = Workshop::with(&plan("146 MHz", 3), "");
    let serving = Serving::start(&workshop, "");
    let mut text = std::fs::read_to_string(root().join("config/profiles/analyser-generic.yaml")).unwrap();
    for (right, wrong) in [
        ("rbw: \"BAND {}\"", "rbw: \"BANDWITH {}\""),
        ("FORM:BORD NORM", "FORM:BORD SWAP"),
        ("wait: \"*WAI\"", "wait: \"*ESE 0\""),
        ("span: \"FREQ:SPAN {}\"", "span: \"FREQ:STAR {}\""),
        ("points: \"SWE:POIN {}\"", "points: \"SWE:COUN {}\""),
    ] {
        assert!(text.contains(right), "{right}");
        text = text.replace(right, wrong);
    }
    workshop.write("mine.yaml", &text);
    let called = workshop.call(&["identify", &address(serving.port), "--profile", "mine.yaml", "--json"]);
    assert_eq!(called.exit, 1, "{called:?}");
    let document = called.json();
    assert_eq!((&document["usable"], &document["ended"]), (&false.into(), &Value::Null));
    // It counts sweeps, and would make the analyser busy for minutes.
    assert_eq!(asked(serving.port, "SWE:COUN?"), "1\n");
    for (key, result, advice) in [
        ("rbw", "refused: -113", "commands.rbw"),
        ("trace", "bytes swapped", "commands.trace_format"),
        ("wait", "a sweep of 0.5 s was not waited for", "`*OPC?` does wait"),
        ("span", "Hz instead of 1000000 Hz", "ranges.frequency"),
        ("points", "read back 1001 instead of 501", "ranges.most_points"),
    ] {
        let found = command(&document, key);
        assert_eq!(found["understood"], false, "{found:#}");
        assert!(found["result"].as_str().unwrap().contains(result), "{found:#}");
        assert!(found["advice"].as_str().unwrap().contains(advice), "{found:#}");
    }
}

#[test]
fn a_meter_is_read_and_a_relay_and_a_unit_are_only_asked() {
    let workshop = Workshop::with(&plan("146 MHz", 3), "");
    let serving = Serving::start(&workshop, "");
    let look = |offset: u16, profile: &str| {
        let called = workshop.call(&["identify", &address(serving.port + offset), "--profile", profile]);
        assert_eq!(called.exit, 0, "{called:?}");
        assert!(called.out.lines().all(|line| line.chars().count() <= 80), "{}", called.out);
        called.out
    };
    assert!(look(1, "power-meter-generic").contains("not tried: is right only without power"));
    let unit = asked(serving.port + 2, "FREQ?;:POW?");
    assert!(look(2, "unit-generic").contains("not tried: would tune the unit"));
    assert_eq!(asked(serving.port + 2, "FREQ?;:POW?"), unit);
    let relay = look(3, "relay-generic");
    assert!(relay.contains("not tried: would switch") && relay.contains("contact 1 is open"), "{relay}");
    assert!(!serving.keyed());
}

#[test]
fn without_a_profile_only_questions_are_asked() {
    let workshop = Workshop::new();
    let listener = TcpListener::bind("127.0.0.1:0").unwrap();
    let port = listener.local_addr().unwrap().port();
    // It knows its name and has no error queue.
    let heard = std::thread::spawn(move || {
        let (stream, _) = listener.accept().unwrap();
        let mut answers = stream.try_clone().unwrap();
        let lines = BufReader::new(stream).lines().map_while(Result::ok);
        lines
            .inspect(|line| {
                if line.trim() == "*IDN?" {
                    answers.write_all(b"Example,Old one,0,1\n").unwrap();
                }
            })
            .collect::<Vec<String>>()
    });
    let called = workshop.call(&["identify", &address(port), "--within", "100 ms", "--json"]);
    assert_eq!(called.exit, 0, "{called:?}");
    let document = called.json();
    assert_eq!((&document["identity"]["model"], &document["errors"]), (&"Old one".into(), &Value::Null));
    assert_eq!(document["several_in_one_message"], "neither answer nor error");
    let heard = heard.join().unwrap();
    assert!(heard.len() > 5, "{heard:?}");
    for unit in heard.iter().flat_map(|line| line.split(';')) {
        assert!(unit.trim().ends_with('?'), "{heard:?}");
    }
}

#[test]
fn who_does_not_answer_and_what_is_wrong() {
    let workshop = Workshop::new();
    workshop.write("rule.yaml", "rule: none\n");
    let mute = TcpListener::bind("127.0.0.1:0").unwrap();
    let port = mute.local_addr().unwrap().port();
    let called = workshop.call(&["identify", &address(port), "--within", "100 ms"]);
    assert_eq!(called.exit, 4, "{called:?}");
    assert!(
        called.talk.contains("expected an answer to `*IDN?`") && called.talk.contains("0.1 s"),
        "{called:?}"
    );
    drop(mute);
    let called = workshop.call(&["identify", &address(port)]);
    assert_eq!(called.exit, 4, "{called:?}");
    assert!(called.talk.contains("is it switched on"), "{called:?}");
    for arguments in [
        &["identify"][..],
        &["identify", "192.0.2.20"],
        &["identify", &address(port), "--profile", "analyser-generc"],
        &["identify", &address(port), "--profile", "rule.yaml"],
        &["identify", &address(port), "--within", "3"],
        &["identify", &address(port), "--within", "3 h"],
        &["identify", &address(port), "--within", "3000 s"],
    ] {
        let called = workshop.call(arguments);
        assert_eq!(called.exit, 2, "{arguments:?}: {called:?}");
    }
}
