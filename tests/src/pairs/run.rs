//! A unit is measured at one visit: loaded by the ordinary readers, served on sockets, run by the real procedures in virtual
//! time.

use spurline_clock::Pace;
use spurline_document::Reader;
use spurline_plan::{Forecast, Job, Library, LoadError, NotFound, Text};
use spurline_record::{Event, EventKind, InstrumentUsed, Outcome, Reading, RunHeader, RunId, RunState};
use spurline_report::RunView;
use spurline_sequencer::Listener;
use spurline_sim::SimulatedBench;

use super::drawn::{Pair, Shifted};
use crate::truth::Broke;

/// A run, as its record would hold it.
#[derive(Clone, Debug)]
pub struct Measured {
    header: RunHeader,
    instruments: Vec<InstrumentUsed>,
    readings: Vec<Reading>,
}

impl Measured {
    /// The run as reports look at it.
    #[must_use]
    pub fn view(&self) -> RunView<'_> {
        RunView {
            header: &self.header,
            state: RunState::Finished,
            ended: None,
            outcome: Outcome::of_run(self.readings.iter().map(|reading| reading.outcome)),
            instruments: &self.instruments,
            readings: &self.readings,
            events: &[],
        }
    }
}

macro_rules! shipped {
    ($folder:literal: $($name:literal),+ $(,)?) => {
        [$(($name, include_str!(concat!("../../../config/", $folder, "/", $name, ".yaml")))),+]
    };
}

const PROFILES: [(&str, &str); 4] =
    shipped!("profiles": "analyser-generic", "power-meter-generic", "relay-generic", "unit-generic");
const RULES: [(&str, &str); 1] = shipped!("rules": "us-part-97");

struct Files<'a>(&'a Pair, Shifted);

fn found(name: &str, shipped: &[(&str, &str)]) -> Result<Text, NotFound> {
    let text = shipped.iter().find(|(known, _)| *known == name).map(|(_, text)| (*text).to_owned());
    let missing = || NotFound { message: format!("there is no `{name}`"), advice: None };
    text.map(|text| Text { name: name.to_owned(), text }).ok_or_else(missing)
}

impl Library for Files<'_> {
    fn file(&self, _: &str, path: &str) -> Result<Text, NotFound> {
        let text = match path {
            "plan.yaml" => self.0.plan(),
            "bench.yaml" => self.0.bench(self.1),
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

/// Measures a unit at a visit on a runtime of its own.
///
/// # Errors
///
/// Why it could not be measured.
pub fn measured(pair: &Pair, shifted: Shifted) -> Result<Measured, String> {
    let job = Job::load("plan.yaml", None, &Files(pair, shifted)).map_err(|error| match error {
        LoadError::Mistakes(mistakes) => mistakes.to_string(),
        error => format!("{error:?}"),
    })?;
    Forecast::of(&job).map_err(|mistakes| mistakes.to_string())?;
    let mut reader = Reader::new(&job.bench.document);
    let node = job.bench.simulated.as_ref();
    let bench = node.and_then(|node| SimulatedBench::read(&mut reader, node));
    let bench = reader.finish(bench).map_err(|mistakes| mistakes.to_string())?;
    let mut hearing = Hearing::default();
    let worked = spurline_clock::run(Pace::Fast, |clock| {
        crate::served::measured::<Broke>(&job, &bench, clock, "pairs", &mut hearing)
    });
    worked.map_err(|error| error.to_string())?.map_err(|broke| broke.to_string())?;
    let mut header = hearing.header.ok_or("the run did not begin")?;
    // Runs in virtual time may begin in the same second.
    header.id = RunId::from_record(format!("visit-{}", shifted.visit));
    Ok(Measured { header, instruments: hearing.instruments, readings: hearing.readings })
}

#[derive(Default)]
struct Hearing {
    header: Option<RunHeader>,
    instruments: Vec<InstrumentUsed>,
    readings: Vec<Reading>,
}

impl Listener for Hearing {
    fn hear(&mut self, event: &Event) {
        match &event.kind {
            EventKind::RunStarted(header) => self.header = Some((**header).clone()),
            EventKind::InstrumentFound(instrument) => self.instruments.push(instrument.clone()),
            EventKind::ReadingFinished(reading) => self.readings.push((**reading).clone()),
            _ => {}
        }
    }
}
