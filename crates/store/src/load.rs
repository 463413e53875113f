//! A whole run out of the record.

use std::collections::HashMap;

use jiff::Timestamp;
use rusqlite::types::Type;
use rusqlite::{Connection, OptionalExtension, Row, TransactionBehavior};
use spurline_record::{
    Event, EventKind, Identity, InstrumentUsed, Outcome, Reading, RunHeader, RunId, RunState, SourceText,
    Sweep,
};

use crate::codec::{self, Codec};
use crate::column::{broken, get_json, get_stamp, get_word, optional};
use crate::error::{Damage, StoreError};
use crate::open::Store;
use crate::pruning::{self, Pruning};

/// Everything that is kept of a run, but for its transcript.
#[derive(Clone, Debug, PartialEq)]
pub struct StoredRun {
    /// What was known when it began, its files included.
    pub header: RunHeader,
    /// Where it stands; `running` also if its process died.
    pub state: RunState,
    /// When it ended.
    pub ended: Option<Timestamp>,
    /// What it came to.
    pub outcome: Option<Outcome>,
    /// The instruments as they were found.
    pub instruments: Vec<InstrumentUsed>,
    /// The readings that count, in order, with acquisitions and sweeps.
    pub readings: Vec<Reading>,
    /// Those of work that was half done when the run broke off, and that was done anew when it went on.
    pub set_aside: Vec<Reading>,
    /// The events in order, as they were recorded.
    pub events: Vec<Event>,
    /// What was taken out of it since.
    pub prunings: Vec<Pruning>,
}

impl Store {
    /// Reads a run, all of it as of one instant even while it is being written.
    ///
    /// # Errors
    ///
    /// If there is no such run, or something of it cannot be read.
    pub fn load(&self, run: &RunId) -> Result<StoredRun, StoreError> {
        self.load_with(run, Sweeps::Read)
    }

    /// The same without the sweeps, which are most of a run: every acquisition of every reading has none.
    ///
    /// # Errors
    ///
    /// As of [`Store::load`].
    pub fn load_readings(&self, run: &RunId) -> Result<StoredRun, StoreError> {
        self.load_with(run, Sweeps::Leave)
    }

    fn load_with(&self, run: &RunId, sweeps: Sweeps) -> Result<StoredRun, StoreError> {
        let read = || {
            let connection = self.connection.turn();
            let snapshot = rusqlite::Transaction::new_unchecked(&connection, TransactionBehavior::Deferred)?;
            let Some(mut stored) = whole(&snapshot, run, sweeps).optional()? else { return Ok(None) };
            if self.schema >= 4 {
                stored.prunings = pruning::of(&snapshot, run)?;
            }
            Ok(Some(stored))
        };
        read()
            .map_err(self.unread(format!("run `{run}`")))?
            .ok_or_else(|| StoreError::UnknownRun { text: run.to_string(), file: self.file.clone() })
    }
}

/// Whether sweeps are read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Sweeps {
    Read,
    Leave,
}

fn whole(from: &Connection, run: &RunId, sweeps: Sweeps) -> rusqlite::Result<StoredRun> {
    let (mut header, state, ended, outcome) = from
        .prepare_cached("SELECT header, state, ended, outcome FROM run WHERE id = ?1")?
        .query_row([run.as_str()], |row| {
            let header: RunHeader = get_json(row, 0)?;
            Ok((header, get_word(row, 1)?, optional(row, 2, get_stamp)?, optional(row, 3, get_word)?))
        })?;
    header.texts = rows(from, run, TEXTS, |row| {
        Ok(SourceText { role: get_word(row, 0)?, name: row.get(1)?, text: row.get(2)? })
    })?;
    let instruments = rows(from, run, INSTRUMENTS, |row| {
        let identity =
            Identity { maker: row.get(3)?, model: row.get(4)?, serial: row.get(5)?, firmware: row.get(6)? };
        let used =
            InstrumentUsed { role: get_word(row, 0)?, address: row.get(1)?, profile: row.get(2)?, identity };
        Ok((row.get::<_, i64>(7)?, used))
    })?;
    let readings = readings(from, run, sweeps)?;
    let events = rows(from, run, EVENTS, |row| event(row, &header, &readings))?;
    let instruments = as_last_found(instruments, &events);
    let (set_aside, readings) = readings.into_iter().partition(|reading| is_set_aside(reading, &events));
    let prunings = Vec::new();
    Ok(StoredRun { header, state, ended, outcome, instruments, readings, set_aside, events, prunings })
}

/// The instruments as they were found when the run last went on; those of its beginning if it did not get so far.
fn as_last_found(found: Vec<(i64, InstrumentUsed)>, events: &[Event]) -> Vec<InstrumentUsed> {
    let resumed = |event: &&Event| matches!(event.kind, EventKind::Resumed(_));
    let sequence = |event: &Event| i64::try_from(event.sequence).unwrap_or(i64::MAX);
    let starts: Vec<i64> =
        std::iter::once(0).chain(events.iter().filter(resumed).map(sequence)).chain([i64::MAX]).collect();
    let leg = |ends: &[i64]| {
        let of_it = |(place, _): &&(i64, InstrumentUsed)| (ends[0]..ends[1]).contains(place);
        found.iter().filter(of_it).map(|(_, used)| used.clone()).collect::<Vec<_>>()
    };
    starts.windows(2).rev().map(leg).find(|leg| !leg.is_empty()).unwrap_or_default()
}

