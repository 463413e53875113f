//! One case, run as the program runs it: real sockets, the instruments' own language, virtual time.

use std::collections::BTreeMap;
use std::error::Error;
use std::future::pending;

use spurline_clock::{Clock, Pace};
use spurline_document::{Document, Reader};
use spurline_plan::{Bench, Forecast, Job, Prospect};
use spurline_record::{Event, EventKind, Reading, Role, RunId};
use spurline_sequencer::{Begun, Dispatcher, Listener, Recorder, Setup, measure};
use spurline_sim::{Place, SimulatedBench, Wiring, calibrate, serve};
use spurline_transport::{Address, Tap};
use spurline_units::Hertz;

use super::case::Case;

/// What came of a case.
#[derive(Debug)]
pub struct Ran {
    /// The readings.
    pub readings: Vec<Reading>,
    /// How long the unit was keyed, in seconds.
    pub keyed: f64,
    /// The orders that the forecast calls able to be decided.
    pub able: Vec<u32>,
}

/// Runs a case.
///
/// # Errors
///
/// If its files cannot be read, or the run fails.
pub fn run(case: &Case) -> Result<Ran, Box<dyn Error>> {
    let mut texts = case.texts.clone();
    for table in calibrate(&simulated(&texts.0["bench.yaml"])?, Hertz::from_mhz(3200.0)) {
        texts.0.insert(format!("{}.s2p", table.name), table.touchstone);
    }
    let job = Job::load("plan.yaml", None, &texts)?;
    let forecast = Forecast::of(&job)?;
    let bench = read(&job.bench)?;
    let heard = spurline_clock::run(Pace::Fast, |clock| measured(&job, &bench, clock))??;
    let able = forecast.scopes.iter().flat_map(|scope| &scope.readings);
    let able = able.filter(|reading| reading.prospect == Prospect::Able).map(|reading| reading.order);
    Ok(Ran { readings: heard.readings, keyed: heard.keyed, able: able.collect() })
}

/// The simulated part of a bench file, read without the tables that it names.
fn simulated(text: &str) -> Result<SimulatedBench, Box<dyn Error>> {
    let document = Document::parse("bench.yaml", text)?;
    let mut reader = Reader::new(&document);
    let node = document.root.get("simulated").ok_or("the bench is not simulated")?;
    let bench = SimulatedBench::read(&mut reader, node);
    Ok(reader.finish(bench)?)
}

fn read(bench: &Bench) -> Result<SimulatedBench, Box<dyn Error>> {
    let mut reader = Reader::new(&bench.document);
    let node = bench.simulated.as_ref().ok_or("the bench is not simulated")?;
    let simulated = SimulatedBench::read(&mut reader, node);
    Ok(reader.finish(simulated)?)
}

fn simulated_role(role: Role) -> spurline_sim::Role {
    match role {
        Role::Analyser => spurline_sim::Role::Analyser,
        Role::PowerMeter => spurline_sim::Role::PowerMeter,
        Role::Supply => spurline_sim::Role::Supply,
        Role::Relay => spurline_sim::Role::Relay,
        Role::UnitControl => spurline_sim::Role::UnitControl,
        Role::Switch => spurline_sim::Role::Switch,
        Role::Generator => spurline_sim::Role::Generator,
    }
}

async fn measured(job: &Job, bench: &SimulatedBench, clock: Clock) -> Result<Heard, String> {
    let told = |error: &dyn Error| {
        let mut text = error.to_string();
        let mut cause = error.source();
        while let Some(error) = cause {
            text.push_str(&format!(": {error}"));
            cause = error.source();
        }
        text
    };
    let anywhere = Place::Socket { at: ([127, 0, 0, 1], 0).into() };
    let roles: Vec<Role> = job.bench.instruments.iter().map(|instrument| instrument.role).collect();
    let listen = roles.iter().map(|role| (simulated_role(*role), anywhere.clone())).collect();
    let wiring = Wiring { key_channel: job.bench.key.contact, listen };
    let served = serve(bench, &wiring, clock).await.map_err(|error| told(&error))?;
    let mut addresses = BTreeMap::new();
    for role in roles {
        let place = served.places().iter().find(|(found, _)| *found == simulated_role(role));
        if let Some((_, Place::Socket { at })) = place {
            let address: Address =
                format!("TCPIP::{}::{}::SOCKET", at.ip(), at.port()).parse().map_err(|e| format!("{e}"))?;
            addresses.insert(role, address);
        }
    }
    let setup = Setup {
        id: RunId::new(clock.timestamp(), 0),
        software: "truth".to_owned(),
        unit: None,
        firmware: None,
        simulated: Some(bench.seed()),
        addresses,
        notes: Vec::new(),
    };
    let tap = Tap::default();
    let begun = Begun::connect(job, &setup, clock, tap.clone()).await.map_err(|error| told(&error))?;
    let (mut heard, mut forgets) = (Heard::default(), Forgets { tap: &tap });
    let ended = {
        let mut out = Dispatcher::new(clock, &mut forgets, &mut heard);
        measure(job, &setup, begun, clock, &mut out, pending()).await
    };
    served.stop().await;
    ended.map_err(|error| told(&error))?;
    Ok(heard)
}

#[derive(Debug, Default)]
struct Heard {
    readings: Vec<Reading>,
    keyed: f64,
}

impl Listener for Heard {
    fn hear(&mut self, event: &Event) {
        match &event.kind {
            EventKind::ReadingFinished(reading) => {
                let mut reading = Reading::clone(reading);
                // Sweeps are large, and their truth is in the figures.
                reading.acquisitions.clear();
                self.readings.push(reading);
            }
            EventKind::KeyUp { held } => self.keyed += held.get(),
            _ => {}
        }
    }
}

/// Keeps nothing, and lets the transcript go.
struct Forgets<'a> {
    tap: &'a Tap,
}

impl Recorder for Forgets<'_> {
    fn keep(&mut self, _event: &Event) -> Result<(), Box<dyn Error + Send + Sync>> {
        drop(self.tap.take());
        Ok(())
    }
}
