//! The loss of a path by substitution: straight into an instrument, through the path, and straight again, several times
//! over, and straight once more at the end.
//!
//! The unit is never keyed. On every way out the key is up and the generator's output is off; it is off as well while
//! anything is connected.

mod evaluate;
mod read;

use std::collections::BTreeMap;
use std::future::Future;
use std::pin::Pin;
use std::time::Duration;

use spurline_clock::Clock;
use spurline_instrument::KeyHandle;
use spurline_plan::{Bench, SWITCH_SETTLE, Stretch, Substitution};
use spurline_record::{InstrumentUsed, Role};
use spurline_transport::{Address, Tap};
use spurline_units::{Db, Dbm, Hertz};

use crate::fault::RunFault;
use crate::prove::{ProvingRack, connect, release};
use crate::run::guarded;
use evaluate::Readings;
pub use evaluate::{MeasuredLoss, PathOutcome};

/// What is to be connected now. The key is up and the generator's output is off.
#[derive(Clone, Copy, Debug)]
pub struct Connection<'a> {
    /// The parts that are measured.
    pub stretch: &'a Stretch,
    /// The instrument that reads.
    pub with: Role,
    /// Whether the parts are between generator and instrument; else the generator goes straight in.
    pub through: bool,
    /// Which connection it is, from 1, and how many there will be.
    pub number: u32,
    /// See `number`.
    pub of: u32,
}

/// Who connects: a person, or what stands in for one on a simulated bench.
pub trait Mover {
    /// Ready when it is connected; `false` if it will not be.
    fn connect<'m>(&'m mut self, what: Connection<'m>) -> Pin<Box<dyn Future<Output = bool> + 'm>>;
}

/// What happens meanwhile.
#[derive(Clone, Copy, Debug)]
pub enum PathProgress<'a> {
    /// A piece of work began.
    Doing(&'a str),
    /// A level was read, straight or through the path.
    Read {
        /// At which frequency.
        frequency: Hertz,
        /// What came.
        level: Dbm,
    },
}

/// What the measurement of a path needs beside the bench.
#[derive(Clone, Debug)]
pub struct PathSetup {
    /// How often the path is connected, at least twice.
    pub repeats: u32,
    /// Addresses that stand in for those of the bench file.
    pub addresses: BTreeMap<Role, Address>,
    /// Who holds the key.
    pub key: crate::keyed::KeySetup,
}

/// A path as it was measured.
#[derive(Clone, Debug)]
pub struct MeasuredPath {
    /// When it was finished.
    pub at: jiff::Timestamp,
    /// The losses, with rising frequencies.
    pub losses: Vec<MeasuredLoss>,
    /// What could not be read, and why.
    pub left_out: Vec<String>,
    /// Whether something that was asked for is among that.
    pub lacks_needed: bool,
    /// The instruments as they were found.
    pub instruments: Vec<InstrumentUsed>,
    /// How far the generator's level had moved at the end, where it had moved most.
    pub drift: Db,
    /// How far it may have moved there.
    pub largest_drift: Db,
    /// The largest deviation of a point from the line between its neighbours, and where.
    pub bend: Option<(Hertz, Db)>,
    /// What it came to.
    pub outcome: PathOutcome,
}

/// How it ended.
#[derive(Clone, Debug)]
pub enum PathEnded {
    /// Everything was read, or what was read says that something is wrong.
    Finished(Box<MeasuredPath>),
    /// It was not connected as it was asked.
    Declined,
    /// Someone stopped it.
    Interrupted,
}

/// Whether the work between connecting and leaving came to its end.
enum Worked {
    Through(Readings),
    Declined,
    Stopped,
}

/// Measures the loss of a path; nothing is keyed.
///
/// When `stop` is ready, it ends as interrupted: key up, output off.
///
/// # Errors
///
/// [`RunFault`].
pub async fn measure_path(
    bench: &Bench,
    planned: &Substitution,
    setup: &PathSetup,
    (clock, tap): (Clock, &Tap),
    mover: &mut dyn Mover,
    tell: &mut dyn FnMut(PathProgress<'_>),
    stop: impl Future<Output = ()>,
) -> Result<PathEnded, RunFault> {
    tell(PathProgress::Doing("connect"));
    let by_meter = planned.with == Role::PowerMeter;
    let (mut rack, key, instruments) =
        connect(bench, None, by_meter, &setup.addresses, &setup.key, clock, tap).await?;
    let mut worked = Worked::Stopped;
    let ended = {
        let mut work = Work {
            bench,
            planned,
            repeats: setup.repeats.max(2),
            rack: &mut rack,
            key: &key,
            clock,
            tap,
            tell,
        };
        let all = async {
            worked = work.all(mover).await?;
            Ok(())
        };
        tokio::select! {
            biased;
            () = stop => Ok(()),
            ended = guarded(all) => ended,
        }
    };
    // What was left on matters more than what went wrong before.
    release(key, &mut rack, false).await?;
    ended?;
    Ok(match worked {
        Worked::Stopped => PathEnded::Interrupted,
        Worked::Declined => PathEnded::Declined,
        Worked::Through(readings) => {
            PathEnded::Finished(Box::new(readings.evaluate(planned, clock.timestamp(), instruments)))
        }
    })
}

/// The work between connecting and leaving.
struct Work<'a> {
    bench: &'a Bench,
    planned: &'a Substitution,
    repeats: u32,
    rack: &'a mut ProvingRack,
    key: &'a KeyHandle,
    clock: Clock,
    tap: &'a Tap,
    tell: &'a mut dyn FnMut(PathProgress<'_>),
}

/// A generator has settled in level and frequency so long after it was told (common practice: well within 100 ms).
const GENERATOR_SETTLE: Duration = Duration::from_millis(100);

impl Work<'_> {
    async fn all(&mut self, mover: &mut dyn Mover) -> Result<Worked, RunFault> {
        self.doing("align and zero the instruments");
        self.rack.prepare().await?;
        self.switch().await?;
        let mut readings = Readings::of(self.planned);
        let of = 2 * self.repeats + 1;
        for number in 1..=of {
            let through = number % 2 == 0;
            let place = if through { "through the path" } else { "straight" };
            self.doing(&format!("connection {number} of {of}, {place}"));
            let connection =
                Connection { stretch: &self.planned.stretch, with: self.planned.with, through, number, of };
            if !mover.connect(connection).await {
                return Ok(Worked::Declined);
            }
            // A hand takes its time, and links die meanwhile.
            self.rack.check().await?;
            self.row(through, &mut readings).await?;
            // Nothing is moved with the output on.
            self.rack.generator.off().await?;
            if readings.wrong.is_some() {
                break;
            }
        }
        Ok(Worked::Through(readings))
    }

    /// Switches the path to the way that is measured, with the key up and the output off.
    async fn switch(&mut self) -> Result<(), RunFault> {
        let Some(way) = self.planned.stretch.way.map(|place| &self.bench.ways[place]) else { return Ok(()) };
        if !way.set.is_empty() {
            self.doing(&format!("switch the path to {}", way.name));
            self.key.up().await?;
            self.rack.switch(way).await?;
            self.clock.sleep(SWITCH_SETTLE).await;
        }
        Ok(())
    }

    fn doing(&mut self, what: &str) {
        self.tap.step(what);
        (self.tell)(PathProgress::Doing(what));
    }
}
