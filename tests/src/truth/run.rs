//! A subject is measured: loaded by the ordinary readers, served on sockets, run by the real procedures. Nothing is kept
//! but what every reading came to.

use std::error::Error;

use spurline_clock::Pace;
use spurline_document::{Mistakes, Reader};
use spurline_plan::{Forecast, Job, LoadError, Prospect};
use spurline_record::{Event, EventKind};
use spurline_sequencer::{Listener, RunFault};
use spurline_sim::{ServeError, SimulatedBench};
use spurline_units::{Db, Seconds};
use thiserror::Error as ThisError;

use super::held::Held;
use super::subject::Subject;
use super::texts::Texts;
use crate::served;

/// What a run came to.
#[derive(Clone, Debug, Default)]
pub struct Ran {
    /// Every reading, held against the truth.
    pub readings: Vec<Held>,
    /// How long the key was down.
    pub keyed: Seconds,
}

/// Why a subject could not be measured.
#[derive(Debug, ThisError)]
pub enum Broke {
    /// Its files have mistakes, or it would overload the bench.
    #[error("the files have mistakes:\n{0}")]
    Files(#[from] Mistakes),
    /// Its plan could not be loaded.
    #[error("the plan does not load: {0:?}")]
    Load(LoadError),
    /// The bench could not be served.
    #[error("the bench is not served")]
    Serve(#[from] ServeError),
    /// The run broke off.
    #[error("the run broke off: {}", chain(.0))]
    Run(#[from] RunFault),
    /// The operating system gave no runtime.
    #[error("no runtime")]
    Runtime(#[from] std::io::Error),
}

fn chain(fault: &RunFault) -> String {
    let mut text = fault.to_string();
    let mut cause = fault.source();
    while let Some(next) = cause {
        text = format!("{text}: {next}");
        cause = next.source();
    }
    text
}

/// Measures a subject on a runtime of its own, in virtual time.
///
/// # Errors
///
/// [`Broke`].
pub fn measured(subject: &Subject) -> Result<Ran, Broke> {
    let job = load(&Texts::of(subject)?)?;
    let forecast = Forecast::of(&job)?;
    let bench = simulated(&job)?;
    let mut hearing = Hearing { subject, able: able(&forecast), ran: Ran::default() };
    spurline_clock::run(Pace::Fast, |clock| {
        served::measured::<Broke>(&job, &bench, clock, "truth", &mut hearing)
    })??;
    Ok(hearing.ran)
}

/// The attenuation that the forecast names for an order, dB; `None` if it is out of reach.
///
/// # Errors
///
/// [`Broke`].
pub(super) fn attenuation(subject: &Subject, order: u32) -> Result<Option<f64>, Broke> {
    let forecast = Forecast::of(&load(&Texts::of(subject)?)?)?;
    let readings = forecast.scopes.iter().flat_map(|scope| &scope.readings);
    let mut of_order = readings.filter(|reading| reading.order == order);
    Ok(of_order.find_map(|reading| reading.attenuation).map(Db::get))
}

fn load(texts: &Texts) -> Result<Job, Broke> {
    Job::load("plan.yaml", None, texts).map_err(|error| match error {
        LoadError::Mistakes(mistakes) => Broke::Files(mistakes),
        error => Broke::Load(error),
    })
}

fn simulated(job: &Job) -> Result<SimulatedBench, Mistakes> {
    let mut reader = Reader::new(&job.bench.document);
    let node = job.bench.simulated.as_ref();
    let bench = node.and_then(|node| SimulatedBench::read(&mut reader, node));
    reader.finish(bench)
}

/// The orders that the forecast calls able to be decided; 1 is the carrier.
fn able(forecast: &Forecast) -> Vec<u32> {
    let scopes = forecast.scopes.iter();
    scopes
        .flat_map(|scope| {
            let carrier = std::iter::once((1, &scope.prospect));
            carrier.chain(scope.readings.iter().map(|reading| (reading.order, &reading.prospect)))
        })
        .filter(|(_, prospect)| **prospect == Prospect::Able)
        .map(|(order, _)| order)
        .collect()
}

/// Hears what every reading came to.
struct Hearing<'s> {
    subject: &'s Subject,
    able: Vec<u32>,
    ran: Ran,
}

impl Listener for Hearing<'_> {
    fn hear(&mut self, event: &Event) {
        match &event.kind {
            EventKind::ReadingFinished(reading) => {
                let able = self.able.contains(&reading.order.unwrap_or(1));
                self.ran.readings.push(Held::new(self.subject, reading, able));
            }
            EventKind::KeyUp { held } => self.ran.keyed = self.ran.keyed + *held,
            _ => {}
        }
    }
}
