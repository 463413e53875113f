//! The proof of a bench: a generator's lines of known level where the unit's connector is, alone and beside a carrier,
//! each read as a harmonic is read.
//!
//! On every way out the key comes up first, then the generator's output goes off, then the supply.

mod age;
mod bench;
mod beside;
mod line;

use std::collections::BTreeMap;
use std::future::Future;
use std::pin::Pin;
use std::time::Duration;

use spurline_clock::Clock;
use spurline_instrument::KeyHandle;
use spurline_plan::{Bench, Job, PlannedLine, Proving, SWITCH_SETTLE};
use spurline_record::{BenchProof, InstrumentUsed, KnownLine, ProofOutcome, Role, RunId};
use spurline_transport::{Address, Tap};
use spurline_units::Seconds;

use crate::fault::RunFault;
use crate::interlock::{Arming, Keyed, before_proof};
use crate::keyed::beating;
use crate::run::guarded;
pub use age::{PROVEN, standing, stands};
pub(crate) use bench::{ProvingRack, connect};

/// What is to be connected where the unit's connector is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Fitting {
    /// The generator in the unit's place.
    Generator,
    /// Unit and generator through one combiner.
    Both,
}

/// Who connects: a person, or what stands in for one on a simulated bench.
pub trait Hand {
    /// Ready when it is connected. The key is up and the generator's output is off.
    fn connect(&mut self, what: Fitting) -> Pin<Box<dyn Future<Output = ()> + '_>>;
}

/// What happens meanwhile.
#[derive(Clone, Copy, Debug)]
pub enum Proceeding<'a> {
    /// A piece of work began.
    Doing(&'a str),
    /// The unit was keyed, for at most so long.
    KeyDown(Seconds),
    /// The key is up, after so long.
    KeyUp(Seconds),
    /// A line was read.
    Read(&'a KnownLine),
}

/// What a proof needs beside the bench.
#[derive(Clone, Debug)]
pub struct ProofSetup {
    /// The proof's name.
    pub id: RunId,
    /// Program and version.
    pub software: String,
    /// The seed, if the bench is simulated.
    pub simulated: Option<u64>,
    /// Addresses that stand in for those of the bench file.
    pub addresses: BTreeMap<Role, Address>,
    /// Who has said that the bench may key.
    pub arming: Arming,
    /// Who holds the key.
    pub key: crate::keyed::KeySetup,
    /// What a reader should be told.
    pub notes: Vec<String>,
}

/// How it ended.
#[derive(Clone, Debug)]
pub enum ProofEnded {
    /// Every line was looked at.
    Finished(Box<BenchProof>),
    /// Someone stopped it.
    Interrupted,
}

/// A generator has settled in level and frequency so long after it was told (common practice: well within 100 ms).
const GENERATOR_SETTLE: Duration = Duration::from_millis(100);

/// Reads the known lines of `proving`. Nothing is keyed unless it plans lines beside a carrier of `job`.
///
/// When `stop` is ready, it ends as interrupted: key up, output off.
///
/// # Errors
///
/// [`RunFault`].
#[expect(clippy::too_many_arguments, reason = "each is of another kind, and there is one caller")]
pub async fn prove(
    bench: &Bench,
    job: Option<&Job>,
    proving: &Proving<'_>,
    setup: &ProofSetup,
    (clock, tap): (Clock, &Tap),
    hand: &mut dyn Hand,
    tell: &mut dyn FnMut(Proceeding<'_>),
    stop: impl Future<Output = ()>,
) -> Result<ProofEnded, RunFault> {
    let at = clock.timestamp();
    tell(Proceeding::Doing("connect"));
    let keyed = job.filter(|_| !proving.beside.is_empty());
    if let (Some(job), Some(carrier), Some(first)) = (keyed, proving.carrier, proving.beside.first()) {
        // What would keep the key up later is told before anybody connects anything.
        before_proof(job, &bench.ways[first.way], carrier, setup.arming)?;
    }
    let (mut rack, key, used) =
        connect(bench, keyed, false, &setup.addresses, &setup.key, clock, tap).await?;
    let mut lines = Vec::new();
    let worked = {
        let mut work = Work {
            bench,
            rack: &mut rack,
            key: &key,
            clock,
            tap,
            tell,
            lines: &mut lines,
            way: None,
            arming: setup.arming,
            keyed: Keyed::default(),
        };
        tokio::select! {
            biased;
            () = stop => Ok(false),
            worked = guarded(work.all(keyed, proving, hand)) => worked.map(|()| true),
        }
    };
    let still_down = worked.as_ref().is_err_and(RunFault::is_still_down);
    let released = release(key, &mut rack, still_down).await;
    // What was left on matters more than what went wrong before.
    released?;
    if !worked? {
        return Ok(ProofEnded::Interrupted);
    }
    Ok(ProofEnded::Finished(Box::new(finished(bench, proving, setup, at, used, lines))))
}

fn finished(
    bench: &Bench,
    proving: &Proving<'_>,
    setup: &ProofSetup,
    at: jiff::Timestamp,
    instruments: Vec<InstrumentUsed>,
    lines: Vec<KnownLine>,
) -> BenchProof {
    let left_out = proving.left_out.iter().map(|why| format!("left out: {why}"));
    BenchProof {
        id: setup.id.clone(),
        at,
        bench: bench.title.clone(),
        software: setup.software.clone(),
        simulated: setup.simulated,
        path: Some(bench.path_digest.clone()),
        instruments,
        outcome: ProofOutcome::of_all(&lines),
        lines,
        notes: setup.notes.iter().cloned().chain(left_out).collect(),
    }
}

/// Key up, confirmed; output off, confirmed; supply off. Without a key that is surely up, the supply comes first.
pub(crate) async fn release(
    key: KeyHandle,
    rack: &mut ProvingRack,
    still_down: bool,
) -> Result<(), RunFault> {
    let up = if still_down { Err(()) } else { key.up().await.map(drop).map_err(drop) };
    let mut supply = Ok(());
    if up.is_err() {
        supply = rack.supply_off().await;
    }
    let key = key.close().await;
    let generator = rack.generator.off().await;
    if up.is_ok() {
        supply = rack.supply_off().await;
    }
    key?;
    generator?;
    supply
}

/// The work between connecting and leaving.
struct Work<'a> {
    bench: &'a Bench,
    rack: &'a mut ProvingRack,
    key: &'a KeyHandle,
    clock: Clock,
    tap: &'a Tap,
    tell: &'a mut dyn FnMut(Proceeding<'_>),
    lines: &'a mut Vec<KnownLine>,
    /// The way that the path is switched to.
    way: Option<usize>,
    arming: Arming,
    /// When the unit was keyed.
    keyed: Keyed,
}

