//! `runs`: the runs of the record.

use clap::Args;
use serde_json::json;
use spurline_record::{Outcome, RunState};
use spurline_store::RunSummary;

use crate::data::DataArgument;
use crate::exit::Exit;
use crate::paint;
use crate::table::{fit, narrow, table};
use crate::talk::{self, Failure, print_json};
use crate::when::in_a_column;

/// List the runs of the record, newest first
#[derive(Args, Debug)]
pub(crate) struct Runs {
    /// All of them, and not the newest 50 alone
    #[arg(long)]
    all: bool,
    #[command(flatten)]
    data: DataArgument,
    /// Print one JSON document
    #[arg(long)]
    pub(crate) json: bool,
}

/// What a run came to; of one that did not go to its end, how it ended.
fn standing(run: &RunSummary) -> String {
    match run.state {
        RunState::Finished => run.outcome.map_or_else(
            || "no readings".to_owned(),
            // In two lines where it is long: names are never broken.
            |outcome| outcome.of_run_in_words(run.without_limit as usize).replace(", but ", ",\nbut "),
        ),
        state @ (RunState::Running | RunState::Failed | RunState::Interrupted | RunState::BrokenOff) => {
            state.word().to_owned()
        }
    }
}

/// What programs are told: of one that did not go to its end only that something exceeds.
fn settled(run: &RunSummary) -> Option<Outcome> {
    run.outcome.filter(|outcome| run.state == RunState::Finished || *outcome == Outcome::Exceeds)
}

/// Beside the local time a longer one is broken between words.
const LONGEST_OUTCOME: u16 = 16;

/// So many are shown unless all are asked for.
const SHOWN: u32 = 50;

impl Runs {
    pub(crate) fn execute(self) -> Result<Exit, Failure> {
        let store = self.data.open()?;
        let runs = spurline_runner::newest_runs(&store, if self.all { u32::MAX } else { SHOWN })?;
        let total = if runs.len() < SHOWN as usize { runs.len() as u64 } else { store.count_runs()? };
        if self.json {
            let runs: Vec<_> = runs
                .iter()
                .map(|run| {
                    json!({
                        "run": run.id, "plan": run.plan, "bench": run.bench, "unit": run.unit,
                        "started": run.started, "ended": run.ended, "state": run.state,
                        "outcome": settled(run), "readings": run.readings, "without_limit": run.without_limit,
                    })
                })
                .collect();
            print_json(&json!({ "runs": runs, "total": total }))?;
            return Ok(Exit::Good);
        }
        if runs.is_empty() {
            talk::say("the record holds no run; `spurline run PLAN` measures one");
            return Ok(Exit::Good);
        }
        let began: Vec<Option<String>> = runs.iter().map(|run| in_a_column(run.started)).collect();
        // The name of a run has its time in UTC.
        let elsewhere = began.iter().any(Option::is_some);
        let headings = ["run", "began here", "unit", "plan", "readings", "outcome"];
        let headings: Vec<&str> =
            headings.into_iter().filter(|heading| elsewhere || *heading != "began here").collect();
        let mut lines = table(&headings);
        // Names that people type again are never broken; the plan's title gives way.
        fit(&mut lines, headings.iter().position(|heading| *heading == "plan").unwrap_or_default());
        for (run, began) in runs.iter().zip(began) {
            let began = elsewhere.then(|| began.unwrap_or_else(|| "as its name".to_owned()));
            let row = std::iter::once(run.id.to_string()).chain(began).chain([
                run.unit.serial.clone(),
                run.plan.clone(),
                run.readings.to_string(),
                standing(run),
            ]);
            lines.add_row(row);
        }
        if elsewhere {
            narrow(&mut lines, headings.len() - 1, LONGEST_OUTCOME);
        }
        talk::print_text(&format!("{}\n", paint::outcomes_at_line_ends(&lines.trim_fmt())))?;
        if total > runs.len() as u64 {
            talk::say(&format!("the newest {} of {total} runs; `--all` shows all", runs.len()));
        }
        Ok(Exit::Good)
    }
}
