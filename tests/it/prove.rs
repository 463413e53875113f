//! A bench is proven by a generator's known lines, from the command line to the header of the next run.

use std::io::{BufRead, BufReader, Read, Write};
use std::net::{TcpListener, TcpStream};
use std::process::{Child, Stdio};
use std::time::Duration;

use serde_json::Value;

use crate::bench::{Called, PARTS, Workshop, instruments, plan, root, simulated, simulated_bench};
use crate::processes::signal;

/// How the generator stands in a bench file, after `from` was replaced by `to`.
fn generator((from, to): (&str, &str)) -> String {
    let text = "generator: { at: \"TCPIP::127.0.0.1::25035::SOCKET\", profile: generator-generic, \
                through: [ { attenuator: 16 dB, over: 1 MHz..3.2 GHz, uncertainty: 0.1 dB, name: arm, vswr: 1.1 } ], \
                beside_carrier: true, isolation: 30 dB }\n";
    assert!(text.contains(from), "{from}");
    text.replace(from, to)
}

const AS_IT_IS: (&str, &str) = ("generator:", "generator:");

/// The truth of the generator; `more` are keys of it.
fn truth(more: &str) -> String {
    format!(
        "  generator: {{ level_error: 0.1 dB, harmonics: {{ 2: 35 dB }}, vswr: 1.2, unit_loss: 6 dB,\n    \
         through: [ {{ name: arm, pad: 16 dB, vswr: 1.1 }} ]{more} }}\n"
    )
}

/// A simulated bench with a generator.
fn bench(used: &str, more: &str) -> String {
    let bench = simulated_bench(3, more);
    let (wiring, simulated) = bench.split_once("simulated:").unwrap();
    format!("{wiring}{used}simulated:{simulated}")
}

fn workshop(used: &str, more: &str) -> Workshop {
    Workshop::with(&plan("146 MHz", 3), &bench(used, more))
}

const WITH_PLAN: [&str; 5] = ["prove", "bench.yaml", "--plan", "plan.yaml", "--json"];

/// The lines of a proof: frequency in MHz, outcome, and whether it was beside a carrier.
fn lines(proof: &Value) -> Vec<(f64, String, bool)> {
    let line = |line: &Value| {
        let mhz = line["frequency_hz"].as_f64().unwrap() / 1e6;
        (mhz, line["outcome"].as_str().unwrap().to_owned(), !line["beside_carrier_hz"].is_null())
    };
    proof["lines"].as_array().unwrap().iter().map(line).collect()
}

/// The first note of the run that is made now.
fn note_of_run(workshop: &Workshop) -> String {
    let called = workshop.call(&["run", "plan.yaml", "--json"]);
    called.json()["notes"][0].as_str().unwrap().to_owned()
}

#[test]
fn known_lines_are_read_within_their_uncertainty_alone_and_beside_a_carrier() {
    let workshop = workshop(&generator(AS_IT_IS), &truth(""));
    assert!(note_of_run(&workshop).contains("never proven"));
    let called = workshop.call(&[&WITH_PLAN[..], &["--at", "439 MHz"]].concat());
    assert_eq!(called.exit, 0, "{called:?}");
    let proof = called.json();
    let lines = lines(&proof);
    assert!(lines.iter().all(|(_, outcome, _)| outcome == "proven"), "{lines:?}");
    let beside = lines.iter().filter(|(_, _, beside)| *beside).count();
    assert!(beside >= 6 && lines.len() - beside >= 12, "{lines:?}");
    assert!(lines.iter().any(|(mhz, _, _)| (*mhz - 439.0).abs() < 1e-6), "{lines:?}");
    for line in proof["lines"].as_array().unwrap() {
        // The generator gives 0.1 dB more than it says, and its own budget line allows for 0.5 dB.
        let budget = line["budget"]["lines"].as_array().unwrap();
        let names: Vec<&str> = budget.iter().map(|line| line["name"].as_str().unwrap()).collect();
        assert!(names.contains(&"generator: level") && names.contains(&"path: arm"), "{names:?}");
        assert!(names.iter().any(|name| name.starts_with("mismatch: generator to ")), "{names:?}");
        assert!(!names.iter().any(|name| name.contains("unit")), "{names:?}");
    }
    let note = note_of_run(&workshop);
    assert!(note.starts_with("the bench was proven on ") && note.contains("(today)"), "{note}");
    let page = workshop.call(&["report", "last"]).out;
    assert!(page.contains("the bench was proven on "), "the report says when");
}

