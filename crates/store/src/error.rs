//! What can go wrong with the record. Each message names the file or the run; the cause is the source.

use std::fmt;
use std::io;
use std::path::PathBuf;

use spurline_record::RunId;
use thiserror::Error;

use crate::open::has_no_room;

/// Why the record could not be opened, written or read.
#[derive(Debug, Error)]
pub enum StoreError {
    /// The data folder is not there and could not be made.
    #[error("could not create the data folder `{}`", folder.display())]
    CreateFolder {
        /// The folder.
        folder: PathBuf,
        /// What the system said.
        #[source]
        source: io::Error,
    },
    /// There is nothing to read.
    #[error("no record in `{}`: nothing has been measured into this folder", folder.display())]
    NoRecord {
        /// The folder that was looked into.
        folder: PathBuf,
    },
    /// The file could not be opened or set up.
    #[error("could not open the record `{}`", file.display())]
    Open {
        /// The file.
        file: PathBuf,
        /// What SQLite said.
        #[source]
        source: rusqlite::Error,
    },
    /// The log beside the record cannot be read by who may not write there.
    #[error("the log `{}` holds what was recorded last, and cannot be read without writing beside it", log.display())]
    LogLocked {
        /// The log.
        log: PathBuf,
        /// What SQLite said.
        #[source]
        source: rusqlite::Error,
    },
    /// The file is a database of something else.
    #[error("`{}` is an SQLite file, but not a record of this program", file.display())]
    NotARecord {
        /// The file.
        file: PathBuf,
    },
    /// A newer version of the program has written the file.
    #[error(
        "the record `{}` has schema {found}, expected {expected} or older: it was written by a newer version of this program",
        file.display()
    )]
    NewerSchema {
        /// The file.
        file: PathBuf,
        /// The newest schema that is understood.
        expected: i64,
        /// The schema of the file.
        found: i64,
    },
    /// The library is older than the one that the durability rests on.
    #[error("expected SQLite {expected} or newer, found {found}")]
    SqliteTooOld {
        /// The oldest that is accepted, as SQLite numbers itself.
        expected: i32,
        /// The one that is linked.
        found: i32,
    },
    /// A write failed. It is not known what of it reached the disk; the recorder takes nothing more.
    #[error("could not write {what} of run `{run}` to `{}`", file.display())]
    Write {
        /// What was to be written.
        what: String,
        /// The run.
        run: RunId,
        /// The file.
        file: PathBuf,
        /// What SQLite said.
        #[source]
        source: rusqlite::Error,
    },
    /// An earlier write failed, and that is final for the recorder.
    #[error("the recorder stopped at an earlier write error and takes nothing more; open `{}` again", file.display())]
    Stopped {
        /// The file.
        file: PathBuf,
    },
    /// Something of a run came before the run had started.
    #[error("expected the start of a run first, found {what}")]
    NotStarted {
        /// What came.
        what: String,
    },
    /// The recorder already holds a run.
    #[error("expected one run a recorder, found run `{second}` after run `{first}`")]
    SecondRun {
        /// The run that it records.
        first: RunId,
        /// The run that was to start.
        second: RunId,
    },
    /// A figure is not a number. SQLite would turn it into nothing without a word.
    #[error("expected finite figures, found `{field}` of reading {ordinal} not finite")]
    NotFinite {
        /// The reading's place in the run.
        ordinal: u32,
        /// The figure.
        field: &'static str,
    },
    /// A query failed.
    #[error("could not read {what} from `{}`", file.display())]
    Read {
        /// What was asked for.
        what: String,
        /// The file.
        file: PathBuf,
        /// What SQLite said, or what is damaged.
        #[source]
        source: rusqlite::Error,
    },
    /// There is no run yet.
    #[error("the record `{}` holds no run", file.display())]
    NoRuns {
        /// The file.
        file: PathBuf,
    },
    /// No run has that name.
    #[error("run `{text}` not found in `{}`", file.display())]
    UnknownRun {
        /// What was asked for.
        text: String,
        /// The file.
        file: PathBuf,
    },
    /// Something about a folder or a file failed.
    #[error("could not {action} `{}`", place.display())]
    Place {
        /// What was tried.
        action: &'static str,
        /// Where.
        place: PathBuf,
        /// What the system said.
        #[source]
        source: io::Error,
    },
    /// Another machine has a part in what is written there.
    #[error("expected a disk of this machine for the record, found `{}` on {kind}", folder.display())]
    OnNetwork {
        /// The folder.
        folder: PathBuf,
        /// The kind of file system.
        kind: &'static str,
    },
    /// The disk is nearly full.
    #[error("expected at least {} MB free in `{}`, found {} MB", expected.div_ceil(1_000_000), folder.display(), found / 1_000_000)]
    NoRoom {
        /// The folder.
        folder: PathBuf,
        /// What must be free, in bytes.
        expected: u64,
        /// What is free, in bytes.
        found: u64,
    },
    /// A file is there already.
    #[error("`{}` is there already", file.display())]
    FileThere {
        /// The file.
        file: PathBuf,
    },
    /// A file that is to be taken in cannot be read.
    #[error("could not read `{}`: {why}", file.display())]
    NoFile {
        /// The file.
        file: PathBuf,
        /// What the system said.
        why: String,
    },
    /// Somebody writes into a file that is to be taken in.
    #[error("`{}` has a log beside it: it is in use, or was not closed", file.display())]
    InUse {
        /// The file.
        file: PathBuf,
    },
    /// A file from elsewhere has other tables, views or triggers than a record.
    #[error("`{}` does not have exactly the tables, views and triggers of a record", file.display())]
    StrangeSchema {
        /// The file.
        file: PathBuf,
    },
    /// A file from elsewhere is damaged.
    #[error("`{}` is damaged: {what}", file.display())]
    Damaged {
        /// The file.
        file: PathBuf,
        /// What SQLite found.
        what: String,
    },
    /// What a file holds is not taken into a record.
    #[error("`{}` is not taken: {why}", file.display())]
    NotTaken {
        /// The file.
        file: PathBuf,
        /// Why.
        why: String,
    },
    /// A file from elsewhere holds more than one run.
    #[error("expected one run in `{}`, found several", file.display())]
    SeveralRuns {
        /// The file.
        file: PathBuf,
    },
    /// Another run of that name is there.
    #[error("`{}` holds another run with the name `{run}`", file.display())]
    OtherRun {
        /// The run.
        run: RunId,
        /// The record.
        file: PathBuf,
    },
    /// A verdict or a signature here is another one than that of the file.
    #[error("`{}` has another {what} of run `{run}` than the record", file.display())]
    OtherBeside {
        /// Which.
        what: String,
        /// The run.
        run: RunId,
        /// The file.
        file: PathBuf,
    },
    /// The run ends later than now.
    #[error("run `{run}` ends at {ended}, which has not come yet: a simulated clock said so")]
    EndsLater {
        /// The run.
        run: RunId,
        /// Its end.
        ended: String,
    },
    /// The run has not ended.
    #[error("run `{run}` has not ended")]
    StillRunning {
        /// The run.
        run: RunId,
    },
    /// The run was recorded before there were chains.
    #[error("run `{run}` was recorded before there were chains: nothing shows whether it is whole")]
    Unchained {
        /// The run.
        run: RunId,
    },
    /// The run is not what was recorded.
    #[error("run `{run}` is not what was recorded: {first}")]
    NotWhole {
        /// The run.
        run: RunId,
        /// The first thing that is not.
        first: String,
    },
    /// No verdict on a run has that number.
    #[error("run `{run}` has no verdict {number} in `{}`", file.display())]
    UnknownVerdict {
        /// The run.
        run: RunId,
        /// Which was asked for.
        number: u32,
        /// The file.
        file: PathBuf,
    },
    /// More than one run starts like that.
    #[error("`{text}` is the start of {} runs: {}", candidates.len(), Few(candidates))]
    Ambiguous {
        /// What was asked for.
        text: String,
        /// The runs that fit, newest first.
        candidates: Vec<RunId>,
    },
}

