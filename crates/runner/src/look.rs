//! Runs of the record as they stand at this moment: of one whose process died the record alone says that it goes on.

use spurline_record::{RunId, RunState};
use spurline_store::{RunSummary, Store, StoreError, StoredRun};

use crate::hold::Held;

/// A run with its raw sweeps.
///
/// # Errors
///
/// As of [`Store::load`].
pub fn load(store: &Store, run: &RunId) -> Result<StoredRun, StoreError> {
    store.load(run).map(|stored| as_it_stands(store, stored))
}

/// A run without its raw sweeps.
///
/// # Errors
///
/// As of [`Store::load_readings`].
pub fn load_readings(store: &Store, run: &RunId) -> Result<StoredRun, StoreError> {
    store.load_readings(run).map(|stored| as_it_stands(store, stored))
}

/// The newest runs, the newest first, and not more than so many.
///
/// # Errors
///
/// As of [`Store::newest_runs`].
pub fn newest_runs(store: &Store, most: u32) -> Result<Vec<RunSummary>, StoreError> {
    let runs = store.newest_runs(most)?.into_iter();
    Ok(runs.map(|run| RunSummary { state: stands(store, &run.id, run.state), ..run }).collect())
}

fn as_it_stands(store: &Store, stored: StoredRun) -> StoredRun {
    StoredRun { state: stands(store, &stored.header.id, stored.state), ..stored }
}

fn stands(store: &Store, run: &RunId, state: RunState) -> RunState {
    match state {
        RunState::Running if !Held::is_run_held(store.folder(), run) => RunState::BrokenOff,
        state => state,
    }
}
