//! `show`: a run of the record, or one of its readings with everything behind it.

use clap::Args;

use crate::data::DataArgument;
use crate::exit::Exit;
use crate::table;
use crate::talk::{Failure, print, print_json, print_text};

/// Show a run, or one reading with the figures behind it
#[derive(Args, Debug)]
pub(crate) struct Show {
    /// The run: its name, the beginning of it, or `last`
    run: String,
    /// The reading, by its number in the run
    #[arg(long, value_name = "NUMBER")]
    reading: Option<u32>,
    #[command(flatten)]
    data: DataArgument,
    /// Print one JSON document
    #[arg(long)]
    pub(crate) json: bool,
}

impl Show {
    pub(crate) fn execute(self) -> Result<Exit, Failure> {
        let store = self.data.open()?;
        let stored = store.load(&store.resolve(&self.run)?)?;
        if let Some(number) = self.reading {
            let reading = stored.readings.iter().find(|reading| reading.ordinal == number);
            let reading = reading.ok_or_else(|| Failure::Usage {
                message: format!("run {} has no reading {number}", stored.header.id),
                advice: format!("its readings are numbered 1 to {}", stored.readings.len()),
            })?;
            if self.json {
                print_json(&serde_json::to_value(reading).unwrap_or_default());
            } else {
                print_text(&crate::sheet::of(&stored.header, reading));
            }
        } else if self.json {
            print(spurline_report::json(&super::report::view(&stored))?.as_bytes());
        } else {
            let header = &stored.header;
            let outcome = stored.outcome.map_or_else(|| "-".to_owned(), crate::paint::outcome);
            let text = format!(
                "run {}, {}\n{} on {}, {} serial {}\nrule {} ({})\n{}\n{}\n{}outcome: {outcome}\n",
                header.id,
                stored.state.word(),
                header.plan,
                header.bench,
                header.unit.model,
                header.unit.serial,
                header.rule,
                header.rule_status,
                header.decision.words(),
                table::readings(&stored.readings),
                table::summary(&stored.readings),
            );
            print_text(&text);
        }
        Ok(Exit::Good)
    }
}
