//! Runs the truth test: `truth --units 1000 --seed 1..5 [--threads 2]`, or `truth --phases`.

#![expect(clippy::print_stdout, reason = "it talks to whoever started it")]

use std::error::Error;
use std::sync::atomic::{AtomicU64, Ordering};
use std::thread;

use spurline_clock::Pace;
use spurline_record::Outcome;
use spurline_tests::truth::{Case, Tally, phases, run};

/// Cases of one seed are as far from those of the next.
const APART: u64 = 1_000_000;

fn main() -> Result<(), Box<dyn Error>> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let value = |name: &str| {
        arguments.iter().position(|word| word == name).and_then(|place| arguments.get(place + 1)).cloned()
    };
    let threads = value("--threads").map_or(Ok(2), |text| text.parse())?;
    if arguments.iter().any(|word| word == "--phases") {
        return all_phases(threads);
    }
    let clock = spurline_clock::run(Pace::Real, |clock| async move { clock })?;
    let units: u64 = value("--units").map_or(Ok(1000), |text| text.parse())?;
    let mut missed = false;
    for seed in seeds(&value("--seed").unwrap_or_else(|| "1".to_owned()))? {
        let began = clock.now();
        let cases = (0..units).map(|unit| seed * APART + unit).collect::<Vec<u64>>();
        let tally = over(&cases, threads, |seed, tally: &mut Tally| {
            let case = Case::draw(seed);
            match run(&case) {
                Ok(ran) => tally.add(&case, &ran),
                Err(error) => tally.failed.push((seed, error.to_string())),
            }
        });
        println!("seed {seed}\n{tally}");
        println!("took                                     {:.1} s", clock.now().since(began).as_secs_f64());
        for line in tally.missed() {
            println!("MISSED {line}");
            missed = true;
        }
        println!();
    }
    if missed { Err("a target was missed".into()) } else { Ok(()) }
}

/// `3`, `1..5` with both ends, or `1,2,7`.
fn seeds(text: &str) -> Result<Vec<u64>, std::num::ParseIntError> {
    if let Some((first, last)) = text.split_once("..") {
        return Ok((first.parse()?..=last.parse()?).collect());
    }
    text.split(',').map(str::parse).collect()
}

/// Does the work for every item on several threads.
fn over(items: &[u64], threads: usize, work: impl Fn(u64, &mut Tally) + Sync) -> Tally {
    let next = AtomicU64::new(0);
    let mut whole = Tally::default();
    thread::scope(|scope| {
        let part = || {
            let mut tally = Tally::default();
            while let Some(item) = items.get(next.fetch_add(1, Ordering::Relaxed) as usize) {
                work(*item, &mut tally);
            }
            tally
        };
        let parts: Vec<_> = (0..threads.max(1)).map(|_| scope.spawn(part)).collect();
        for part in parts {
            whole.merge(part.join().expect("a part that panicked has said why"));
        }
    });
    whole
}

/// Orders 2 and 3, 360 phases, ratios from 0.1 to 2, 3 dB over the limit and 3 dB under it.
fn all_phases(threads: usize) -> Result<(), Box<dyn Error>> {
    const RATIOS: [f64; 6] = [0.1, 0.3, 0.5, 1.0, 1.4, 2.0];
    let mut missed = false;
    for order in [2, 3] {
        for over_limit in [3.0, -3.0] {
            for ratio in RATIOS {
                let phases: Vec<u64> = (0..360).collect();
                let tally = over(&phases, threads, |phase, tally| {
                    let case = phases::case(order, over_limit, ratio, phase as f64);
                    match run(&case) {
                        Ok(ran) => tally.add(&case, &only(order, ran)),
                        Err(error) => tally.failed.push((phase, error.to_string())),
                    }
                });
                let wrong =
                    tally.complies_beyond.len() + tally.exceeds_inside.len() + tally.false_within.of as usize;
                println!(
                    "order {order}, {over_limit:+} dB, ratio {ratio}: {wrong} wrong, {} undecided of {}, {} failed",
                    tally.undecided_far.of + tally.undecided_near.of,
                    tally.readings,
                    tally.failed.len()
                );
                missed |= wrong > 0 || !tally.failed.is_empty();
            }
        }
    }
    if missed { Err("a wrong outcome".into()) } else { Ok(()) }
}

/// The reading of one order, which counts as able so that what stays undecided is counted.
fn only(order: u32, mut ran: spurline_tests::truth::Ran) -> spurline_tests::truth::Ran {
    ran.readings.retain(|reading| reading.order == Some(order) && reading.outcome != Outcome::NoLimit);
    ran.able = vec![order];
    ran
}
