//! A run that broke off, and what is needed to go on with it.

use std::path::Path;

use spurline_plan::Job;
use spurline_record::{RunId, RunState, TextRole};
use spurline_sequencer::Kept;
use spurline_store::Store;

use crate::failure::Failure;
use crate::hold::Held;
use crate::measurement::{From, SOFTWARE};
use crate::recorded::Recorded;

/// A run that broke off; nobody else may write it for as long as this is kept.
#[derive(Debug)]
pub struct Broken {
    /// Plan, bench and all other files, as they were when the run began.
    pub job: Job,
    /// What is kept of it.
    pub kept: Box<Kept>,
    /// How many readings were set aside when it went on before.
    pub set_aside: usize,
    id: RunId,
    _alone: Held,
}

impl Broken {
    /// Takes up a run of the record in a folder.
    ///
    /// # Errors
    ///
    /// [`Failure`] if somebody writes it, its chain is broken, it went to its end, or its files cannot be read.
    pub fn take_up(folder: &Path, id: &RunId) -> Result<Self, Failure> {
        // Nobody else may write it from before it is read.
        let alone = Held::run(folder, id)?;
        let store = Store::open_read_only(folder)?;
        // What is keyed, and by which commands, follows from what the record says.
        store.refuse_broken(id)?;
        let stored = store.load_readings(id)?;
        if stored.state == RunState::Finished {
            return Err(Failure::Usage {
                message: format!("run {id} went to its end: there is nothing to go on with"),
                advice: "`spurline show` shows it; `spurline run` measures anew".to_owned(),
            });
        }
        let texts = Recorded(&stored.header.texts);
        let name = |role| texts.name_of(role).unwrap_or_default();
        let job = Job::load(name(TextRole::Plan), Some(name(TextRole::Bench)), &texts)?;
        let kept = Box::new(Kept::of(&stored.events, &stored.readings, stored.state, SOFTWARE));
        Ok(Self { job, kept, set_aside: stored.set_aside.len(), id: id.clone(), _alone: alone })
    }

    /// Where the run begins that goes on with it.
    #[must_use]
    pub fn from(&self) -> From {
        From::Broken { id: self.id.clone(), kept: self.kept.clone() }
    }
}
