//! `runs`: the runs of the record.

use clap::Args;
use serde_json::json;
use spurline_record::RunState;
use spurline_store::RunSummary;

use crate::data::DataArgument;
use crate::exit::Exit;
use crate::paint;
use crate::table::{fit, table};
use crate::talk::{self, Failure, print_json};

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
            |outcome| outcome.of_run_in_words(run.without_limit as usize),
        ),
        state @ (RunState::Running | RunState::Failed | RunState::Interrupted | RunState::BrokenOff) => {
            state.word().to_owned()
        }
    }
}

/// So many are shown unless all are asked for.
const SHOWN: u32 = 50;

/// The column of the plan's title.
const PLAN: usize = 2;

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
                        "outcome": run.outcome, "readings": run.readings, "without_limit": run.without_limit,
                    })
                })
                .collect();
            print_json(&json!({ "runs": runs, "total": total }))?;
            return Ok(Exit::Good);
        }
        let mut lines = table(&["run", "unit", "plan", "readings", "outcome"]);
        // Names that people type again are never broken; the plan's title gives way.
        fit(&mut lines, PLAN);
        for run in &runs {
            lines.add_row([
                run.id.to_string(),
                run.unit.serial.clone(),
                run.plan.clone(),
                run.readings.to_string(),
                standing(run),
            ]);
        }
        talk::print_text(&format!("{}\n", paint::outcomes_at_line_ends(&lines.trim_fmt())))?;
        if total > runs.len() as u64 {
            talk::say(&format!("the newest {} of {total} runs; `--all` shows all", runs.len()));
        }
        Ok(Exit::Good)
    }
}
