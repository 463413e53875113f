//! The test of the search on many units, for `scripts/search`.

use std::io::Write;
use std::process::ExitCode;

use clap::Parser;
use spurline_clock::Pace;
use spurline_tests::search::{Planted, counted, page};

/// Search units with planted spurious lines and hold what is found against what was planted
///
/// Ends with 0 if every target is kept, 1 if one is missed.
#[derive(Debug, Parser)]
struct Arguments {
    /// The first seed
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// How many units
    #[arg(long, default_value_t = 100)]
    units: u64,
    /// Units that are searched at the same time
    #[arg(long, default_value_t = 2)]
    threads: usize,
    /// Write plan and bench of the first seed to this folder, and search nothing
    #[arg(long, value_name = "FOLDER")]
    files: Option<std::path::PathBuf>,
}

fn main() -> ExitCode {
    let arguments = Arguments::parse();
    if let Some(folder) = &arguments.files {
        let planted = Planted::draw(arguments.seed);
        let written = std::fs::create_dir_all(folder)
            .and_then(|()| std::fs::write(folder.join("plan.yaml"), planted.plan()))
            .and_then(|()| std::fs::write(folder.join("bench.yaml"), planted.bench()));
        return ExitCode::from(u8::from(written.is_err()));
    }
    let done = spurline_clock::run(Pace::Real, |clock| async move {
        let count = counted(arguments.seed..arguments.seed + arguments.units, arguments.threads);
        (count, clock.elapsed())
    });
    let Ok((count, took)) = done else { return ExitCode::from(2) };
    let text = format!("{}took {:.1} s\n", page(&count), took.as_secs_f64());
    if std::io::stdout().write_all(text.as_bytes()).is_err() {
        return ExitCode::from(2);
    }
    ExitCode::from(u8::from(!count.keeps_all()))
}
