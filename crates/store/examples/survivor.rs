//! A writer that is to be disturbed, and the look at what it left: for `scripts/prove-record`.
//!
//! `survivor write COUNT FOLDER` records a run of COUNT readings, with transcript, and prints the number of each commit
//! once it is acknowledged: the number of events in it. `survivor look FOLDER [ACKNOWLEDGED]` opens the record as the
//! next run would, and fails unless its structure is sound, every run verifies, every acknowledged event is there and
//! none is doubled.

#![expect(clippy::print_stdout, reason = "an example talks to a script")]
#![expect(clippy::unwrap_used, reason = "the specimen is one of the tests")]

#[path = "../tests/specimen/mod.rs"]
mod specimen;

use std::error::Error;
use std::io::Write;
use std::path::Path;

use spurline_record::{Acquisition, Event, EventKind, Reading, RunId, RunState};
use spurline_store::{Direction, Standing, Store, TranscriptEntry};

const RUN: &str = "20261125-103012-7c1e";

fn main() -> Result<(), Box<dyn Error>> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    match arguments.iter().map(String::as_str).collect::<Vec<_>>().as_slice() {
        ["write", count, folder] => write(count.parse()?, Path::new(folder)),
        ["look", folder] => look(Path::new(folder), 0),
        ["look", folder, acknowledged] => look(Path::new(folder), acknowledged.parse()?),
        _ => Err("expected `survivor write COUNT FOLDER` or `survivor look FOLDER [ACKNOWLEDGED]`".into()),
    }
}

/// A reading with one sweep: what is disturbed are the calls of each commit, not their size.
fn reading(ordinal: u32) -> Reading {
    let whole = specimen::reading(ordinal);
    let looks = whole
        .acquisitions
        .iter()
        .map(|look| Acquisition { sweeps: look.sweeps.iter().take(1).cloned().collect(), ..look.clone() });
    Reading { acquisitions: looks.collect(), ..whole }
}

fn write(count: u32, folder: &Path) -> Result<(), Box<dyn Error>> {
    let mut recorder = Store::open(folder)?.into_recorder();
    let mut sequence = 0;
    let mut event = |kind| {
        sequence += 1;
        Event { sequence, at: specimen::at(sequence as i64), kind }
    };
    recorder.record(&[event(EventKind::RunStarted(Box::new(specimen::header(RUN, 0))))])?;
    acknowledged(1)?;
    for ordinal in 1..=count {
        // Two events in one commit: both are there or none.
        let kinds =
            [EventKind::ReadingFinished(Box::new(reading(ordinal))), EventKind::Note(ordinal.to_string())];
        recorder.record(&kinds.map(&mut event))?;
        acknowledged(1 + 2 * ordinal)?;
        let entry = TranscriptEntry {
            at: specimen::at(3),
            link: "analyser".into(),
            direction: Direction::From,
            step: "line".into(),
            bytes: vec![b'1'; 300],
        };
        recorder.transcript(&[entry])?;
    }
    recorder.record(&[event(EventKind::RunEnded { state: RunState::Finished, outcome: None })])?;
    acknowledged(2 + 2 * count)
}

/// Says how many events are acknowledged: what has been printed has left this process.
fn acknowledged(events: u32) -> Result<(), Box<dyn Error>> {
    let mut stream = std::io::stdout().lock();
    writeln!(stream, "{events}")?;
    Ok(stream.flush()?)
}

fn look(folder: &Path, acknowledged: usize) -> Result<(), Box<dyn Error>> {
    let store = Store::open(folder)?;
    let structure = store.integrity()?;
    if !structure.is_empty() {
        return Err(format!("the structure is damaged: {structure:?}").into());
    }
    let run = RunId::from_record(RUN.to_owned());
    if acknowledged == 0 && store.runs()?.is_empty() {
        println!("0");
        return Ok(());
    }
    let found = store.verify(&run)?;
    if found.standing != Standing::Whole {
        return Err(format!("the chain is broken: {:?}", found.breaks).into());
    }
    let stored = store.load(&run)?;
    let sequences: Vec<u64> = stored.events.iter().map(|event| event.sequence).collect();
    if sequences != (1..=sequences.len() as u64).collect::<Vec<_>>() {
        return Err(format!("expected events one after the other, found {sequences:?}").into());
    }
    if sequences.len() < acknowledged {
        return Err(format!("expected {acknowledged} acknowledged events, found {}", sequences.len()).into());
    }
    let halves = stored.events.iter().filter(|event| matches!(event.kind, EventKind::Note(_))).count();
    if halves != stored.readings.len()
        || (1..).zip(&stored.readings).any(|(ordinal, kept)| *kept != reading(ordinal))
    {
        return Err(format!("expected {halves} whole readings, found {}", stored.readings.len()).into());
    }
    store.transcript(&run)?;
    println!("{}", sequences.len());
    Ok(())
}
