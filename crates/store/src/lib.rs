//! The record on disk: one SQLite file in a data folder, one writer, one commit a reading.
//!
//! [`Store`] opens the file and reads it; [`Recorder`] is its writing half for one run. A reading that
//! [`Recorder::record`] has answered with `Ok` is on the disk and stays there, whatever dies next.
//!
//! This room judges nothing and shows nothing: it keeps what it is given and gives it back as it was.

mod chain;
mod codec;
mod column;
mod copy;
mod day_log;
mod error;
mod export;
mod figures;
mod finite;
mod import;
mod insert;
mod integrity;
mod load;
mod open;
mod place;
mod proof;
mod pruning;
mod recorder;
mod resolve;
mod runs;
mod schema;
mod shared;
mod signature;
#[cfg(test)]
#[path = "../tests/specimen/mod.rs"]
mod specimen;
mod transcript;
mod verdict;
mod verify;

pub use chain::Hash;
pub use day_log::{DAY_FILE, DayLog, DayLogError};
pub use error::{Damage, StoreError};
pub use import::{Imported, Incoming, Pruned};
pub use load::StoredRun;
pub use open::{Disk, RECORD_FILE, Store};
pub use place::RESERVE;
pub use pruning::{Prunable, Pruning, Room};
pub use recorder::Recorder;
pub use runs::RunSummary;
pub use signature::{KeyError, PublicKey, SecretKey, Signed};
pub use transcript::{Direction, Transcript, TranscriptEntry};
pub use verdict::VerdictSummary;
pub use verify::{Break, BreakKind, Place, Standing, Verification};