/// The pad's table says 30 dB; it is 31 dB, and U of a difference is about 1.1 dB: with 1.4 dB more nothing is right any
/// more, and the frequencies are told.
#[test]
fn a_pad_that_is_not_as_its_table_says_is_found_out() {
    let wrong = bench(&generator(AS_IT_IS), &truth("")).replace("pad: 30 dB", "pad: 31.5 dB");
    let workshop = Workshop::with(&plan("146 MHz", 3), &wrong);
    let called = workshop.call(&["prove", "bench.yaml"]);
    assert_eq!(called.exit, 1, "{called:?}");
    assert!(called.out.contains("not proven"), "{}", called.out);
    for mhz in ["1 MHz", "54.8 MHz"] {
        assert!(called.out.contains(&format!("{mhz} at -20.0 dBm")), "{mhz}: {}", called.out);
    }
    assert!(called.out.contains("too low, where"), "{}", called.out);
    let note = note_of_run(&workshop);
    assert!(note.contains("failed at 1 MHz"), "{note}");
}

/// An analyser and a generator that are known well leave 1 dB of the path no room.
#[test]
fn one_decibel_is_found_out_where_the_instruments_are_good_enough() {
    let workshop =
        workshop(&generator(AS_IT_IS), &truth("").replace("level_error: 0.1 dB", "level_error: 0 dB"));
    let shipped = |name: &str| std::fs::read_to_string(root().join("config/profiles").join(name)).unwrap();
    let analyser = shipped("analyser-generic.yaml").replace("within: 0.6 dB", "within: 0.2 dB");
    workshop.write("analyser-generic.yaml", &analyser);
    workshop.write("generator-generic.yaml", &shipped("generator-generic.yaml").replace("0.5 dB", "0.1 dB"));
    let bench = std::fs::read_to_string(workshop.path("bench.yaml")).unwrap();
    let bench = bench.replace(
        "serial: A-0001, firmware: 1.0 } }",
        "serial: A-0001, firmware: 1.0 }, level_error: 0 dB, response_spread: 0.03 dB, attenuator_spread: 0.03 dB }",
    );
    workshop.write("bench.yaml", &bench);
    let good = workshop.call(&["prove", "bench.yaml"]);
    assert_eq!(good.exit, 0, "{good:?}");
    workshop.write("bench.yaml", &bench.replace("pad: 30 dB", "pad: 31 dB"));
    let off = workshop.call(&["prove", "bench.yaml", "--json"]);
    assert_eq!(off.exit, 1, "{off:?}");
    let wrong = lines(&off.json()).iter().filter(|(_, outcome, _)| outcome == "not-proven").count();
    assert!(wrong >= 8, "{}", off.out);
}

#[test]
fn a_line_that_is_not_there_is_not_proven() {
    // The generator's arm hangs in the air.
    let workshop = workshop(&generator(AS_IT_IS), &truth("").replace("pad: 16 dB", "pad: 90 dB"));
    let called = workshop.call(&["prove", "bench.yaml"]);
    assert_eq!(called.exit, 1, "{called:?}");
    assert!(called.out.contains("no line stands out of the noise"), "{}", called.out);
}

#[test]
fn a_generator_that_does_not_answer_is_told_and_nothing_is_keyed() {
    let mute = format!(
        "{}  faults: [ {{ instrument: generator, does: mute-link, after_messages: 12 }} ]\n",
        truth("")
    );
    let called = workshop(&generator(AS_IT_IS), &mute).call(&WITH_PLAN);
    assert_eq!(called.exit, 4, "{called:?}");
    assert!(called.talk.contains("the generator failed"), "{called:?}");
    assert!(called.talk.contains("the generator's output may still be on"), "{called:?}");
}

fn refused(used: &str, arguments: &[&str], says: &[&str]) -> Called {
    let called = workshop(used, &truth("")).call(arguments);
    assert_eq!(called.exit, 2, "{called:?}");
    for text in says {
        assert!(called.talk.contains(text), "`{text}` is not in:\n{}", called.talk);
    }
    called
}

#[test]
fn what_cannot_be_proven_is_refused_before_anything_is_connected() {
    let used = generator(AS_IT_IS);
    refused(&used, &["prove", "bench.yaml", "--at", "5 GHz"], &["5 GHz cannot be read by the path `direct`"]);
    refused(&used, &["prove", "bench.yaml", "--path", "round"], &["no path `round`", "direct"]);
    refused("", &["prove", "bench.yaml"], &["has no signal generator"]);
    // 5.5 W are 37.4 dBm; 20 dB less are 17.4 dBm, within 3 dB of the 20 dBm that its output bears.
    refused(
        &generator(("isolation: 30", "isolation: 20")),
        &WITH_PLAN,
        &["17.4 dBm", "which 20.0 dBm destroys"],
    );
    let unstated = generator((", isolation: 30 dB", ""));
    refused(&unstated, &["prove", "bench.yaml"], &["nothing says how much of the unit's power"]);
}

