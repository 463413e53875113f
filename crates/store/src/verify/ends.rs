//! What no link covers: how the chain ends, and what the row of the run says of its end.

use rusqlite::{Connection, OptionalExtension};
use spurline_record::{EventKind, Outcome, RunId, RunState};

use super::links::{Chain, hash_in};
use super::{BreakKind, Found, Place};
use crate::chain::Hash;
use crate::column::{get_word, optional};

/// The last link, as the row of the run has it.
pub(super) fn head(from: &Connection, run: &RunId) -> rusqlite::Result<Option<Hash>> {
    from.prepare_cached("SELECT head FROM run WHERE id = ?1")?
        .query_row([run.as_str()], |row| hash_in(row, 0))
}

pub(super) fn check(from: &Connection, run: &RunId, chain: &Chain, into: &mut Found) -> rusqlite::Result<()> {
    let links: Option<i64> =
        from.query_row("SELECT links FROM run WHERE id = ?1", [run.as_str()], |row| row.get(0))?;
    let (links, last) = (links.unwrap_or_default(), i64::try_from(chain.last()).unwrap_or(i64::MAX));
    if links > last {
        let next = last.saturating_add(1);
        let what = format!("the chain ends with link {last}, and was recorded up to link {links}");
        into.add(Some(next), Place::Link(next), BreakKind::Missing, what);
    } else if links < last || head(from, run)? != chain.last_hash() {
        into.add(None, Place::Run, BreakKind::Altered, "the head of the chain is not its last link");
    } else if last == 0 {
        into.add(None, Place::Run, BreakKind::Missing, "the run has no event");
    }
    end(from, run, into)
}

/// How a run stands.
#[derive(Debug, PartialEq)]
struct End {
    state: RunState,
    ended: Option<String>,
    outcome: Option<Outcome>,
}

fn end(from: &Connection, run: &RunId, into: &mut Found) -> rusqlite::Result<()> {
    let (row, counted): (End, i64) = from
        .prepare_cached("SELECT state, ended, outcome, readings FROM run WHERE id = ?1")?
        .query_row([run.as_str()], |row| {
            let (state, outcome) = (get_word(row, 0)?, optional(row, 2, get_word)?);
            Ok((End { state, ended: row.get(1)?, outcome }, row.get(3)?))
        })?;
    if by_events(from, run)?.is_some_and(|events| events != row) {
        let what = "what the list of runs says of its end is not what its last event says";
        into.add(None, Place::Run, BreakKind::Altered, what);
    }
    let readings: i64 = from
        .prepare_cached("SELECT count(*) FROM reading WHERE run = ?1")?
        .query_row([run.as_str()], |row| row.get(0))?;
    if readings != counted {
        let what = format!("the list of runs says {counted} readings, there are {readings}");
        into.add(None, Place::Run, BreakKind::Altered, what);
    }
    Ok(())
}

/// How the run stands by the last event that says so; `None` if that cannot be read, which its digest tells.
fn by_events(from: &Connection, run: &RunId) -> rusqlite::Result<Option<End>> {
    let last: Option<(String, Option<String>)> = from
        .prepare_cached(
            "SELECT at, CASE kind WHEN 'run-ended' THEN detail END FROM event
             WHERE run = ?1 AND kind IN ('run-started', 'run-ended', 'resumed') ORDER BY sequence DESC LIMIT 1",
        )?
        .query_row([run.as_str()], |row| Ok((row.get(0)?, row.get(1)?)))
        .optional()?;
    Ok(match last {
        Some((at, Some(detail))) => match serde_json::from_str(&detail) {
            Ok(EventKind::RunEnded { state, outcome }) => Some(End { state, ended: Some(at), outcome }),
            Ok(_) | Err(_) => None,
        },
        Some((_, None)) | None => Some(End { state: RunState::Running, ended: None, outcome: None }),
    })
}
