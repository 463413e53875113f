//! The report that every run leaves beside its record.

use std::path::{Path, PathBuf};

use jiff::Timestamp;
use jiff::tz::{Offset, TimeZone};
use spurline_record::RunId;
use spurline_report::RunView;
use spurline_store::{Store, StoredRun};

use crate::failure::Failure;
use crate::folder::{make_folder, write_whole};

/// A stored run as reports look at it.
#[must_use]
pub fn view(stored: &StoredRun) -> RunView<'_> {
    RunView {
        header: &stored.header,
        state: stored.state,
        ended: stored.ended,
        local: offset(stored.header.started),
        outcome: stored.outcome,
        instruments: &stored.instruments,
        readings: &stored.readings,
        events: &stored.events,
    }
}

/// How far the clock on the wall of this machine is from UTC at a moment.
#[must_use]
pub fn offset(at: Timestamp) -> Offset {
    TimeZone::system().to_offset(at)
}

/// Writes the page of a run into the folder of the record; the run, and where its page is.
///
/// # Errors
///
/// [`Failure`] if the run cannot be read or the page cannot be written.
pub fn write_report(folder: &Path, id: &RunId) -> Result<(StoredRun, PathBuf), Failure> {
    let stored = Store::open_read_only(folder)?.load(id)?;
    let page = spurline_report::html(&view(&stored))?;
    let reports = folder.join("reports");
    make_folder(&reports)?;
    let path = reports.join(format!("{id}.html"));
    write_whole(&path, page.as_bytes())?;
    Ok((stored, path))
}
