//! Measuring by a plan, from the opening of the record to the end of the run: what `run` begins and `resume` goes on with.

use std::collections::BTreeMap;
use std::path::PathBuf;

use jiff::Timestamp;
use spurline_clock::{Clock, Pace};
use spurline_plan::{ExpiredCalibration, Forecast, Job};
use spurline_record::{BenchProof, Role, RunId};
use spurline_sequencer::{
    Arming, Begun, Dispatcher, Ended, Kept, KeySetup, Setup, measure, standing, stands,
};
use spurline_sim::SimulatedBench;
use spurline_store::{Disk, Store};
use spurline_transport::Tap;

use crate::company::Company;
use crate::failure::Failure;
use crate::hold::Held;
use crate::keeper::Keeper;
use crate::operator::Simulated;
use crate::walk_in::{self, Visitor};
use crate::{arming, noted, simulated};

/// Program and version, as a record names them.
pub const SOFTWARE: &str = concat!("spurline ", env!("CARGO_PKG_VERSION"));

/// Where the record of a run is kept.
#[derive(Clone, Debug)]
pub struct RecordAt {
    /// Its folder.
    pub folder: PathBuf,
    /// What kind of disk will do.
    pub disk: Disk,
    /// How many bytes must be free before a run begins.
    pub reserve: u64,
}

/// A job that is about to be measured.
#[derive(Debug)]
pub struct Measurement<'a> {
    /// The job.
    pub job: &'a Job,
    /// Where its record is kept.
    pub record: RecordAt,
    /// Whether whoever started it has armed a real bench for it.
    pub arm: bool,
    /// Where the run begins.
    pub from: From,
    /// What is known of a radio that somebody has brought.
    pub visitor: Visitor,
}

/// Where a run begins.
#[derive(Debug)]
pub enum From {
    /// At its beginning.
    Beginning {
        /// The serial number that the unit must have.
        unit: Option<String>,
        /// The firmware version to write into the record.
        firmware: Option<String>,
    },
    /// Where it broke off.
    Broken {
        /// The run.
        id: RunId,
        /// What is kept of it.
        kept: Box<Kept>,
    },
}

/// A run that was begun, however it ended.
#[derive(Debug)]
pub struct Done {
    /// Its name.
    pub id: RunId,
    /// How it ended, or why it broke off; what it had measured is kept.
    pub ended: Result<Ended, Failure>,
}

