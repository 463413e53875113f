//! The test of comparisons on many pairs of runs, for `scripts/compare-pairs`.

use std::io::Write;
use std::process::ExitCode;

use clap::Parser;
use spurline_clock::Pace;
use spurline_tests::pairs::{counted, page};

/// Measure units twice, shift what is to be found, and hold what a comparison says against it
///
/// Ends with 0 if the promised shares are kept, 1 if one is missed.
#[derive(Debug, Parser)]
struct Arguments {
    /// The first seed
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// How many pairs
    #[arg(long, default_value_t = 500)]
    pairs: u64,
    /// Pairs that are measured at the same time
    #[arg(long, default_value_t = 2)]
    threads: usize,
}

fn main() -> ExitCode {
    let arguments = Arguments::parse();
    let done = spurline_clock::run(Pace::Real, |clock| async move {
        let count = counted(arguments.seed..arguments.seed + arguments.pairs, arguments.threads);
        (count, clock.elapsed())
    });
    let Ok((count, took)) = done else { return ExitCode::from(2) };
    let text = format!("{}took {:.1} s\n", page(&count), took.as_secs_f64());
    if std::io::stdout().write_all(text.as_bytes()).is_err() {
        return ExitCode::from(2);
    }
    ExitCode::from(u8::from(!count.keeps_all()))
}