impl StoreError {
    /// What to do about it.
    #[must_use]
    pub fn advice(&self) -> &'static str {
        match self {
            Self::CreateFolder { .. } => "name a folder that this user may write to: `--data DIR`",
            Self::NoRecord { .. } | Self::NoRuns { .. } => {
                "measure something first, or name the right folder: `--data DIR`"
            }
            Self::Open { source, .. } if has_no_room(source) => {
                "the disk is full or fails: make room, or copy the whole folder elsewhere and look there, `--data DIR`; nothing in it was changed"
            }
            Self::Open { .. } => "look at the file's owner and rights; nothing in it was changed",
            Self::LogLocked { .. } => {
                "copy the whole folder to where this user may write, and look there: `--data DIR`; or have its owner look at it once"
            }
            Self::NotARecord { .. } => "name another folder: `--data DIR`; nothing in this file was changed",
            Self::NewerSchema { .. } => "use the newer program, or another folder: `--data DIR`",
            Self::SqliteTooOld { .. } => "build the program with its own SQLite, as it comes",
            Self::Write { .. } | Self::Stopped { .. } => {
                "is the disk full or read-only? Readings that were shown as finished are kept"
            }
            Self::NotStarted { .. } | Self::SecondRun { .. } | Self::NotFinite { .. } => {
                "this is a mistake of the program: please report it with the run's record"
            }
            Self::Read { .. } => {
                "if the file is damaged: copy its folder before anything else, and look at the disk; `spurline verify` on each run \
                 tells which are whole, and one that is not comes back from a copy that `spurline export` wrote, with `spurline \
                 import FILE --data NEW`"
            }
            Self::UnknownRun { .. } => {
                "`spurline runs` lists the runs; the beginning of a name or `last` will do"
            }
            Self::UnknownVerdict { .. } => "`spurline show RUN` lists the verdicts on a run",
            Self::Ambiguous { .. } => "write more of the name",
            Self::Place { .. } => "look at its owner and rights, and at the disk",
            Self::OnNetwork { .. } => {
                "locks and writes are not sure there: name another folder with `--data DIR`, or set SPURLINE_DATA_ON_NETWORK=1"
            }
            Self::NoRoom { .. } => {
                "make room, `spurline prune` gives some back, or set SPURLINE_RESERVE_MB, which is 68 at least; nothing was keyed"
            }
            Self::FileThere { .. } => "name another file: none is written over",
            Self::NoFile { .. } => {
                "name a file that `spurline export` wrote and that this user may read; nothing was changed"
            }
            Self::InUse { .. } => "take in what `spurline export` wrote",
            Self::NotTaken { .. } => {
                "have the run exported anew from a record where `spurline verify` finds it whole, once it has gone to its end; nothing was changed"
            }
            Self::StrangeSchema { .. } | Self::Damaged { .. } | Self::SeveralRuns { .. } => {
                "take in what `spurline export` wrote; nothing was changed"
            }
            Self::OtherRun { .. } => "keep it in a folder of its own: `--data DIR`; nothing was changed",
            Self::OtherBeside { .. } => {
                "one of them was made anew: `spurline verify` on both tells more; nothing was changed"
            }
            Self::EndsLater { .. } => {
                "name the run itself, without `--older-than`, if it is to be pruned all the same"
            }
            Self::StillRunning { .. } => {
                "wait for its end; if its process died, `spurline resume` goes on with it"
            }
            Self::Unchained { .. } => "measure again: runs of this version have chains",
            Self::NotWhole { .. } => {
                "`spurline verify` tells all of it; keep a copy of the file before anything else. A copy that `spurline export` wrote \
                 while it was whole comes back with `spurline import FILE --data NEW`"
            }
        }
    }

    /// Whether the question was wrong, not the record.
    #[must_use]
    pub const fn is_wrong_question(&self) -> bool {
        matches!(
            self,
            Self::NoRecord { .. }
                | Self::NoRuns { .. }
                | Self::UnknownRun { .. }
                | Self::UnknownVerdict { .. }
                | Self::Ambiguous { .. }
                | Self::StillRunning { .. }
                | Self::OnNetwork { .. }
                | Self::FileThere { .. }
                | Self::NoFile { .. }
                | Self::InUse { .. }
                | Self::StrangeSchema { .. }
                | Self::Damaged { .. }
                | Self::SeveralRuns { .. }
                | Self::NotTaken { .. }
                | Self::OtherRun { .. }
                | Self::OtherBeside { .. }
                | Self::EndsLater { .. }
                | Self::Unchained { .. }
        )
    }
}