fn is_set_aside(reading: &Reading, events: &[Event]) -> bool {
    events.iter().any(|event| match &event.kind {
        EventKind::Resumed(resumption) => resumption.set_aside.contains(&reading.ordinal),
        _ => false,
    })
}

const TEXTS: &str = "SELECT role, name, text FROM text WHERE run = ?1 ORDER BY ordinal";
const INSTRUMENTS: &str =
    "SELECT role, address, profile, maker, model, serial, firmware, sequence FROM instrument
     WHERE run = ?1 ORDER BY sequence";
const READINGS: &str = "SELECT detail FROM reading WHERE run = ?1 ORDER BY ordinal";
const ACQUISITIONS: &str = "SELECT reading, ordinal, sweeps FROM acquisition WHERE run = ?1";
const SWEEPS: &str = "SELECT reading, acquisition, n, codec, data FROM sweep
     WHERE run = ?1 ORDER BY reading, acquisition, ordinal";
const EVENTS: &str = "SELECT sequence, at, reading, detail, kind FROM event WHERE run = ?1 ORDER BY sequence";

fn rows<T>(
    from: &Connection,
    run: &RunId,
    query: &str,
    read: impl FnMut(&Row<'_>) -> rusqlite::Result<T>,
) -> rusqlite::Result<Vec<T>> {
    from.prepare_cached(query)?.query_map([run.as_str()], read)?.collect()
}

fn readings(from: &Connection, run: &RunId, wanted: Sweeps) -> rusqlite::Result<Vec<Reading>> {
    let mut readings: Vec<Reading> = rows(from, run, READINGS, |row| get_json(row, 0))?;
    if wanted == Sweeps::Leave {
        return Ok(readings);
    }
    // `None` stands for a sweep that was pruned.
    let mut sweeps: HashMap<(u32, u32), Vec<Option<Sweep>>> = HashMap::new();
    for (place, sweep) in rows(from, run, SWEEPS, sweep)? {
        sweeps.entry(place).or_default().push(sweep);
    }
    let counted: HashMap<(u32, u32), u32> =
        rows(from, run, ACQUISITIONS, |row| Ok(((row.get(0)?, row.get(1)?), row.get(2)?)))?
            .into_iter()
            .collect();
    for reading in &mut readings {
        for (ordinal, look) in (1u32..).zip(&mut reading.acquisitions) {
            let place = (reading.ordinal, ordinal);
            let found = sweeps.remove(&place).unwrap_or_default();
            let expected = *counted.get(&place).ok_or_else(|| {
                let found = counted.keys().filter(|(of, _)| *of == reading.ordinal).count();
                short("acquisitions", reading.ordinal, ordinal as usize, found)
            })?;
            if found.len() != expected as usize {
                return Err(short("sweeps", reading.ordinal, expected as usize, found.len()));
            }
            look.sweeps = found.into_iter().flatten().collect();
        }
    }
    Ok(readings)
}

fn short(what: &'static str, reading: u32, expected: usize, found: usize) -> rusqlite::Error {
    broken(0, Type::Integer, Damage::Rows { what, reading, expected, found })
}

fn sweep(row: &Row<'_>) -> rusqlite::Result<((u32, u32), Option<Sweep>)> {
    let codec = Codec::from_number(row.get(3)?).map_err(|damage| broken(3, Type::Integer, damage))?;
    let data = row.get_ref(4)?.as_blob().map_err(|e| broken(4, Type::Blob, e))?;
    let levels = codec::decode(codec, row.get::<_, u32>(2)? as usize, data)
        .map_err(|damage| broken(4, Type::Blob, damage))?;
    Ok(((row.get(0)?, row.get(1)?), (codec != Codec::Pruned).then_some(Sweep { levels })))
}

fn event(row: &Row<'_>, header: &RunHeader, readings: &[Reading]) -> rusqlite::Result<Event> {
    let sequence: i64 = row.get(0)?;
    let kind = match (row.get::<_, Option<u32>>(2)?, optional(row, 3, get_json)?) {
        (Some(ordinal), _) => {
            // In the order of the query above.
            let place = readings.binary_search_by_key(&ordinal, |reading| reading.ordinal);
            let reading = place.ok().and_then(|place| readings.get(place)).ok_or_else(|| {
                broken(2, Type::Integer, Damage::NoReading { event: sequence, reading: ordinal })
            })?;
            EventKind::ReadingFinished(Box::new(reading.clone()))
        }
        (None, Some(kind)) => kind,
        (None, None) if row.get_ref(4)?.as_str() == Ok("run-started") => {
            EventKind::RunStarted(Box::new(header.clone()))
        }
        (None, None) => return Err(broken(3, Type::Null, Damage::EmptyEvent(sequence))),
    };
    let sequence = u64::try_from(sequence).map_err(|e| broken(0, Type::Integer, e))?;
    Ok(Event { sequence, at: get_stamp(row, 1)?, kind })
}
