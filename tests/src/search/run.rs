//! A unit is searched: loaded by the ordinary readers, served on sockets, run by the real procedures in virtual time.

use std::error::Error;

use spurline_clock::Pace;
use spurline_document::Reader;
use spurline_plan::{Forecast, Job, Library, LoadError, NotFound, Text};
use spurline_record::{Event, EventKind, Reading};
use spurline_sequencer::Listener;
use spurline_sim::SimulatedBench;

use super::drawn::Planted;
use crate::served::measured;
use crate::truth::Broke;

/// What a run came to.
#[derive(Clone, Debug, Default)]
pub struct Searched {
    /// Every reading.
    pub readings: Vec<Reading>,
    /// How long the key was down, in seconds, all key-downs together.
    pub keyed: f64,
    /// How often.
    pub key_downs: usize,
}

macro_rules! shipped {
    ($folder:literal: $($name:literal),+ $(,)?) => {
        [$(($name, include_str!(concat!("../../../config/", $folder, "/", $name, ".yaml")))),+]
    };
}

const PROFILES: [(&str, &str); 5] = shipped!(
    "profiles": "analyser-generic", "power-meter-generic", "relay-generic", "supply-generic", "unit-generic"
);
const RULES: [(&str, &str); 1] = shipped!("rules": "us-part-97");

struct Files<'a>(&'a Planted);

fn found(name: &str, shipped: &[(&str, &str)]) -> Result<Text, NotFound> {
    let text = shipped.iter().find(|(known, _)| *known == name).map(|(_, text)| (*text).to_owned());
    let missing = || NotFound { message: format!("there is no `{name}`"), advice: None };
    text.map(|text| Text { name: name.to_owned(), text }).ok_or_else(missing)
}

impl Library for Files<'_> {
    fn file(&self, _: &str, path: &str) -> Result<Text, NotFound> {
        let text = match path {
            "plan.yaml" => self.0.plan(),
            "bench.yaml" => self.0.bench(),
            _ => return found(path, &[]),
        };
        Ok(Text { name: path.to_owned(), text })
    }

    fn profile(&self, _: &str, name: &str) -> Result<Text, NotFound> {
        found(name, &PROFILES)
    }

    fn rule(&self, _: &str, name: &str) -> Result<Text, NotFound> {
        found(name, &RULES)
    }

    fn band_plan(&self, _: &str, name: &str) -> Result<Text, NotFound> {
        found(name, &[])
    }
}

/// The job that a unit is searched by.
///
/// # Errors
///
/// The mistakes of its texts.
pub fn job(planted: &Planted) -> Result<Job, String> {
    Job::load("plan.yaml", None, &Files(planted)).map_err(|error| match error {
        LoadError::Mistakes(mistakes) => mistakes.to_string(),
        error => format!("{error:?}"),
    })
}

/// Searches a unit on a runtime of its own, in virtual time.
///
/// # Errors
///
/// Why it could not be searched.
pub fn searched(planted: &Planted) -> Result<Searched, String> {
    let job = job(planted)?;
    Forecast::of(&job).map_err(|mistakes| mistakes.to_string())?;
    let mut reader = Reader::new(&job.bench.document);
    let node = job.bench.simulated.as_ref();
    let bench = node.and_then(|node| SimulatedBench::read(&mut reader, node));
    let bench = reader.finish(bench).map_err(|mistakes| mistakes.to_string())?;
    let mut hearing = Hearing(Searched::default());
    let worked = spurline_clock::run(Pace::Fast, |clock| {
        measured::<Broke>(&job, &bench, clock, "search", &mut hearing)
    });
    worked.map_err(|error| error.to_string())?.map_err(|broke| chain(&broke))?;
    Ok(hearing.0)
}

fn chain(fault: &dyn Error) -> String {
    let mut text = fault.to_string();
    let mut cause = fault.source();
    while let Some(next) = cause {
        text = format!("{text}: {next}");
        cause = next.source();
    }
    text
}

/// Hears what every reading came to.
struct Hearing(Searched);

impl Listener for Hearing {
    fn hear(&mut self, event: &Event) {
        match &event.kind {
            EventKind::ReadingFinished(reading) => self.0.readings.push((**reading).clone()),
            EventKind::KeyUp { held } => {
                self.0.keyed += held.get();
                self.0.key_downs += 1;
            }
            _ => {}
        }
    }
}
