//! Shows whether a radio transmitter is clean, by measuring it.
//!
//! The binary is thin: it reads arguments, files, the environment and signals, and hands typed things to the
//! crates that do the work. Standard output is data, standard error is talk.

#[cfg(test)]
mod book;
mod commands;
mod data;
mod exit;
mod measuring;
mod paint;
mod progress;
#[cfg(test)]
mod shipped;
mod span;
mod stop;
mod table;
mod talk;
mod walk_in;
mod when;

use std::ffi::OsString;
use std::process::ExitCode;

use clap::Parser;

use crate::commands::Command;

/// Measure what a radio transmitter really puts out, and judge it against a published rule
#[derive(Debug, Parser)]
#[command(version, max_term_width = 100)]
struct Arguments {
    #[command(subcommand)]
    command: Command,
    /// Leave out progress, hints and names of files written; print one line with name and outcome of `run`, `resume`, `judge`
    /// and `prove`, nothing of `check` and `path`. Errors stay, and what other commands print: that is their data
    #[arg(long, global = true)]
    quiet: bool,
}

/// Whether one JSON document is asked for by arguments that cannot be understood otherwise.
fn wants_json(arguments: impl Iterator<Item = OsString>) -> bool {
    let arguments: Vec<OsString> = arguments.take_while(|argument| argument != "--").collect();
    let format = |pair: &[OsString]| pair[0] == "--format" && pair[1] == "json";
    arguments.iter().any(|argument| argument == "--json" || argument == "--format=json")
        || arguments.windows(2).any(format)
}

fn main() -> ExitCode {
    outlive_files_that_may_not_grow();
    let command = match Arguments::try_parse() {
        Ok(arguments) => {
            talk::be_quiet(arguments.quiet);
            arguments.command
        }
        Err(error) => return talk::misused(&error, wants_json(std::env::args_os())).into(),
    };
    let json = command.json();
    match command.execute() {
        Ok(exit) => exit.into(),
        Err(error) => talk::report(&error, json).into(),
    }
}

/// A file that may not grow any further, by `ulimit -f`, is an error of writing like a full disk, and no reason to die with
/// the key down.
fn outlive_files_that_may_not_grow() {
    let flag = std::sync::Arc::new(std::sync::atomic::AtomicBool::new(false));
    // Where it cannot be had, such a file ends the program, and the keyholder brings the key up.
    drop(signal_hook::flag::register(signal_hook::consts::SIGXFSZ, flag));
}
