//! What a distribution, a coverage interval and a bound from attenuation steps cost, in microseconds: best of many.
//!
//! `cargo run --release -p spurline-judge --example speed`
#![allow(clippy::disallowed_methods, clippy::print_stdout, reason = "a stopwatch for the command line")]

use std::hint::black_box;
use std::time::Instant;

use spurline_judge::{Budget, Contribution, Distribution, StepReading, range_by_steps};
use spurline_units::{Db, Dbm};

fn timed<T>(what: &str, work: impl Fn() -> T) {
    let mut best = f64::INFINITY;
    for _ in 0..2000 {
        let began = Instant::now();
        black_box(work());
        best = best.min(began.elapsed().as_secs_f64());
    }
    println!("{what:<60} {:8.1} us", best * 1e6);
}

fn budget(lines: &[(f64, Distribution)]) -> Budget {
    let new =
        |(value, kind): &(f64, Distribution)| Contribution::new("line", Db::new(*value), *kind, "speed");
    Budget { lines: lines.iter().map(new).collect() }
}

fn main() {
    use Distribution::{Mismatch, Normal, Rectangular, Standard, UShaped};
    let certificate = Normal { k: 2.0 };
    let typical = [
        (0.6, certificate),
        (0.8, Rectangular),
        (0.3, Rectangular),
        (0.1, Rectangular),
        (0.3, Rectangular),
        (0.3, certificate),
        (0.1, Rectangular),
        (0.15, Rectangular),
        (0.588, Mismatch { product: 0.07 }),
        (0.172, Mismatch { product: 0.02 }),
        (0.2, Standard),
        (0.08, Rectangular),
        (0.112, Standard),
        (0.828, Mismatch { product: 0.1 }),
        (0.05, UShaped),
    ];
    let mut few = budget(&typical);
    few.lines[12].freedom = Some(2.0);
    let mut dominated = typical;
    dominated[13] = (4.0, Mismatch { product: 0.585 });
    let rectangles = [(1.0, Rectangular); 15];
    for (name, budget) in [
        ("15 lines of a spurious emission", budget(&typical)),
        ("the same with 2 degrees of freedom", few),
        ("the same with one echo that dominates", budget(&dominated)),
        ("15 equal rectangles", budget(&rectangles)),
    ] {
        timed(&format!("{name}: distribution"), || budget.density());
        let density = budget.density();
        timed(&format!("{name}: 95 % interval of it"), || density.interval(0.95));
        timed(&format!("{name}: coverage"), || budget.coverage(0.95));
        timed(&format!("{name}: one probability"), || density.probability_below(Db::new(1.0)));
    }
    for steps in [2, 3, 4] {
        let readings: Vec<_> = (0..steps)
            .map(|step| StepReading {
                attenuation: Db::new(10.0 * f64::from(step)),
                level: Dbm::new(-50.0 + 0.05 * f64::from(step)),
                within: Db::new(0.2),
            })
            .collect();
        timed(&format!("range by {steps} settings of the attenuator"), || range_by_steps(&readings, 2));
    }
}