impl Measurement<'_> {
    /// Measures, in time that passes as the bench has it.
    ///
    /// # Errors
    ///
    /// [`Failure`] if no run was begun; nothing was keyed.
    pub fn execute(self, company: &mut dyn Company) -> Result<Done, Failure> {
        let job = self.job;
        let forecast = Forecast::of(job)?;
        let mut bench = simulated::read(&job.bench)?;
        if let Some(bench) = &mut bench {
            walk_in::connect(bench, self.visitor.simulated_unit.as_deref())?;
        }
        let held = match &bench {
            // It lives in this process, on ports of its own.
            Some(_) => Held::default(),
            None => Held::take(job.bench.instruments.iter().map(|instrument| &instrument.address))?,
        };
        let store = Store::open_on(&self.record.folder, self.record.disk)?;
        store.refuse_without_room(self.record.reserve)?;
        let pace = bench.as_ref().map_or(Pace::Real, SimulatedBench::pace);
        let ran = spurline_clock::run(pace, |clock| self.measure(&forecast, bench, store, clock, company));
        let done = ran.map_err(Failure::Runtime)?;
        drop(held);
        done
    }

    async fn measure(
        &self,
        forecast: &Forecast,
        bench: Option<SimulatedBench>,
        store: Store,
        clock: Clock,
        company: &mut dyn Company,
    ) -> Result<Done, Failure> {
        let job = self.job;
        let (served, addresses) = match &bench {
            Some(bench) => {
                let (served, addresses) = simulated::serve_anywhere(&job.bench, bench, clock).await?;
                (Some(served), addresses)
            }
            None => {
                // Of a bench that nobody has armed it is not opened.
                let armed = self.arming() != Arming::Not;
                if let Some(warning) = simulated::warning_of_port(&job.bench).filter(|_| armed) {
                    company.say(&warning);
                }
                (None, BTreeMap::new())
            }
        };
        let expired = job.bench.not_good_on(today(clock));
        refuse_expired(job, &expired)?;
        let mut setup = self.setup(clock, addresses);
        setup.key = simulated::key(served.as_ref());
        setup.simulated = bench.as_ref().map(SimulatedBench::seed);
        setup.arming = if bench.is_some() { Arming::Simulated } else { self.arming() };
        setup.notes = expired;
        if job.bench.is_tuned_by_hand() && setup.unit.is_none() && setup.kept.is_none() {
            setup.unit = Some(self.serial(bench.as_ref())?);
        }
        // Opening a port may key for a moment, and a command does what it likes: not before it is said that they may.
        if setup.arming == Arming::Not && job.bench.key.relay().is_none() {
            return Err(arming::refuse(job, forecast, &[], company));
        }
        let goes_on = setup.kept.is_some();
        // Whoever goes on with a run keeps it for itself already.
        let alone = if goes_on {
            Held::default()
        } else {
            let (id, alone) = free_name(&store, clock.timestamp(), salt)?;
            setup.id = id;
            alone
        };
        let tap = Tap::default();
        let begun = Begun::connect(job, &setup, clock, tap.clone()).await.map_err(Failure::Run)?;
        let begun = begun.with_operator(match &served {
            Some(served) => Box::new(Simulated { speaker: served.speaker(), thumb: served.thumb() }),
            None => company.operator(),
        });
        if setup.arming == Arming::Not {
            let refused = arming::refuse(job, forecast, begun.instruments(), company);
            begun.leave().await.map_err(Failure::Run)?;
            return Err(refused);
        }
        if setup.arming != Arming::Simulated {
            company.say(&arming::cautions());
        }
        let now = clock.timestamp();
        let newest = newest_proof(&store, job, &begun, setup.simulated, now)?;
        setup.proven = stands(newest.as_ref(), &job.bench, now).or_else(|| self.visitor.shown.clone());
        if !goes_on {
            setup.notes.extend(forecast.notes.iter().cloned());
            setup.notes.insert(0, standing(newest.as_ref(), &job.bench, now));
            setup.notes.extend(walk_in::warm_in_words(&self.visitor.before.warm));
            setup.noted = noted::carriers(&store, job, &begun, setup.simulated)?;
        }
        let mut recorder = match &setup.kept {
            None => store.into_recorder(),
            Some(_) => store.into_recorder_of(&setup.id),
        };
        let pace = bench.as_ref().map_or(Pace::Real, SimulatedBench::pace);
        let kept = setup.kept.as_ref().map_or(0, |kept| kept.readings.len());
        let mut listener = company.listener(forecast.readings().saturating_sub(kept), pace);
        let mut keeper = Keeper { recorder: &mut recorder, tap: &tap, folder: &self.record.folder };
        company.named(&setup.id);
        let stop = company.stop();
        let stopping = async {
            stop.await;
            company.say("stopping: key up first");
        };
        let ended = {
            let last = setup.kept.as_ref().map_or(0, |kept| kept.last);
            let mut out = Dispatcher::new(clock, &mut keeper, listener.as_mut()).after(last);
            measure(job, &setup, begun, clock, &mut out, stopping).await.map_err(Failure::Run)
        };
        if let Some(served) = served {
            served.stop().await;
        }
        drop((alone, recorder));
        Ok(Done { id: setup.id, ended })
    }

    /// The serial number of a unit without a control port: a simulated one has it on its label.
    fn serial(&self, bench: Option<&SimulatedBench>) -> Result<String, Failure> {
        bench.map(|bench| bench.unit().serial.to_owned()).ok_or_else(|| Failure::Usage {
            message: "nobody has said which unit it is, and nothing on the bench does".to_owned(),
            advice: "say its serial number with `--unit SERIAL`; nothing was keyed".to_owned(),
        })
    }

    fn setup(&self, clock: Clock, addresses: BTreeMap<Role, spurline_transport::Address>) -> Setup {
        let (id, unit, firmware, kept) = match &self.from {
            From::Beginning { unit, firmware } => {
                (RunId::new(clock.timestamp(), salt()), unit.clone(), firmware.clone(), None)
            }
            From::Broken { id, kept } => (id.clone(), None, None, Some(Kept::clone(kept))),
        };
        Setup {
            id,
            software: SOFTWARE.to_owned(),
            unit,
            firmware,
            simulated: None,
            addresses,
            key: KeySetup::default(),
            notes: Vec::new(),
            noted: Vec::new(),
            kept,
            arming: Arming::Not,
            proven: None,
            before: self.visitor.before.clone(),
        }
    }

    /// Who has said that a real bench may key.
    fn arming(&self) -> Arming {
        match (self.arm, self.job.bench.armed) {
            (true, _) => Arming::ThisRun,
            (false, true) => Arming::BenchFile,
            (false, false) => Arming::Not,
        }
    }
}

