//! The report that every run leaves beside its record, and what a report needs beside the run itself.

use std::path::{Path, PathBuf};

use jiff::Timestamp;
use jiff::civil::Date;
use jiff::tz::{Offset, TimeZone};
use sha2::{Digest, Sha256};
use spurline_plan::issue_of;
use spurline_record::{RunId, SourceText, TextRole};
use spurline_report::{Particulars, ReportError, RunView};
use spurline_store::{Store, StoreError, StoredRun};

use crate::failure::Failure;
use crate::folder::{make_folder, unwritten, write_whole_by};

/// A stored run as reports look at it, without what is not in the run itself.
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
        particulars: None,
    }
}

/// A stored run as reports look at it.
#[must_use]
pub fn view_with<'a>(stored: &'a StoredRun, particulars: &'a Particulars) -> RunView<'a> {
    RunView { particulars: Some(particulars), ..view(stored) }
}

/// What a report tells beside the run itself: what its plan states, by whom and when it is issued, and by which hashes it
/// is found again.
///
/// # Errors
///
/// If the head of its chain cannot be read.
pub fn particulars(
    store: &Store,
    stored: &StoredRun,
    issued: Option<Date>,
) -> Result<Particulars, StoreError> {
    let texts = &stored.header.texts;
    let plan = texts.iter().find(|text| text.role == TextRole::Plan);
    Ok(Particulars {
        issue: plan.map(issue_of).unwrap_or_default(),
        issued,
        head: store.head(&stored.header.id)?,
        digests: texts.iter().map(digest).collect(),
    })
}

fn digest(text: &SourceText) -> String {
    Sha256::digest(text.text.as_bytes()).iter().map(|byte| format!("{byte:02x}")).collect()
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
    let store = Store::open_read_only(folder)?;
    let stored = store.load(id)?;
    let particulars = particulars(&store, &stored, None)?;
    let reports = folder.join("reports");
    make_folder(&reports)?;
    let path = reports.join(format!("{id}.html"));
    write_whole_by(&path, |out| {
        spurline_report::write_html(&view_with(&stored, &particulars), out).map_err(|error| match error {
            ReportError::Write(source) => unwritten(&path, source),
            other => other.into(),
        })
    })?;
    Ok((stored, path))
}
