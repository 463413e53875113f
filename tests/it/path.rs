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
