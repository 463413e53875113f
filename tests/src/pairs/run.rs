//! A unit is measured at one visit: loaded by the ordinary readers, served on sockets, run by the real procedures in virtual
//! time.

use spurline_clock::Pace;
use spurline_record::{Event, EventKind, InstrumentUsed, Outcome, Reading, RunHeader, RunId, RunState};
use spurline_report::RunView;
use spurline_sequencer::Listener;

use super::drawn::{Pair, Shifted};
use crate::files::{Files, simulated};
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
            local: jiff::tz::Offset::UTC,
            outcome: Outcome::of_run(self.readings.iter().map(|reading| reading.outcome)),
            instruments: &self.instruments,
            readings: &self.readings,
            events: &[],
            particulars: None,
        }
    }
}

/// Measures a unit at a visit on a runtime of its own.
///
/// # Errors
///
/// Why it could not be measured.
pub fn measured(pair: &Pair, shifted: Shifted) -> Result<Measured, String> {
    let job = Files { plan: pair.plan(), bench: pair.bench(shifted) }.job()?;
    let bench = simulated(&job)?;
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