/// Where the plan wants it so, nothing is keyed with what is no longer calibrated.
///
/// # Errors
///
/// [`Failure::Usage`] with the first of what is `expired`.
pub fn refuse_expired(job: &Job, expired: &[String]) -> Result<(), Failure> {
    match (job.plan.expired_calibration, expired) {
        (ExpiredCalibration::Refuse, [first, ..]) => Err(Failure::Usage {
            message: format!("{first}, and the plan says `expired_calibration: refuse`"),
            advice: "have it calibrated, or correct the days in the bench file; nothing was keyed".to_owned(),
        }),
        (ExpiredCalibration::Refuse, []) | (ExpiredCalibration::Warn, _) => Ok(()),
    }
}

/// The newest proof of the bench with the analyser that answers.
fn newest_proof(
    store: &Store,
    job: &Job,
    begun: &Begun,
    simulated: Option<u64>,
    now: Timestamp,
) -> Result<Option<BenchProof>, Failure> {
    let analyser = begun.instruments().iter().find(|used| used.role == Role::Analyser);
    let serial = analyser.map_or("", |used| used.identity.serial.as_str());
    Ok(store.newest_proof(&job.bench.title, serial, simulated, now)?)
}

/// The present day, in UTC.
#[must_use]
pub fn today(clock: Clock) -> jiff::civil::Date {
    jiff::tz::Offset::UTC.to_datetime(clock.timestamp()).date()
}

/// A name for a run that nothing in the record has, and that nobody is about to use.
fn free_name(
    store: &Store,
    started: Timestamp,
    mut salt: impl FnMut() -> u16,
) -> Result<(RunId, Held), Failure> {
    loop {
        let id = RunId::new(started, salt());
        // Held first: whoever had it until now has left it in the record.
        match Held::run(store.folder(), &id) {
            Err(Failure::InUse { .. }) => {}
            held if store.has(&id)? => drop(held?),
            held => return Ok((id, held?)),
        }
    }
}

/// Tells apart most runs that start in the same second.
#[must_use]
pub fn salt() -> u16 {
    use std::hash::{BuildHasher, Hasher};
    std::collections::hash_map::RandomState::new().build_hasher().finish() as u16
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn two_runs_of_a_second_have_different_names() {
        let folder = tempfile::tempdir().unwrap();
        let store = Store::open(folder.path()).unwrap();
        let name = |salts: [u16; 2]| {
            let mut salts = salts.into_iter();
            free_name(&store, Timestamp::UNIX_EPOCH, || salts.next().expect("it draws twice at most"))
                .unwrap()
        };
        let (first, _alone) = name([1, 9]);
        let (second, _alone) = name([1, 2]);
        assert_eq!((first.as_str(), second.as_str()), ("19700101-000000-0001", "19700101-000000-0002"));
    }
}
