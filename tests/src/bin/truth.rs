//! The truth test on a large draw, for `scripts/truth`.

use std::io::Write;
use std::path::PathBuf;
use std::process::ExitCode;

use clap::Parser;
use spurline_clock::Pace;
use spurline_tests::truth::cases::{ALL, Sweep};
use spurline_tests::truth::{Crowd, Subject, Summary, Texts, page};

/// Measure drawn units on drawn benches and hold every outcome against the truth
///
/// Ends with 0 if every target is kept, 1 if one is missed.
#[derive(Debug, Parser)]
struct Arguments {
    /// Units under each seed
    #[arg(long, default_value_t = 1000)]
    units: u64,
    /// Seeds: one, a range such as `1..5` with both ends, or a list such as `1,4,9`
    #[arg(long, default_value = "1", value_parser = seeds)]
    seed: Seeds,
    /// Units that are measured at the same time
    #[arg(long, default_value_t = 2)]
    threads: usize,
    /// Write all figures, and every wrong outcome, to this file
    #[arg(long, value_name = "FILE")]
    json: Option<PathBuf>,
    /// Sweep the scenarios that must never fool the measurement, instead of drawing units
    #[arg(long)]
    cases: bool,
    /// Only the scenario of this name
    #[arg(long, value_name = "NAME", requires = "cases")]
    only: Option<String>,
    /// Write plan, bench, profiles and tables of one unit, `SEED:NUMBER`, to the folder `--to`, and measure nothing
    #[arg(long, value_name = "UNIT", requires = "to")]
    files: Option<String>,
    /// The folder for `--files`
    #[arg(long, value_name = "FOLDER")]
    to: Option<PathBuf>,
}

#[derive(Clone, Debug)]
struct Seeds(Vec<u64>);

fn seeds(text: &str) -> Result<Seeds, String> {
    let number = |text: &str| text.trim().parse::<u64>().map_err(|error| format!("`{text}`: {error}"));
    let seeds: Vec<u64> = match text.split_once("..") {
        Some((first, last)) => (number(first)?..=number(last)?).collect(),
        None => text.split(',').map(number).collect::<Result<_, _>>()?,
    };
    if seeds.is_empty() { Err(format!("expected seeds, found `{text}`")) } else { Ok(Seeds(seeds)) }
}

fn main() -> ExitCode {
    let arguments = Arguments::parse();
    let done = spurline_clock::run(Pace::Real, |clock| async move {
        let done = work(&arguments);
        done.map(|kept| (kept, clock.elapsed()))
    });
    match done.map_err(|error| error.to_string()).and_then(|done| done) {
        Ok((kept, took)) => {
            print(&format!("took {:.1} s\n", took.as_secs_f64()));
            ExitCode::from(u8::from(!kept))
        }
        Err(error) => {
            say(&format!("error: {error}\n"));
            ExitCode::from(2)
        }
    }
}

fn work(arguments: &Arguments) -> Result<bool, String> {
    if let (Some(unit), Some(folder)) = (&arguments.files, &arguments.to) {
        let wrong = || format!("expected `SEED:NUMBER`, found `{unit}`");
        let (seed, number) = unit.split_once(':').ok_or_else(wrong)?;
        let (seed, number) = (seed.parse().map_err(|_| wrong())?, number.parse().map_err(|_| wrong())?);
        let texts = Texts::of(&Subject::draw(seed, number)).map_err(|error| error.to_string())?;
        texts.write(folder).map_err(|error| format!("cannot write to `{}`: {error}", folder.display()))?;
        return Ok(true);
    }
    if arguments.cases {
        return Ok(cases(arguments));
    }
    let Seeds(seeds) = &arguments.seed;
    let count = seeds.len() * arguments.units as usize;
    let crowd = Crowd::measure(count, arguments.threads, |number| {
        let number = number as u64;
        Subject::draw(seeds[(number / arguments.units) as usize], number % arguments.units)
    });
    let summary = Summary::of(&crowd);
    if let Some(file) = &arguments.json {
        let text = serde_json::to_string_pretty(&summary).map_err(|error| error.to_string())?;
        std::fs::write(file, text).map_err(|error| format!("cannot write `{}`: {error}", file.display()))?;
    }
    print(&page(&summary));
    Ok(summary.keeps_all())
}

/// Whether every scenario stands.
fn cases(arguments: &Arguments) -> bool {
    let mut stands = true;
    for case in ALL.iter().filter(|case| arguments.only.as_deref().is_none_or(|name| name == case.name)) {
        let stood = case.sweep(Sweep::Whole, arguments.threads);
        print(&format!("{}\n    ({})\n", stood.words(), case.says));
        match (case.open, stood.stands()) {
            (Some(why), false) => print(&format!("    open: {why}\n")),
            (Some(_), true) => print("    no longer open: take the mark off it\n"),
            (None, _) => {}
        }
        stands &= stood.stands();
    }
    stands
}

/// Nobody may be listening any more; that changes nothing.
fn print(text: &str) {
    drop(std::io::stdout().write_all(text.as_bytes()));
}

fn say(text: &str) {
    drop(std::io::stderr().write_all(text.as_bytes()));
}