impl Work<'_> {
    async fn all(
        &mut self,
        job: Option<&Job>,
        proving: &Proving<'_>,
        hand: &mut dyn Hand,
    ) -> Result<(), RunFault> {
        self.doing("align the analyser");
        self.rack.prepare().await?;
        let fitting = if self.bench.generator.as_ref().is_some_and(|used| used.isolation.is_some()) {
            Fitting::Both
        } else {
            Fitting::Generator
        };
        self.doing("connect the generator");
        hand.connect(fitting).await;
        // A hand takes its time, and links die meanwhile.
        self.rack.check().await?;
        for planned in &proving.alone {
            self.switch(planned.way).await?;
            let line = self.read(planned, false).await?;
            self.keep(line);
        }
        if let (Some(job), Some(carrier)) = (job, proving.carrier) {
            self.all_beside(job, carrier, &proving.beside).await?;
        }
        Ok(())
    }

    /// Reads one line: what is there without it, then with it. The output is off before and after.
    async fn read(&mut self, planned: &PlannedLine, keyed: bool) -> Result<KnownLine, RunFault> {
        let beside = if keyed { " beside the carrier" } else { "" };
        self.doing(&format!("{:.0} at {}{beside}", planned.expected, planned.frequency));
        let without = self.look("generator off", planned, keyed).await?;
        let give = self.rack.generator.give(planned.frequency, planned.set);
        attended(self.key, self.clock, keyed, give).await??;
        attended(self.key, self.clock, keyed, self.clock.sleep(GENERATOR_SETTLE)).await?;
        let with = self.look("known line", planned, keyed).await?;
        let off = self.rack.generator.off();
        attended(self.key, self.clock, keyed, off).await??;
        let path = self.bench.ways[planned.way].name.clone();
        Ok(line::judge(planned, path, &without, &with))
    }

    async fn look(
        &mut self,
        purpose: &str,
        planned: &PlannedLine,
        keyed: bool,
    ) -> Result<spurline_record::Acquisition, RunFault> {
        let look = &planned.look;
        let work = self.rack.analyser.acquire(purpose, keyed, &look.settings, look.sweeps);
        Ok(attended(self.key, self.clock, keyed, work).await??)
    }

    /// Switches the path, with the key up and the output off.
    async fn switch(&mut self, place: usize) -> Result<(), RunFault> {
        let way = &self.bench.ways[place];
        if self.way == Some(place) {
            return Ok(());
        }
        if !way.set.is_empty() {
            self.doing(&format!("switch the path to {}", way.name));
            self.key.up().await?;
            self.rack.switch(way).await?;
            self.clock.sleep(SWITCH_SETTLE).await;
        }
        self.way = Some(place);
        Ok(())
    }

    fn keep(&mut self, line: KnownLine) {
        (self.tell)(Proceeding::Read(&line));
        self.lines.push(line);
    }

    fn doing(&mut self, what: &str) {
        self.tap.step(what);
        (self.tell)(Proceeding::Doing(what));
    }
}

/// Work that keeps the lease alive if the unit is keyed.
async fn attended<T>(
    key: &KeyHandle,
    clock: Clock,
    keyed: bool,
    work: impl Future<Output = T>,
) -> Result<T, RunFault> {
    if keyed { Ok(beating(key, clock, work).await?) } else { Ok(work.await) }
}
