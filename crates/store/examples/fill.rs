//! A large record, and what it costs to look into it: `fill RECORD RUNS READINGS FOLDER` fills the record in FOLDER with
//! RUNS runs of READINGS readings each, made from those of the last run in the folder RECORD, each look with the
//! first of its sweeps; then it prints how long the questions of every day take.

#![expect(clippy::print_stdout, reason = "an example talks to a person")]

use std::error::Error;
use std::path::Path;
use std::time::Duration;

use jiff::SignedDuration;
use spurline_clock::{Clock, Pace};
use spurline_record::{Event, EventKind, Outcome, Reading, RunHeader, RunId, RunState};
use spurline_store::{RECORD_FILE, Store, StoreError, StoredRun};

fn main() -> Result<(), Box<dyn Error>> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let [from, runs, readings, folder] = arguments.as_slice() else {
        return Err("expected `fill RECORD RUNS READINGS FOLDER`".into());
    };
    let from = Store::open_read_only(Path::new(from))?;
    let model = from.load(&from.resolve("last")?)?;
    let folder = Path::new(folder);
    let (runs, readings): (u32, u32) = (runs.parse()?, readings.parse()?);
    spurline_clock::run(Pace::Real, |clock| async move {
        fill(&model, runs, readings, folder, clock)?;
        ask(folder, clock)
    })?
}

fn fill(
    model: &StoredRun,
    runs: u32,
    readings: u32,
    folder: &Path,
    clock: Clock,
) -> Result<(), Box<dyn Error>> {
    let began = clock.now();
    for number in 0..runs {
        let mut recorder = Store::open(folder)?.into_recorder();
        recorder.record(&events(model, number, readings)?)?;
    }
    let seconds = clock.now().since(began).as_secs_f64();
    let size = std::fs::metadata(folder.join(RECORD_FILE))?.len();
    let all = f64::from(runs) * f64::from(readings);
    println!("{all:.0} readings in {runs} runs, written in {seconds:.0} s");
    println!(
        "{:.2} GB: {:.0} bytes a reading, files of its run included",
        size as f64 / 1e9,
        size as f64 / all
    );
    Ok(())
}

/// A whole run: the beginning of the model, then its readings over and over.
fn events(model: &StoredRun, number: u32, readings: u32) -> Result<Vec<Event>, Box<dyn Error>> {
    let started = model.header.started.checked_add(SignedDuration::from_mins(i64::from(number) * 10))?;
    let header = RunHeader { id: RunId::new(started, number as u16), started, ..model.header.clone() };
    let mut kinds = vec![EventKind::RunStarted(Box::new(header))];
    kinds.extend(model.instruments.iter().cloned().map(EventKind::InstrumentFound));
    for (ordinal, reading) in (1..=readings).zip(model.readings.iter().cycle()) {
        let mut acquisitions = reading.acquisitions.clone();
        acquisitions.iter_mut().for_each(|look| look.sweeps.truncate(1));
        let reading = Reading { ordinal, acquisitions, ..reading.clone() };
        kinds.push(EventKind::ReadingFinished(Box::new(reading)));
    }
    kinds.push(EventKind::RunEnded { state: RunState::Finished, outcome: Some(Outcome::Exceeds) });
    Ok((1..).zip(kinds).map(|(sequence, kind)| Event { sequence, at: started, kind }).collect())
}

fn ask(folder: &Path, clock: Clock) -> Result<(), Box<dyn Error>> {
    let took = |what: &str, work: &mut dyn FnMut() -> Result<(), StoreError>| {
        let mut all = Vec::new();
        for _ in 0..5 {
            let began = clock.now();
            work()?;
            all.push(clock.now().since(began));
        }
        all.sort();
        let [first, .., last] = all.as_slice() else { unreachable!("asked five times") };
        println!(
            "{what:44} {:>6.1} ms (five times: {:.1} to {:.1})",
            milli(all[2]),
            milli(*first),
            milli(*last)
        );
        Ok::<(), Box<dyn Error>>(())
    };
    let open = || Store::open_read_only(folder);
    let ids = open()?.newest_runs(u32::MAX)?;
    let (Some(newest), Some(middle)) = (ids.first(), ids.get(ids.len() / 2)) else { return Ok(()) };
    took("open, the newest 50 runs", &mut || open()?.newest_runs(50).map(drop))?;
    took("open, all runs", &mut || open()?.runs().map(drop))?;
    took("open, the start of a name", &mut || open()?.resolve(middle.id.as_str()).map(drop))?;
    took("open, a run without sweeps", &mut || open()?.load_readings(&middle.id).map(drop))?;
    took("open, two runs without sweeps", &mut || {
        let store = open()?;
        let first = store.load_readings(&middle.id)?;
        store.load_readings(&newest.id).map(|second| drop((first, second)))
    })?;
    took("open, a run with sweeps", &mut || open()?.load(&middle.id).map(drop))?;
    took("open, verify a run", &mut || open()?.verify(&middle.id).map(drop))
}

fn milli(time: Duration) -> f64 {
    time.as_secs_f64() * 1e3
}
