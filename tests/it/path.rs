//! The loss of a path is measured by substitution, written as a table, and used by a bench.

use std::io::{BufRead, BufReader, Read, Write};
use std::net::{TcpListener, TcpStream};
use std::process::{Child, Stdio};
use std::time::Duration;

use serde_json::Value;
use spurline_document::{Document, Reader};
use spurline_sim::{End, Section, SimulatedBench, true_loss};
use spurline_units::Hertz;

use crate::bench::{PARTS, Workshop, instruments, plan, root, simulated, simulated_bench};
use crate::processes::signal;

const GENERATOR: &str =
    "generator: { at: \"TCPIP::127.0.0.1::25035::SOCKET\", profile: generator-generic }\n";

/// The truth of a generator and of a bench that is just as good as the profiles state; `more` are keys of the generator.
fn truth(more: &str) -> String {
    format!("  generator: {{ harmonics: {{ 2: 30 dB, 3: 30 dB }}, vswr: 1.5{more} }}\n")
}

/// What a joint scatters and how the level goes over frequency.
const USUAL: &str = ", response_spread: 0.3 dB, reconnection: 0.02 dB";

fn bench(seed: u64, more: &str) -> String {
    let bench = simulated_bench(seed, &truth(more)).replace(
        "power_meter: {}",
        "power_meter: { vswr: 1.15, zero: 29 nW, linearity: { within: 0.03 dB, distribution: rectangular } }",
    );
    let (wiring, simulated) = bench.split_once("simulated:").unwrap();
    format!("{wiring}{GENERATOR}simulated:{simulated}")
}

fn workshop(more: &str) -> Workshop {
    Workshop::with(&plan("146 MHz", 3), &bench(3, more))
}

const PATH: [&str; 6] = ["path", "bench.yaml", "--out", "way.yaml", "--points", "8"];

/// Frequency, loss and uncertainty of each point.
fn losses(document: &Value) -> Vec<(Hertz, f64, f64)> {
    let number = |loss: &Value, key: &str| loss[key].as_f64().unwrap();
    let losses = document["losses"].as_array().unwrap();
    let loss = |loss: &Value| {
        let at = Hertz::new(number(loss, "frequency_hz"));
        (at, number(loss, "loss_db"), number(loss, "expanded_uncertainty_db"))
    };
    losses.iter().map(loss).collect()
}

fn simulated_part(bench: &str) -> SimulatedBench {
    let document = Document::parse("bench.yaml", bench).unwrap();
    let mut reader = Reader::new(&document);
    let node = document.root.get("simulated").unwrap();
    let read = SimulatedBench::read(&mut reader, node);
    reader.finish(read).unwrap()
}

const WHOLE: Section = Section { of: End::Analyser, from: 0, to: usize::MAX, read_by: End::PowerMeter };

/// How many frequencies there were, how many lay outside U, the mean U and the root mean square of the errors, over
/// seeds from 1 on.
fn counted(seeds: u64, arguments: &[&str], bench: impl Fn(u64) -> String + Sync) -> (u32, u32, f64, f64) {
    let one = |seed: u64| {
        let text = bench(seed);
        let workshop = Workshop::with(&plan("146 MHz", 3), &text);
        let called =
            workshop.call(&[&["path", "bench.yaml", "--out", "way.yaml", "--json"], arguments].concat());
        assert_eq!(called.exit, 0, "seed {seed}: {called:?}");
        let truth = simulated_part(&text);
        let error =
            |(at, loss, within): (Hertz, f64, f64)| (loss - true_loss(&truth, WHOLE, at).get(), within);
        losses(&called.json()).into_iter().map(error).collect::<Vec<_>>()
    };
    let all: Vec<(f64, f64)> = std::thread::scope(|scope| {
        let half = |odd: u64| {
            let one = &one;
            scope.spawn(move || (1..=seeds).filter(|seed| seed % 2 == odd).flat_map(one).collect::<Vec<_>>())
        };
        let threads = [half(0), half(1)];
        threads.into_iter().flat_map(|thread| thread.join().unwrap()).collect()
    });
    let outside = all.iter().filter(|(error, within)| error.abs() > *within).count() as u32;
    let count = all.len() as f64;
    let mean = all.iter().map(|(_, within)| within).sum::<f64>() / count;
    let square = all.iter().map(|(error, _)| error * error).sum::<f64>() / count;
    (all.len() as u32, outside, mean, square.sqrt())
}

