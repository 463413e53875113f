//! The bench on real links: one place an instrument, any number of connections.
//!
//! A [`Port`](port::Port) is one instrument as a link sees it: program messages in, [`Delivery`](delivery::Delivery)
//! out. A link (`socket`, `hislip`, `vxi11`, `pty`) only knows how its kind carries them.

mod delivery;
mod exchange;
mod faults;
mod hand;
mod hislip;
mod key_line;
mod key_log;
mod listener;
mod locks;
mod place;
mod port;
mod pty;
mod seats;
mod shared;
mod socket;
mod start;
mod stream;
mod vxi11;

use std::io;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use spurline_clock::Clock;
use spurline_scpi::Limits;
use spurline_units::{Hertz, Volts};
use thiserror::Error;
use tokio::task::JoinHandle;

use crate::bench::{HandTruth, SimulatedBench};
use crate::instruments::{
    Analyser, AudioGenerator, Generator, PowerMeter, Relay, Supply, UnitControl, Wired,
};
use crate::observed::Observations;
use crate::role::Role;
use crate::world::{Audio, Connected, World};
pub use hand::Thumb;
use key_line::KeyLine;
use key_log::KeyLog;
pub use place::Place;
use start::Start;

/// What an instrument takes in one message before it complains of an overrun.
const INPUT_BUFFER: Limits = Limits { text: 64 << 10, block: 1 << 20 };

/// What is wired to what, and where each instrument listens.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Wiring {
    /// The relay's contact on the unit's key line; 0 if a relay does not key.
    pub key_channel: u32,
    /// Whether the supply's output is on the unit's key line, and the unit feeds itself.
    pub key_supply: bool,
    /// Where the control line that keys can be opened, if one keys.
    pub key_line: Option<KeyLinePlace>,
    /// Instruments and where each can be reached.
    pub listen: Vec<(Role, Place)>,
}

/// Where a control line can be opened.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum KeyLinePlace {
    /// A socket of this path.
    At(PathBuf),
    /// A socket in a folder of its own.
    Anywhere,
}

/// Why a bench cannot be served.
#[derive(Debug, Error)]
pub enum ServeError {
    /// The place cannot be had.
    #[error("the {role} cannot listen at {place}")]
    Listen {
        /// Whose.
        role: Role,
        /// Where.
        place: Place,
        /// Why.
        #[source]
        source: io::Error,
    },
    /// The key line cannot be opened.
    #[error("the key line cannot be served at {}", .path.display())]
    KeyLine {
        /// Where.
        path: PathBuf,
        /// Why.
        #[source]
        source: io::Error,
    },
    /// The log of the key cannot be written.
    #[error("the log of the key cannot be written to {}", .path.display())]
    KeyLog {
        /// Where.
        path: PathBuf,
        /// Why.
        #[source]
        source: io::Error,
    },
    /// The file does not say what the instrument is.
    #[error("the simulated bench has no {0}: its key is missing under `simulated`")]
    Missing(Role),
}

impl ServeError {
    /// What to do about it.
    #[must_use]
    pub const fn advice(&self) -> &'static str {
        match self {
            Self::Listen { place: Place::Serial { .. }, .. } => {
                "does the folder exist, and is nothing of that name in it? remove what a bench has left behind"
            }
            Self::KeyLine { .. } => "does the folder exist, and is nothing of that name in it?",
            Self::KeyLog { .. } => "does the folder exist, and may this user write there?",
            Self::Listen { .. } => "is another program, or another simulated bench, on that port?",
            Self::Missing(_) => "add its key under `simulated`, or take the instrument out of the bench",
        }
    }
}

/// A bench that is being served, until it is stopped or dropped.
#[derive(Debug)]
pub struct Served {
    places: Vec<(Role, Place)>,
    key_line: Option<PathBuf>,
    servers: Vec<JoinHandle<()>>,
    world: Arc<World>,
    hand: HandTruth,
    clock: Clock,
}

impl Served {
    /// Where each instrument answers: the places asked for, with the ports and paths that were really had.
    #[must_use]
    pub fn places(&self) -> &[(Role, Place)] {
        &self.places
    }

    /// Where the control line that keys can be opened, if there is one.
    #[must_use]
    pub fn key_line(&self) -> Option<&Path> {
        self.key_line.as_deref()
    }

    /// What really happened so far; for tests, never for a client.
    #[must_use]
    pub fn observed(&self) -> Observations {
        self.world.observed(self.clock.now())
    }

