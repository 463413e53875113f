//! `resume`: a run that broke off, from where it stands.

use clap::Args;
use spurline_plan::Job;
use spurline_record::{RunState, TextRole};
use spurline_runner::{From, Held, Recorded, SOFTWARE};
use spurline_sequencer::Kept;
use spurline_store::Store;

use crate::data::DataArgument;
use crate::exit::Exit;
use crate::measuring::AtHand;
use crate::talk::{Failure, counted, say};

/// Go on with a run that broke off
///
/// Plan, bench and all other files come from the record, as they were when the run began. The same instruments and the
/// same unit must answer, and a carrier that was measured must come again at the same level. What is measured is not
/// measured again; what was half done is done anew.
///
/// Ends as `run` does.
#[derive(Args, Debug)]
pub(crate) struct Resume {
    /// The run: its name, the beginning of it, or `last`
    run: String,
    /// Let it key a real bench: you have looked at it, and the cautions are kept
    #[arg(long)]
    arm: bool,
    #[command(flatten)]
    data: DataArgument,
    /// Print one JSON document instead of a table
    #[arg(long)]
    pub(crate) json: bool,
}

impl Resume {
    pub(crate) fn execute(self) -> Result<Exit, Failure> {
        let folder = self.data.folder()?;
        let id = Store::open_read_only(&folder)?.resolve(&self.run)?;
        // Nobody else may write it from before it is read.
        let alone = Held::run(&folder, &id)?;
        let stored = Store::open_read_only(&folder)?.load_readings(&id)?;
        if stored.state == RunState::Finished {
            return Err(Failure::Usage {
                message: format!("run {id} went to its end: there is nothing to go on with"),
                advice: "`spurline show` shows it; `spurline run` measures anew".to_owned(),
            });
        }
        let texts = Recorded(&stored.header.texts);
        let name = |role| texts.name_of(role).unwrap_or_default();
        let job = Job::load(name(TextRole::Plan), Some(name(TextRole::Bench)), &texts)?;
        let kept = Kept::of(&stored.events, &stored.readings, stored.state, SOFTWARE);
        say(&format!("run {id} has {}", counted(kept.readings.len(), "reading")));
        let from = From::Broken { id, kept: Box::new(kept) };
        let ended = AtHand { job: &job, folder, json: self.json, arm: self.arm, from }.execute();
        drop(alone);
        ended
    }
}