/// As many as `SPURLINE_PATH_SEEDS` says; for the figures in the book.
fn seeds(usual: u64) -> u64 {
    std::env::var("SPURLINE_PATH_SEEDS").ok().and_then(|text| text.parse().ok()).unwrap_or(usual)
}

/// With the power meter, on benches that are just as good as the profiles state. Of 95 % intervals one of twenty may
/// miss; that of a sum in which a U-shaped share is large misses less often. None at all would be a U that is too wide.
#[test]
fn the_true_loss_lies_within_the_uncertainty_by_the_power_meter() {
    let (count, outside, mean, square) =
        counted(seeds(100), &["--points", "12", "--with", "power-meter"], |seed| bench(seed, USUAL));
    println!("power meter: {outside} of {count} outside, U {mean:.3} dB, errors {square:.3} dB");
    assert!(count >= 1000 && outside > 0, "{outside} of {count}");
    assert!(f64::from(outside) <= 0.06 * f64::from(count), "{outside} of {count}");
    assert!(mean < 1.4 * 2.0 * square, "U is {mean}, the errors' root mean square {square}");
}

/// The same with the analyser, whose scale is as wrong as its profile states.
#[test]
fn the_true_loss_lies_within_the_uncertainty_by_the_analyser() {
    let as_stated = |seed: u64| {
        bench(seed, USUAL).replace(
            "serial: A-0001, firmware: 1.0 } }",
            "serial: A-0001, firmware: 1.0 }, vswr: 1.5, \
             errors: { scale_fidelity: { within: 0.2 dB, distribution: rectangular } } }",
        )
    };
    let (count, outside, mean, square) =
        counted(seeds(60), &["--points", "10", "--with", "analyser"], as_stated);
    println!("analyser: {outside} of {count} outside, U {mean:.3} dB, errors {square:.3} dB");
    assert!(count >= 600 && outside > 0, "{outside} of {count}");
    assert!(f64::from(outside) <= 0.06 * f64::from(count), "{outside} of {count}");
    assert!(mean < 1.4 * 2.0 * square, "U is {mean}, the errors' root mean square {square}");
}

#[test]
fn what_is_asked_for_is_measured_and_every_contribution_is_told() {
    let workshop = workshop(USUAL);
    let called = workshop.call(&[&PATH[..], &["--plan", "plan.yaml", "--at", "439 MHz", "--json"]].concat());
    assert_eq!(called.exit, 0, "{called:?}");
    let document = called.json();
    assert_eq!((&document["with"], &document["outcome"]), (&"power-meter".into(), &"sound".into()));
    let losses = document["losses"].as_array().unwrap();
    for mhz in [146.0, 292.0, 438.0, 439.0] {
        let found =
            losses.iter().find(|loss| (loss["frequency_hz"].as_f64().unwrap() / 1e6 - mhz).abs() < 1e-6);
        let loss = found.unwrap_or_else(|| panic!("{mhz} MHz: {losses:?}"));
        assert_eq!(loss["needed"], true);
        assert_eq!(loss["repeats_db"].as_array().unwrap().len(), 3);
        let lines = loss["budget"]["lines"].as_array().unwrap();
        let names: Vec<&str> = lines.iter().map(|line| line["name"].as_str().unwrap()).collect();
        for name in [
            "power meter: linearity, straight",
            "power meter: linearity, through the path",
            "power meter: zero, through the path",
            "mismatch, straight: generator to power-meter",
            "mismatch, through the path: generator to pad of the path",
            "mismatch, through the path: splitter of the path to power-meter",
            "repeats",
            "generator: drift",
            "line between the points",
        ] {
            assert!(names.contains(&name), "{name}: {names:?}");
        }
        // Pad and splitter meet each other in the path: that belongs to its loss.
        assert!(!names.iter().any(|name| name.contains("pad of the path to splitter")), "{names:?}");
        let repeats = lines.iter().find(|line| line["name"] == "repeats").unwrap();
        assert_eq!(repeats["freedom"], 2.0);
    }
    let text = std::fs::read_to_string(workshop.path("way.yaml")).unwrap();
    for told in ["calibrated: 20", "due: 20", "G-0001", "repeats: 3", "simulated: 3", "path: direct"] {
        assert!(text.contains(told), "{told}: {text}");
    }
    // It is not written over unasked, before anything is connected.
    let again = workshop.call(&PATH);
    assert!(again.exit == 2 && again.talk.contains("is there already"), "{again:?}");
    assert_eq!(workshop.call(&[&PATH[..], &["--replace"]].concat()).exit, 0);
}

