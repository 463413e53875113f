//! `runs`: the runs of the record.

use clap::Args;
use serde_json::json;

use crate::data::DataArgument;
use crate::exit::Exit;
use crate::table::table;
use crate::talk::{Failure, print, print_json};

/// List the runs of the record, newest first
#[derive(Args, Debug)]
pub(crate) struct Runs {
    #[command(flatten)]
    data: DataArgument,
    /// Print one JSON document
    #[arg(long)]
    json: bool,
}

impl Runs {
    pub(crate) fn execute(self) -> Result<Exit, Failure> {
        let runs = self.data.open()?.runs()?;
        if self.json {
            let runs: Vec<_> = runs
                .iter()
                .map(|run| {
                    json!({
                        "run": run.id, "plan": run.plan, "bench": run.bench, "unit": run.unit,
                        "started": run.started, "ended": run.ended, "state": run.state,
                        "outcome": run.outcome, "readings": run.readings,
                    })
                })
                .collect();
            print_json(&json!({ "runs": runs }));
            return Ok(Exit::Good);
        }
        let mut lines = table(&["run", "unit", "plan", "readings", "state", "outcome"]);
        for run in &runs {
            lines.add_row([
                run.id.to_string(),
                run.unit.serial.clone(),
                run.plan.clone(),
                run.readings.to_string(),
                run.state.word().to_owned(),
                run.outcome.map_or("-", |outcome| outcome.word()).to_owned(),
            ]);
        }
        print(format!("{}\n", lines.trim_fmt()).as_bytes());
        Ok(Exit::Good)
    }
}