/// What is wrong with a row that SQLite itself finds sound.
#[derive(Debug, Error, PartialEq, Eq)]
pub enum Damage {
    /// A sweep is coded in a way that is not known.
    #[error("expected codec 0, 1 or 2, found {0}")]
    UnknownCodec(i64),
    /// A sweep does not hold as many points as its row says.
    #[error("expected {expected} points in a sweep, found {found}")]
    Points {
        /// What the row says.
        expected: usize,
        /// What the data holds.
        found: usize,
    },
    /// The coder cannot read the data of a sweep, or of a part of a transcript.
    #[error("the data does not decode: {0}")]
    Undecodable(String),
    /// A part of a transcript is not what was written.
    #[error("a part of the transcript is damaged: {0}")]
    Transcript(&'static str),
    /// A transcript is too large for the memory.
    #[error("expected a transcript of at most {most} bytes in memory, found a larger one")]
    TooMuch {
        /// What is read at most.
        most: u64,
    },
    /// Rows are missing or too many.
    #[error("expected {expected} {what} in reading {reading}, found {found}")]
    Rows {
        /// Of which kind.
        what: &'static str,
        /// In which reading.
        reading: u32,
        /// How many the reading names.
        expected: usize,
        /// How many there are.
        found: usize,
    },
    /// An event names a reading that is not there.
    #[error("event {event} names reading {reading}, which is not there")]
    NoReading {
        /// The event's place in the run.
        event: i64,
        /// The reading.
        reading: u32,
    },
    /// A verdict does not have the hash that it was kept with.
    #[error("verdict {0} is not what was kept: its hash is another")]
    Verdict(u32),
    /// An event has neither a reading nor a text.
    #[error("event {0} has no content")]
    EmptyEvent(i64),
}

/// The first candidates, so that a message about hundreds stays readable.
struct Few<'a>(&'a [RunId]);

impl fmt::Display for Few<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        const SHOWN: usize = 8;
        for (at, id) in self.0.iter().take(SHOWN).enumerate() {
            write!(f, "{}`{id}`", if at == 0 { "" } else { ", " })?;
        }
        match self.0.len().saturating_sub(SHOWN) {
            0 => Ok(()),
            more => write!(f, " and {more} more"),
        }
    }
}
