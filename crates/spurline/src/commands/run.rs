//! `run`: the run, from identification to the report.

use clap::Args;
use spurline_plan::Job;
use spurline_runner::{Files, From};

use crate::data::DataArgument;
use crate::exit::Exit;
use crate::measuring::AtHand;
use crate::talk::Failure;

/// Measure a unit as a plan says, and judge it
///
/// Ends with 0 if everything complies, 1 if something exceeds, 2 for a wrong plan (nothing was keyed), 3 if
/// nothing exceeds but something is undecided, invalid or without limit, 4 if the bench failed, 5 if the record
/// failed, 130 if it was stopped. A run that broke off goes on with `spurline resume`; with `--json` its document has an
/// `error` with cause and advice.
#[derive(Args, Debug)]
pub(crate) struct Run {
    /// The plan
    plan: String,
    /// The bench, instead of the one that the plan names
    #[arg(long, value_name = "FILE")]
    bench: Option<String>,
    /// Serial number that the unit must have
    #[arg(long, value_name = "SERIAL")]
    unit: Option<String>,
    /// Firmware version to write into the record, if it is not what the unit says
    #[arg(long, value_name = "VERSION")]
    firmware: Option<String>,
    /// Let this one run key a real bench: you have looked at it, and the cautions are kept
    #[arg(long)]
    arm: bool,
    #[command(flatten)]
    data: DataArgument,
    /// Print one JSON document instead of a table
    #[arg(long)]
    pub(crate) json: bool,
}

impl Run {
    pub(crate) fn execute(self) -> Result<Exit, Failure> {
        for (option, said) in [("--firmware", &self.firmware), ("--unit", &self.unit)] {
            if said.as_ref().is_some_and(|said| said.trim().is_empty()) {
                return Err(Failure::Usage {
                    message: format!("{option}: expected a text, found nothing"),
                    advice: "leave the option out, and what the unit says of itself is written down. Nothing was keyed".to_owned(),
                });
            }
        }
        let job = Job::load(&self.plan, self.bench.as_deref(), &Files::from_environment())?;
        let from = From::Beginning { unit: self.unit, firmware: self.firmware };
        let folder = self.data.folder()?;
        AtHand { job: &job, folder, json: self.json, arm: self.arm, from }.execute()
    }
}
