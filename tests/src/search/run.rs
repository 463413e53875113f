//! A unit is searched: loaded by the ordinary readers, served on sockets, run by the real procedures in virtual time.

use std::error::Error;

use spurline_clock::Pace;
use spurline_plan::Job;
use spurline_record::{Event, EventKind, Reading};
use spurline_sequencer::Listener;

use super::drawn::Planted;
use crate::files::{Files, simulated};
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

/// The job that a unit is searched by.
///
/// # Errors
///
/// The mistakes of its texts.
pub fn job(planted: &Planted) -> Result<Job, String> {
    Files { plan: planted.plan(), bench: planted.bench() }.job()
}

/// Searches a unit on a runtime of its own, in virtual time.
///
/// # Errors
///
/// Why it could not be searched.
pub fn searched(planted: &Planted) -> Result<Searched, String> {
    let job = job(planted)?;
    let bench = simulated(&job)?;
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
                self.0.key_downs += usize::from(held.get() > 0.0);
            }
            _ => {}
        }
    }
}
