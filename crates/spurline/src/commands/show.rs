//! `show`: a run of the record, or one of its readings with everything behind it.

use clap::Args;
use serde_json::{Value, json};
use spurline_record::{EventKind, InterlockName, RunState};
use spurline_report::Particulars;
use spurline_store::{StoredRun, VerdictSummary};

use crate::data::DataArgument;
use crate::exit::Exit;
use crate::paint;
use crate::table;
use crate::talk::{Failure, print, print_json, print_text, wrapped};
use crate::when::when;

/// Show a run, or one reading with the figures behind it
#[derive(Args, Debug)]
pub(crate) struct Show {
    /// The run: its name, the beginning of it, or `last`
    run: String,
    /// The reading, by its number in the run
    #[arg(long, value_name = "NUMBER")]
    reading: Option<u32>,
    /// The run as `judge` has judged it again, by the number of that verdict
    #[arg(long, value_name = "NUMBER")]
    verdict: Option<String>,
    /// Every message that passed on the links, in order
    #[arg(long, conflicts_with_all = ["reading", "verdict"])]
    transcript: bool,
    /// Only the messages of one link
    #[arg(long, value_name = "NAME", requires = "transcript")]
    link: Option<String>,
    #[command(flatten)]
    data: DataArgument,
    /// Print one JSON document
    #[arg(long)]
    pub(crate) json: bool,
}

impl Show {
    pub(crate) fn execute(self) -> Result<Exit, Failure> {
        let store = self.data.open()?;
        let run = store.resolve(&self.run)?;
        if self.transcript {
            let prunings = store.load_readings(&run)?.prunings;
            super::transcript::show(
                &run,
                store.transcript(&run)?,
                self.link.as_deref(),
                &prunings,
                self.json,
            )?;
            return Ok(Exit::Good);
        }
        // What needs no sweeps does not wait for them.
        if self.reading.is_none() && self.verdict.is_none() && !self.json {
            let mut stored = spurline_runner::load_readings(&store, &run)?;
            stored.header.notes.splice(0..0, super::verify::altered(&store, &run)?);
            print_text(&(run_text(&stored) + &verdicts(stored.state, &store.verdicts(&run)?)))?;
            return Ok(Exit::Good);
        }
        let stored = super::report::as_judged(&store, &run, self.verdict.as_deref())?;
        if let Some(number) = self.reading {
            let reading = stored.readings.iter().find(|reading| reading.ordinal == number);
            let reading = reading.ok_or_else(|| Failure::Usage {
                message: format!("run {} has no reading {number}", stored.header.id),
                advice: match (stored.readings.first(), stored.readings.last()) {
                    (Some(first), Some(last)) => {
                        format!("its readings are numbered {} to {}", first.ordinal, last.ordinal)
                    }
                    _ => "it has none".to_owned(),
                },
            })?;
            if self.json {
                print(spurline_report::reading_json(reading)?.as_bytes())?;
            } else {
                let mut text = spurline_report::sheet(&stored.header, reading);
                // Otherwise one would look in vain for traces.
                for pruning in &stored.prunings {
                    text.push_str(&format!("{}\n", wrapped(&super::verify::pruned_words(pruning), 2)));
                }
                print_text(&text)?;
            }
        } else if self.json {
            let particulars = spurline_runner::particulars(&store, &stored, None)?;
            print_json(&as_json(&stored, &particulars, &store.verdicts(&run)?)?)?;
        } else {
            print_text(&run_text(&stored))?;
        }
        Ok(Exit::Good)
    }
}

/// The run as `report` has it, with what was made and taken out of it since.
fn as_json(
    stored: &StoredRun,
    particulars: &Particulars,
    verdicts: &[VerdictSummary],
) -> Result<Value, Failure> {
    let text = spurline_report::json(&spurline_runner::view_with(stored, particulars))?;
    let mut document: Value = serde_json::from_str(&text).map_err(spurline_report::ReportError::from)?;
    document["prunings"] = json!(stored.prunings);
    let verdict = |one: &VerdictSummary| {
        json!({
            "number": one.number, "at": one.at, "software": one.software, "rule": one.rule,
            "replaced": one.replaced, "outcome": one.outcome, "without_limit": one.without_limit,
        })
    };
    document["verdicts"] = verdicts.iter().map(verdict).collect();
    Ok(document)
}

/// The verdicts that were made on a run again.
fn verdicts(state: RunState, all: &[VerdictSummary]) -> String {
    if all.is_empty() {
        return String::new();
    }
    let mut text = format!("\n{}\n", paint::heading("judged again"));
    for one in all {
        let outcome = one.outcome.map_or_else(
            || "no readings".to_owned(),
            |outcome| outcome.of_run_in_words(one.without_limit as usize),
        );
        let so_far = if state == RunState::Finished { "" } else { " as far as the run had come" };
        let words = format!(
            "verdict {}, {}: {outcome}{so_far} by {}, {} ({})",
            one.number,
            when(one.at),
            one.rule,
            spurline_record::Replaced::words(&one.replaced),
            one.software
        );
        text.push_str(&format!("  {}\n", wrapped(&words, 4)));
    }
    text
}

/// The interlocks that a setting of the bench file sets aside, each once.
fn set_aside(stored: &StoredRun) -> Vec<(&str, InterlockName)> {
    let mut found = Vec::new();
    for event in &stored.events {
        let EventKind::Interlocks(told) = &event.kind else { continue };
        for interlock in told {
            if let Some(setting) = interlock
                .set_aside
                .as_deref()
                .filter(|_| !found.iter().any(|(_, name)| *name == interlock.name))
            {
                found.push((setting, interlock.name));
            }
        }
    }
    found
}

fn run_text(stored: &StoredRun) -> String {
    let header = &stored.header;
    let unit = &header.unit;
    let mut text = format!("{}\n", paint::heading(&format!("run {}, {}", header.id, stored.state.word())));
    let mut line = |words: &str, indent| text.push_str(&format!("{}\n", wrapped(words, indent)));
    line(&format!("{} on {}", header.plan, header.bench), 2);
    line(&format!("began {}", when(header.started)), 2);
    if let Some(ended) = stored.ended {
        line(&format!("ended {}", when(ended)), 2);
    }
    line(&format!("{} serial {}, firmware {}", unit.model, unit.serial, unit.firmware), 2);
    line(&format!("rule {}: {} ({})", header.rule, header.rule_source, header.rule_status), 2);
    line(&header.decision_words(), 2);
    if let Some(seed) = header.simulated {
        line(&format!("simulated bench, seed {seed}: not evidence about a real transmitter"), 2);
    }
    for note in &header.notes {
        line(&format!("note: {note}"), 6);
    }
    for note in spurline_report::notes(&stored.events) {
        line(&format!("note: {note}"), 6);
    }
    for event in &stored.events {
        if let EventKind::Failed(fault) = &event.kind {
            line(&format!("failed: {}", fault.message), 2);
            for cause in &fault.causes {
                line(&format!("  because: {cause}"), 4);
            }
            if let Some(advice) = &fault.advice {
                line(&format!("  help: {advice}"), 4);
            }
        }
    }
    let keyed = spurline_report::keyed(&stored.events);
    if !keyed.is_empty() {
        line(&format!("keyed {keyed}"), 2);
    }
    for (setting, name) in set_aside(stored) {
        line(&format!("`{setting}` in the bench file sets the interlock `{name}` aside"), 2);
    }
    for pruning in &stored.prunings {
        line(&super::verify::pruned_words(pruning), 2);
    }
    text.push_str(&table::readings(&stored.readings));
    text.push_str(&format!("\n{}", table::summary(stored)));
    text
}