    /// Connects something where the unit's connector is, as a hand would.
    pub fn connect(&self, connected: Connected) {
        self.world.connect(self.clock.now(), connected);
    }

    /// What gives a tone to the unit's microphone input as a person would, with a generator that is not on any link.
    pub fn speaker(&self) -> Speaker {
        Speaker { world: self.world.clone(), clock: self.clock }
    }

    /// The hand that keys the unit as a person would who is told to.
    #[must_use]
    pub fn thumb(&self) -> Thumb {
        Thumb::new(self.hand, self.world.clone(), self.clock)
    }

    /// Closes every listener and connection.
    pub async fn stop(mut self) {
        for server in self.servers.drain(..) {
            server.abort();
            // Aborted is what it should be; a panic has been printed already.
            drop(server.await);
        }
    }
}

/// A hand at an audio generator that no program controls.
#[derive(Clone, Debug)]
pub struct Speaker {
    world: Arc<World>,
    clock: Clock,
}

impl Speaker {
    /// Gives a tone of a frequency and a level, r.m.s., or none.
    pub fn speak(&self, tone: Option<(Hertz, Volts)>) {
        let audio = tone.map(|(frequency, level)| Audio { frequency, level });
        self.world.speak(self.clock.now(), audio);
    }
}

impl Drop for Served {
    fn drop(&mut self) {
        self.servers.iter().for_each(JoinHandle::abort);
    }
}

/// Serves a bench.
///
/// # Errors
///
/// [`ServeError`].
pub async fn serve(bench: &SimulatedBench, wiring: &Wiring, clock: Clock) -> Result<Served, ServeError> {
    let world = Arc::new(World::new(bench, wiring.key_supply, clock.now()));
    let mut served = Served {
        places: Vec::new(),
        key_line: None,
        servers: Vec::new(),
        world: world.clone(),
        hand: bench.first_unit().hand.unwrap_or(bench.hand),
        clock,
    };
    if let Some(path) = &bench.key_log {
        let failed = |source| ServeError::KeyLog { path: path.clone(), source };
        KeyLog::open(path, clock).map_err(failed)?.follow(&world);
        served.servers.push(tokio::spawn(key_log::watch(world.clone(), clock)));
    }
    if let Some(place) = &wiring.key_line {
        let path = if let KeyLinePlace::At(path) = place { Some(path.as_path()) } else { None };
        let failed = |source| ServeError::KeyLine { path: path.unwrap_or(Path::new("")).to_owned(), source };
        let line = KeyLine::open(path).map_err(failed)?;
        served.key_line = Some(line.path().to_owned());
        served.servers.push(tokio::spawn(line.serve(bench.key_line, world.clone(), clock)));
    }
    for (role, place) in &wiring.listen {
        let role = *role;
        let missing = || ServeError::Missing(role);
        if !bench.has(role) {
            return Err(missing());
        }
        let start = Start::at(bench, role, place, clock).await?;
        served.places.push((role, start.place().clone()));
        let (seed, world) = (bench.seed, world.clone());
        let server = match role {
            Role::Analyser => {
                let truth = bench.analyser.clone().ok_or_else(missing)?;
                start.serve(move || Analyser::new(&truth, seed, world.clone()))
            }
            Role::PowerMeter => {
                let truth = bench.power_meter.clone().ok_or_else(missing)?;
                start.serve(move || PowerMeter::new(&truth, seed, world.clone()))
            }
            Role::Supply => {
                let truth = bench.supply.clone().ok_or_else(missing)?;
                let keys = wiring.key_supply;
                start.serve(move || Supply::new(truth.clone(), world.clone(), keys))
            }
            Role::Relay => {
                let (truth, wired) =
                    (bench.relay.clone().ok_or_else(missing)?, Wired::Key(wiring.key_channel));
                start.serve(move || Relay::new(truth.clone(), world.clone(), wired))
            }
            Role::Switch => {
                let truth = bench.switch.clone().ok_or_else(missing)?;
                start.serve(move || Relay::new(truth.clone(), world.clone(), Wired::Path))
            }
            Role::UnitControl => start.serve(move || UnitControl::new(world.clone())),
            Role::Generator => {
                let truth = bench.generator.clone().ok_or_else(missing)?;
                start.serve(move || Generator::new(truth.clone(), world.clone()))
            }
            Role::AudioGenerator => {
                let truth = bench.audio_generator.clone().ok_or_else(missing)?;
                start.serve(move || AudioGenerator::new(truth.clone(), world.clone()))
            }
        };
        served.servers.push(server);
    }
    Ok(served)
}
