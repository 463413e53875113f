//! Whether a run is still what was recorded: every hash of its chain worked out anew.

mod data;
mod ends;
mod found;
mod links;
mod strays;

use rusqlite::{Connection, OptionalExtension, TransactionBehavior};
use serde::Serialize;
use spurline_record::{RunId, RunState};

use crate::chain::{self, Hash};
use crate::column::get_word;
use crate::error::StoreError;
use crate::open::Store;
use crate::pruning::{self, Pruning};
use crate::signature::{self, Signed};

pub(crate) use found::Found;
pub use found::{Break, BreakKind, Place};
pub(crate) use links::Chain;

/// What a verification found.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Verification {
    /// The run.
    pub run: RunId,
    /// Where the run stands; one that goes on is whole as far as it has come.
    pub state: RunState,
    /// What it comes to.
    pub standing: Standing,
    /// How many links the chain has.
    pub links: u64,
    /// The last link, as the record has it: written down elsewhere, it shows later that the whole chain was made anew.
    pub head: Option<Hash>,
    /// What is not as it was recorded, in the order of the run.
    pub breaks: Vec<Break>,
    /// What was taken out of it on purpose.
    pub prunings: Vec<Pruning>,
    /// Who vouches for it.
    pub signatures: Vec<Signed>,
}

/// What a verification comes to.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Standing {
    /// Everything is as it was recorded.
    Whole,
    /// Something is not.
    Broken,
    /// The run was recorded before there were chains: nothing can be said.
    Unchained,
}

impl Verification {
    /// An error if something is not as it was recorded.
    pub(crate) fn refuse_broken(&self) -> Result<(), StoreError> {
        match (self.standing, self.breaks.first()) {
            (Standing::Whole | Standing::Unchained, _) => Ok(()),
            (Standing::Broken, first) => Err(StoreError::NotWhole {
                run: self.run.clone(),
                first: first.map(|first| first.what.clone()).unwrap_or_default(),
            }),
        }
    }
}

impl Store {
    /// Refuses a run that is not what was recorded, before anything is built on it.
    ///
    /// # Errors
    ///
    /// If something of it is not, with the first thing that is not; if there is no such run, or the record cannot be read.
    pub fn refuse_broken(&self, run: &RunId) -> Result<(), StoreError> {
        self.verify(run)?.refuse_broken()
    }

    /// Works every hash of a run out anew, all of it as of one instant even while it is being written.
    ///
    /// # Errors
    ///
    /// If there is no such run, or the record cannot be read. What is read and is not as it was recorded is no error.
    pub fn verify(&self, run: &RunId) -> Result<Verification, StoreError> {
        let read = || {
            let connection = self.connection.turn();
            let snapshot = rusqlite::Transaction::new_unchecked(&connection, TransactionBehavior::Deferred)?;
            verify(&snapshot, self.schema, run).optional()
        };
        read()
            .map_err(self.unread(format!("run `{run}`")))?
            .ok_or_else(|| StoreError::UnknownRun { text: run.to_string(), file: self.file.clone() })
    }
}

/// The same over an open record.
pub(crate) fn verify(from: &Connection, schema: i64, run: &RunId) -> rusqlite::Result<Verification> {
    let state: RunState = from
        .prepare_cached("SELECT state FROM run WHERE id = ?1")?
        .query_row([run.as_str()], |row| get_word(row, 0))?;
    let mut verification = Verification {
        run: run.clone(),
        state,
        standing: Standing::Unchained,
        links: 0,
        head: None,
        breaks: Vec::new(),
        prunings: Vec::new(),
        signatures: Vec::new(),
    };
    if schema < 4 {
        return Ok(verification);
    }
    verification.prunings = pruning::of(from, run)?;
    match from.query_row("SELECT chain FROM run WHERE id = ?1", [run.as_str()], |row| row.get(0))? {
        None => {}
        Some(chain::FORM) => chained(from, run, &mut verification)?,
        Some(other) => {
            verification.standing = Standing::Broken;
            let what = format!("expected a chain of form {}, found form {other}", chain::FORM);
            verification.breaks.push(Break { place: Place::Run, kind: BreakKind::Altered, what });
        }
    }
    Ok(verification)
}

fn chained(from: &Connection, run: &RunId, into: &mut Verification) -> rusqlite::Result<()> {
    let mut found = Found::default();
    let chain = Chain::read(from, run)?;
    links::check(from, run, &chain, &mut found)?;
    data::check(from, run, &chain, &into.prunings, &mut found)?;
    strays::check(from, run, &mut found)?;
    ends::check(from, run, &chain, &mut found)?;
    into.signatures = signature::of(from, run, &chain, &mut found)?;
    into.links = chain.last();
    into.head = ends::head(from, run)?;
    into.breaks = found.in_order();
    into.standing = if into.breaks.is_empty() { Standing::Whole } else { Standing::Broken };
    Ok(())
}

#[cfg(test)]
mod every_column;
#[cfg(test)]
mod tests;
