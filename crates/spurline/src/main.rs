//! Shows whether a radio transmitter is clean, by measuring it.
//!
//! The binary is thin: it reads arguments, files, the environment and signals, and hands typed things to the
//! crates that do the work. Standard output is data, standard error is talk.

mod commands;
mod data;
mod exit;
mod measuring;
mod paint;
mod progress;
#[cfg(test)]
mod shipped;
mod stop;
mod table;
mod talk;

use std::process::ExitCode;

use clap::Parser;

use crate::commands::Command;

/// Measure what a radio transmitter really puts out, and judge it against a published rule
#[derive(Debug, Parser)]
#[command(version, max_term_width = 100)]
struct Arguments {
    #[command(subcommand)]
    command: Command,
}

fn main() -> ExitCode {
    let command = Arguments::parse().command;
    let json = command.json();
    match command.execute() {
        Ok(exit) => exit.into(),
        Err(error) => talk::report(&error, json).into(),
    }
}