/// The table in place of the parts: the same readings within both uncertainties; and it expires.
#[test]
fn a_bench_uses_the_table_and_it_expires() {
    let workshop = workshop(USUAL);
    let carrier = |called: &crate::bench::Called| {
        let readings = called.json();
        readings["readings"][1]["level_dbm"].as_f64().unwrap()
    };
    let before = workshop.call(&["run", "plan.yaml", "--json"]);
    let measured =
        workshop.call(&[&PATH[..], &["--plan", "plan.yaml", "--good-for", "30d", "--json"]].concat());
    assert_eq!(measured.exit, 0, "{measured:?}");
    let text = std::fs::read_to_string(workshop.path("bench.yaml")).unwrap();
    let measured = text
        .replace("common: [ { attenuator: 30 dB, over: 1 MHz..3.2 GHz, rated: 25 W, uncertainty: 0.1 dB, name: pad, vswr: 1.1 } ]", "common: []")
        .replace(
            "analyser: [ { attenuator: 6 dB, over: 1 MHz..3.2 GHz, uncertainty: 0.1 dB, name: splitter, vswr: 1.1 } ]",
            "analyser: [ { loss: way.yaml, rated: 25 W, vswr: 1.1 } ]",
        )
        .replace("{ attenuator: 6 dB, over: 1 MHz..3.2 GHz, uncertainty: 0.1 dB, name: other, vswr: 1.1 }",
            "{ attenuator: 36 dB, over: 1 MHz..3.2 GHz, uncertainty: 0.2 dB, rated: 25 W, name: other, vswr: 1.1 }");
    workshop.write("bench.yaml", &measured);
    let with_table = workshop.call(&["run", "plan.yaml", "--json"]);
    assert_eq!(with_table.exit, before.exit, "{with_table:?}");
    assert!((carrier(&before) - carrier(&with_table)).abs() < 0.4, "{before:?} {with_table:?}");
    let shown = workshop.call(&["show", "last", "--reading", "2"]).out;
    assert!(shown.contains("way.yaml"), "{shown}");
    let table = std::fs::read_to_string(workshop.path("way.yaml")).unwrap();
    let days = table.lines().find(|line| line.starts_with("due: ")).unwrap().to_owned();
    let made = table.lines().find(|line| line.starts_with("calibrated: ")).unwrap().to_owned();
    let old = table.replace(&days, "due: 2021-02-03").replace(&made, "calibrated: 2020-02-03");
    workshop.write("way.yaml", &old);
    let expired = workshop.call(&["run", "plan.yaml", "--json"]).json();
    assert!(
        expired["notes"].to_string().contains("`way.yaml` was good until 2021-02-03"),
        "{}",
        expired["notes"]
    );
}

/// 20 dB in an hour of virtual time: far more than a tenth of a dB over the connections.
#[test]
fn a_generator_that_drifts_makes_it_invalid() {
    let workshop = workshop(", drift: 20 dB");
    let called = workshop.call(&PATH);
    assert_eq!(called.exit, 1, "{called:?}");
    assert!(called.out.contains("invalid, nothing was written"), "{called:?}");
    assert!(called.out.contains("the generator's level moved by"), "{called:?}");
    assert!(!workshop.path("way.yaml").exists());
    let steady = workshop_of(&bench(3, ", drift: 0.2 dB"));
    assert_eq!(steady.call(&PATH).exit, 0);
}

fn workshop_of(bench: &str) -> Workshop {
    Workshop::with(&plan("146 MHz", 3), bench)
}