#[test]
fn without_a_combiner_nothing_is_keyed() {
    let alone = generator((", beside_carrier: true, isolation: 30 dB", ""));
    let called = workshop(&alone, &truth("")).call(&WITH_PLAN);
    assert_eq!(called.exit, 0, "{called:?}");
    assert!(lines(&called.json()).iter().all(|(_, _, beside)| !beside));
}

/// A bench in another process, in real time, with a generator that gives few frequencies: (address of its first port).
fn served(workshop: &Workshop) -> (Child, u16) {
    let port =
        std::iter::repeat_with(|| TcpListener::bind("127.0.0.1:0").unwrap().local_addr().unwrap().port())
            .find(|first| (*first..first + 5).all(|port| TcpListener::bind(("127.0.0.1", port)).is_ok()))
            .unwrap();
    let narrow = std::fs::read_to_string(root().join("config/profiles/generator-generic.yaml")).unwrap();
    let narrow = narrow.replace("100 kHz..3 GHz", "100..101 MHz").replace("-110..13 dBm", "-10..0 dBm");
    workshop.write("generator-generic.yaml", &narrow);
    let used = generator(("25035", &(port + 4).to_string()));
    let wired = [instruments(port, "A-0001"), PARTS.to_owned(), used].concat();
    workshop.write("bench.yaml", &wired);
    workshop.write("served.yaml", &[wired, simulated(5, &truth(""))].concat());
    let mut child = workshop.command(&["sim", "served.yaml"]).stdout(Stdio::piped()).spawn().unwrap();
    let mut lines = BufReader::new(child.stdout.take().unwrap()).lines().map(Result::unwrap);
    assert!(lines.any(|line| line == "ready"));
    (child, port)
}

/// What an instrument answers `1` or `0` to.
fn answers(port: u16, question: &str) -> bool {
    let mut link = TcpStream::connect(("127.0.0.1", port)).unwrap();
    link.set_read_timeout(Some(Duration::from_secs(5))).unwrap();
    link.write_all(format!("{question}\n").as_bytes()).unwrap();
    let mut answer = [0; 2];
    link.read_exact(&mut answer).unwrap();
    answer[0] == b'1'
}

/// Stopped while the output is on: first alone, then while the unit is keyed beside it.
#[test]
fn stopped_it_leaves_the_key_up_and_the_output_off() {
    let workshop = Workshop::with(&plan("146 MHz", 3), "");
    let (mut bench, port) = served(&workshop);
    let keyed = || answers(port + 3, "ROUT:CLOS? (@1)");
    let gives = || answers(port + 4, "OUTP?");
    for wait_for_key in [false, true] {
        let mut child = workshop
            .command(&["prove", "bench.yaml", "--plan", "plan.yaml", "--connected"])
            .stdout(Stdio::null())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let mut asked = 0;
        while !(gives() && keyed() == wait_for_key) {
            std::thread::sleep(Duration::from_millis(20));
            asked += 1;
            assert!(asked < 3000, "it never came so far");
        }
        signal("-INT", &child);
        let mut said = String::new();
        child.stderr.take().unwrap().read_to_string(&mut said).unwrap();
        assert_eq!(child.wait().unwrap().code(), Some(130), "{said}");
        assert!(said.contains("the key is up and the generator's output is off"), "{said}");
        assert!(!gives() && !keyed(), "{said}");
    }
    assert!(note_of_run(&workshop).contains("never proven"), "what was stopped proves nothing");
    bench.kill().unwrap();
    bench.wait().unwrap();
}

/// An output that somebody left on goes off before anything else, and stays off when the bench then fails.
#[test]
fn a_bench_that_fails_is_left_with_the_output_off() {
    let workshop = Workshop::with(&plan("146 MHz", 3), "");
    let (mut bench, port) = served(&workshop);
    let silent = std::fs::read_to_string(workshop.path("bench.yaml")).unwrap();
    // Another analyser than the one that is pinned is found out after the generator was set up.
    workshop.write("bench.yaml", &silent.replace("serial: A-0001", "serial: A-0002"));
    let mut generator = TcpStream::connect(("127.0.0.1", port + 4)).unwrap();
    generator.write_all(b"POW -5;:OUTP ON\n").unwrap();
    while !answers(port + 4, "OUTP?") {}
    let called = workshop.call(&["prove", "bench.yaml", "--connected"]);
    assert_eq!(called.exit, 4, "{called:?}");
    assert!(!answers(port + 4, "OUTP?"), "{called:?}");
    bench.kill().unwrap();
    bench.wait().unwrap();
}

