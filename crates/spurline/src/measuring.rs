//! A run with a person at the terminal: it is told how it goes on, may stop it, and gets a table at the end.

use std::future::Future;
use std::io::IsTerminal;
use std::path::{Path, PathBuf};
use std::pin::Pin;

use spurline_clock::Pace;
use spurline_plan::{Bench, Job};
use spurline_record::{Outcome, RunId, RunState};
use spurline_runner::{Company, Done, From, Measurement, Visitor, write_report};
use spurline_sequencer::{Listener, Operator};
use spurline_store::{Store, StoredRun};

use crate::commands::operator::AtTerminal;
use crate::data::record_at;
use crate::exit::Exit;
use crate::stop::told_to_stop;
use crate::talk::{self, Failure, print, say};
use crate::{progress, table};

/// A run that somebody at a terminal started.
pub(crate) struct AtHand<'a> {
    pub(crate) job: &'a Job,
    /// Folder of the record.
    pub(crate) folder: PathBuf,
    /// Whether one JSON document is printed instead of a table.
    pub(crate) json: bool,
    /// Whether whoever started it has armed a real bench for it.
    pub(crate) arm: bool,
    pub(crate) from: From,
}

impl AtHand<'_> {
    pub(crate) fn execute(self) -> Result<Exit, Failure> {
        let bench = &self.job.bench;
        if bench.key.is_by_hand() && bench.simulated.is_none() {
            somebody_is_there(self.json)?;
        }
        let record = record_at(self.folder.clone())?;
        let visitor = Visitor::default();
        let measurement = Measurement { job: self.job, record, arm: self.arm, from: self.from, visitor };
        let Done { id, ended } = measurement.execute(&mut Person { json: self.json })?;
        let ended = match ended {
            Ok(ended) => ended,
            Err(failure) => {
                let failure = Failure::from(failure);
                let exit = talk::report(&failure, false);
                say_how_to_go_on(&id);
                if let Err(second) = finish(&self.folder, &id, self.json, Some(&failure)) {
                    // The first failure decides how the program ends; the second is told as well.
                    talk::report(&second, false);
                    if self.json {
                        talk::print_json(&talk::as_json(&failure))?;
                    }
                }
                return Ok(exit);
            }
        };
        finish(&self.folder, &id, self.json, None)?;
        if Exit::of_run(&ended) == Exit::Interrupted {
            say_how_to_go_on(&id);
        }
        Ok(Exit::of_run(&ended))
    }
}

/// The person at the terminal.
struct Person {
    json: bool,
}

impl Company for Person {
    fn say(&mut self, text: &str) {
        say(text);
    }

    fn named(&mut self, _: &RunId) {}

    fn listener(&mut self, readings: usize, pace: Pace) -> Box<dyn Listener> {
        progress::listener(self.json, readings, pace)
    }

    fn operator(&mut self) -> Box<dyn Operator> {
        Box::new(AtTerminal)
    }

    fn stop(&mut self) -> Pin<Box<dyn Future<Output = ()>>> {
        Box::pin(told_to_stop())
    }
}

/// What a person must know before a port that keys is opened.
pub(crate) fn warn_of_port(bench: &Bench) {
    if let Some(warning) = spurline_runner::warning_of_port(bench) {
        say(&warning);
    }
}

fn say_how_to_go_on(id: &RunId) {
    say(&format!("what was kept stays; go on with `spurline resume {id}`"));
}

/// Writes the report and prints what the run came to, and why it broke off.
fn finish(folder: &Path, id: &RunId, json: bool, failure: Option<&Failure>) -> Result<(), Failure> {
    let (stored, path) = write_report(folder, id)?;
    if !json {
        return summary(&stored, &path);
    }
    let particulars = spurline_runner::particulars(&Store::open_read_only(folder)?, &stored, None)?;
    let text = spurline_report::json(&spurline_runner::view_with(&stored, &particulars))?;
    match failure {
        None => print(text.as_bytes()),
        Some(failure) => talk::print_json(&with_error(&text, failure)),
    }
}

/// The document of a run that broke off: with `error`, as of a command that failed.
fn with_error(text: &str, failure: &Failure) -> serde_json::Value {
    let mut document: serde_json::Value = serde_json::from_str(text).expect("a report in JSON is JSON");
    document["error"] = talk::as_json(failure)["error"].take();
    document
}

/// A person who keys must see what the run says, and hear it.
fn somebody_is_there(json: bool) -> Result<(), Failure> {
    let missing = if json {
        Some("`--json` leaves no place for what it is told")
    } else if talk::is_quiet() {
        Some("`--quiet` leaves no place for what it is told")
    } else if !std::io::stdin().is_terminal() {
        Some("standard input is no terminal")
    } else if !std::io::stderr().is_terminal() {
        Some("standard error is no terminal")
    } else {
        None
    };
    missing.map_or(Ok(()), |missing| {
        Err(Failure::Usage {
            message: format!("the key is a person's hand, and nobody is told when to key: {missing}"),
            advice: "run it at a terminal without `--json` and `--quiet`, or key by a line: `relay`, `serial_line`. Nothing was keyed"
                .to_owned(),
        })
    })
}

/// What a run came to, in a word or two; of one that did not go to its end, how it ended.
fn standing(stored: &StoredRun) -> String {
    let without_limit = stored.readings.iter().filter(|reading| reading.outcome == Outcome::NoLimit).count();
    match (stored.state, stored.outcome) {
        (RunState::Finished, Some(outcome)) => outcome.of_run_in_words(without_limit),
        (RunState::Finished, None) => "no readings".to_owned(),
        (state @ (RunState::Running | RunState::BrokenOff | RunState::Interrupted | RunState::Failed), _) => {
            state.word().to_owned()
        }
    }
}

fn summary(stored: &StoredRun, report: &Path) -> Result<(), Failure> {
    if talk::is_quiet() {
        return print(format!("{} {}\n", stored.header.id, standing(stored)).as_bytes());
    }
    let text = format!("{}\n{}", table::readings(&stored.readings), table::summary(stored));
    talk::print_text(&text)?;
    say(&format!("run {}\nreport {}", stored.header.id, report.display()));
    Ok(())
}