/// Without a power meter, or with one that sees too little, the analyser reads.
#[test]
fn the_analyser_reads_where_the_power_meter_cannot() {
    let with = |workshop: &Workshop| {
        let called = workshop.call(&[&PATH[..], &["--json"]].concat());
        assert_eq!(called.exit, 0, "{called:?}");
        called.json()["with"].as_str().unwrap().to_owned()
    };
    let text = bench(3, USUAL);
    assert_eq!(with(&workshop_of(&text)), "power-meter");
    // 23 dB more: 13 dBm come to -46 dBm, below the meter's -30 dBm.
    let lossy = text.replace("30 dB", "53 dB").replace("2: 53 dB, 3: 53 dB", "2: 30 dB, 3: 30 dB");
    assert_eq!(with(&workshop_of(&lossy)), "analyser");
    let alone: String = text
        .lines()
        .filter(|line| !line.starts_with("power_meter:") && !line.starts_with("  power_meter:"))
        .map(|line| format!("{line}\n"))
        .collect();
    let alone =
        workshop_of(&alone.replace("    power_meter: [ { name: other, pad: 6 dB, vswr: 1.1 } ]\n", ""));
    assert_eq!(with(&alone), "analyser");
    let asked = alone.call(&[&PATH[..], &["--replace", "--with", "power-meter"]].concat());
    assert!(asked.exit == 2 && asked.talk.contains("the bench has no power-meter"), "{asked:?}");
}

/// One part alone, and a row of them: 6 dB, and 36 dB less what is not in it.
#[test]
fn parts_are_measured_alone() {
    let workshop = workshop("");
    let loss = |arguments: &[&str]| {
        let called = workshop.call(&[&PATH[..], &["--replace", "--json"], arguments].concat());
        assert_eq!(called.exit, 0, "{called:?}");
        let document = called.json();
        (losses(&document)[3].1, document["path"].as_str().unwrap().to_owned())
    };
    let (splitter, name) = loss(&["--part", "splitter"]);
    assert!((splitter - 6.0).abs() < 0.1 && name == "direct, splitter", "{splitter} {name}");
    let (pad, _) = loss(&["--to", "pad"]);
    assert!((pad - 30.0).abs() < 0.2, "{pad}");
    let (whole, name) = loss(&["--way", "power_meter"]);
    assert!((whole - 36.0).abs() < 0.3 && name == "power_meter", "{whole} {name}");
}

#[test]
fn what_cannot_be_measured_is_refused_before_anything_is_connected() {
    let good = bench(3, "");
    let refused = |bench: &str, arguments: &[&str], says: &str| {
        let workshop = workshop_of(bench);
        let called = workshop.call(&[&PATH[..], arguments].concat());
        assert_eq!(called.exit, 2, "{called:?}");
        assert!(called.talk.contains(says), "`{says}` is not in:\n{}", called.talk);
        assert!(!workshop.path("way.yaml").exists());
    };
    refused(&good.replace(GENERATOR, ""), &[], "has no signal generator");
    refused(&good, &["--at", "5 GHz"], "the loss cannot be measured at 5 GHz");
    refused(&good, &["--way", "round"], "the bench has no path `round`");
    refused(&good, &["--part", "cable"], "the path `direct` has no part `cable`");
    refused(&good, &["--from", "splitter", "--to", "pad"], "no part to be measured");
    refused(&good, &["--due", "2001-01-01"], "for `--due`");
    let workshop = workshop_of(&good);
    let called = workshop.call(&["path", "bench.yaml", "--out", "gone/way.yaml"]);
    assert!(called.exit == 2 && called.talk.contains("there is no folder `gone`"), "{called:?}");
    let called = workshop.call(&["path", "bench.yaml", "--out", "way.s2p"]);
    assert!(called.exit == 2 && called.talk.contains("`.yaml`"), "{called:?}");
}

/// A bench in another process, in real time, whose generator nobody connects; its power meter is slow.
fn served(workshop: &Workshop) -> (Child, u16) {
    let port =
        std::iter::repeat_with(|| TcpListener::bind("127.0.0.1:0").unwrap().local_addr().unwrap().port())
            .find(|first| (*first..first + 5).all(|port| TcpListener::bind(("127.0.0.1", port)).is_ok()))
            .unwrap();
    let used = GENERATOR.replace("25035", &(port + 4).to_string());
    let wired = [instruments(port, "A-0001"), PARTS.to_owned(), used].concat();
    workshop.write("bench.yaml", &wired);
    let slow = simulated(5, &truth("")).replace("power_meter: {}", "power_meter: { settling: 2 s }");
    workshop.write("served.yaml", &[wired, slow].concat());
    let mut child = workshop.command(&["sim", "served.yaml"]).stdout(Stdio::piped()).spawn().unwrap();
    let mut lines = BufReader::new(child.stdout.take().unwrap()).lines().map(Result::unwrap);
    assert!(lines.any(|line| line == "ready"));
    (child, port)
}