/// Identifying asks and does nothing else: what the generator gives stays as it is.
#[test]
fn a_generator_is_only_asked_while_it_is_identified() {
    let workshop = Workshop::with(&plan("146 MHz", 3), "");
    let (mut bench, port) = served(&workshop);
    let address = format!("TCPIP::127.0.0.1::{}::SOCKET", port + 4);
    let mut generator = TcpStream::connect(("127.0.0.1", port + 4)).unwrap();
    generator.write_all(b"FREQ 123 MHZ;:POW -5;:OUTP ON\n").unwrap();
    while !answers(port + 4, "OUTP?") {}
    let called = workshop.call(&["identify", &address, "--profile", "generator-generic", "--json"]);
    assert_eq!(called.exit, 0, "{called:?}");
    assert!(called.out.contains("123000000 Hz, -5 dBm, output on"), "{}", called.out);
    assert!(answers(port + 4, "OUTP?"), "it was left alone");
    bench.kill().unwrap();
    bench.wait().unwrap();
}

/// A run leaves the generator alone, and its replay does not miss it.
#[test]
fn a_run_on_a_bench_with_a_generator_is_replayed_without_it() {
    let workshop = workshop(&generator(AS_IT_IS), &truth(""));
    assert_eq!(workshop.call(&["run", "plan.yaml"]).exit, 1);
    let transcript = workshop.call(&["show", "last", "--transcript"]).out;
    assert!(!transcript.contains("generator"), "nothing is said to it");
    let replayed = workshop.call(&["replay", "last"]);
    assert_eq!(replayed.exit, 0, "{replayed:?}");
}

#[test]
fn on_a_real_bench_somebody_must_connect_it() {
    let workshop = workshop(&generator(AS_IT_IS), &truth(""));
    let bench = std::fs::read_to_string(workshop.path("bench.yaml")).unwrap();
    workshop.write("bench.yaml", bench.split("simulated:").next().unwrap());
    let called = workshop.call(&["prove", "bench.yaml"]);
    assert_eq!(called.exit, 2, "{called:?}");
    assert!(called.talk.contains("--connected"), "{called:?}");
}

/// What keys beside the generator must be armed, before anything is connected; what keys nothing need not be.
#[test]
fn a_real_bench_is_keyed_beside_the_generator_only_once_it_is_armed() {
    let workshop = workshop(&generator(AS_IT_IS), &truth(""));
    let bench = std::fs::read_to_string(workshop.path("bench.yaml")).unwrap();
    let real = bench.split("simulated:").next().unwrap().replace("armed: true\n", "");
    workshop.write("bench.yaml", &real);
    let called = workshop.call(&["prove", "bench.yaml", "--plan", "plan.yaml", "--connected"]);
    assert_eq!(called.exit, 4, "{called:?}");
    assert!(called.talk.contains("nobody has said that this bench may key"), "{called:?}");
    for arguments in [
        &["prove", "bench.yaml", "--connected"][..],
        &["prove", "bench.yaml", "--plan", "plan.yaml", "--connected", "--arm"],
    ] {
        let called = workshop.call(arguments);
        assert!(called.exit == 4 && !called.talk.contains("may key"), "nobody answers there: {called:?}");
    }
}

/// A date that has passed is told in the header, marked in the report, and refused where the plan wants that.
#[test]
fn expired_calibrations_are_told_marked_and_refused() {
    let dated = simulated_bench(3, "")
        .replace(
            "serial: A-0001 }",
            "serial: A-0001, calibrated: 2019-01-10, due: 2020-01-10, certificate: C-9 }",
        )
        .replace("name: pad, vswr: 1.1", "name: pad, vswr: 1.1, due: 2021-02-03");
    let workshop = Workshop::with(&plan("146 MHz", 3), &dated);
    let called = workshop.call(&["run", "plan.yaml", "--json"]);
    let notes = called.json()["notes"].to_string();
    for told in [
        "the calibration of the analyser was good until 2020-01-10",
        "the calibration of `pad` was good until 2021-02-03",
    ] {
        assert!(notes.contains(told), "{notes}");
    }
    assert_eq!(called.json()["layout"]["calibrations"].as_array().map(Vec::len), Some(2), "{}", called.out);
    let page = workshop.call(&["report", "last"]).out;
    assert_eq!(page.matches("calibration expired on 2020-01-10").count(), 1, "the analyser is marked");
    assert_eq!(page.matches("calibration expired on 2021-02-03").count(), 1, "the pad is marked");
    let refusing = plan("146 MHz", 3) + "expired_calibration: refuse\n";
    workshop.write("plan.yaml", &refusing);
    let refused = workshop.call(&["run", "plan.yaml"]);
    assert_eq!(refused.exit, 2, "{refused:?}");
    assert!(refused.talk.contains("expired_calibration: refuse"), "{refused:?}");
    assert_eq!(workshop.call(&["runs", "--json"]).json()["runs"].as_array().map(Vec::len), Some(1));
}