/// Whether the generator at a port gives anything.
fn gives(port: u16) -> bool {
    let mut link = TcpStream::connect(("127.0.0.1", port + 4)).unwrap();
    link.set_read_timeout(Some(Duration::from_secs(5))).unwrap();
    link.write_all(b"OUTP?\n").unwrap();
    let mut answer = [0; 2];
    link.read_exact(&mut answer).unwrap();
    answer[0] == b'1'
}

/// The measurement as a person calls it, with what the person answers.
fn asked(workshop: &Workshop, answers: &str) -> Child {
    let mut child = workshop
        .command(&[&PATH[..], &["--with", "power-meter"]].concat())
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    child.stdin.take().unwrap().write_all(answers.as_bytes()).unwrap();
    child
}

/// How it ended, and what it said on both, as one line.
fn ended(child: Child) -> (Option<i32>, String) {
    let output = child.wait_with_output().unwrap();
    let said = [output.stdout, output.stderr].map(|bytes| String::from_utf8(bytes).unwrap()).concat();
    // Where its lines break says nothing.
    (output.status.code(), said.split_whitespace().collect::<Vec<_>>().join(" "))
}

/// On a real bench somebody is asked. Said no, or nobody there: nothing is written. Not connected although it was said so:
/// found out. Stopped while the output is on: it goes off, and nothing is written.
#[test]
fn a_person_may_say_no_or_be_wrong_or_stop_it() {
    let workshop = workshop_of("");
    let (mut bench, port) = served(&workshop);
    for answers in ["n\n", ""] {
        let (exit, said) = ended(asked(&workshop, answers));
        assert_eq!(exit, Some(130), "{said}");
        assert!(said.contains("connect the generator straight to the power meter's sensor"), "{said}");
        assert!(said.contains("nothing was written"), "{said}");
    }
    let mut child = asked(&workshop, "\n");
    let mut polls = 0;
    while !gives(port) {
        std::thread::sleep(Duration::from_millis(20));
        polls += 1;
        assert!(polls < 3000 && child.try_wait().unwrap().is_none(), "it never came so far");
    }
    signal("-INT", &child);
    let (exit, said) = ended(child);
    assert_eq!(exit, Some(130), "{said}");
    assert!(said.contains("the generator's output is off, and nothing was written"), "{said}");
    assert!(!gives(port) && !workshop.path("way.yaml").exists(), "{said}");
    let (exit, said) = ended(asked(&workshop, "\n"));
    assert_eq!(exit, Some(1), "{said}");
    assert!(said.contains("is the generator connected"), "{said}");
    assert!(!gives(port) && !workshop.path("way.yaml").exists(), "{said}");
    bench.kill().unwrap();
    bench.wait().unwrap();
}

/// The shipped tables are what the shipped command makes of the shipped bench, days aside.
#[test]
fn the_shipped_tables_are_what_the_command_writes() {
    let workshop = Workshop::new();
    let bench = root().join("config/benches/calibrated.yaml");
    let plan = root().join("config/plans/demo.yaml");
    for (way, file) in [("direct", "to-analyser.yaml"), ("power_meter", "to-power-meter.yaml")] {
        let called = workshop.call(&[
            "path",
            bench.to_str().unwrap(),
            "--plan",
            plan.to_str().unwrap(),
            "--way",
            way,
            "--out",
            file,
            "--json",
        ]);
        assert_eq!(called.exit, 0, "{called:?}");
        let undated = |text: String| -> Vec<String> {
            let is_dated = |line: &&str| line.starts_with("calibrated:") || line.starts_with("due:");
            text.lines().filter(|line| !is_dated(line)).map(str::to_owned).collect()
        };
        let shipped = std::fs::read_to_string(root().join("config/paths").join(file)).unwrap();
        let made = std::fs::read_to_string(workshop.path(file)).unwrap();
        assert_eq!(undated(made), undated(shipped), "{file} is out of date");
    }
}
