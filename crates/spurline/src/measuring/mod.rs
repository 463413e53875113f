//! Measuring by a plan, from the opening of the record to the report: what `run` begins and `resume` goes on with.

mod keeper;

use std::collections::BTreeMap;
use std::io::IsTerminal;
use std::path::{Path, PathBuf};

use jiff::Timestamp;
use spurline_clock::{Clock, Pace};
use spurline_plan::{ExpiredCalibration, Forecast, Job};
use spurline_record::{BenchProof, Role, RunId};
use spurline_sequencer::{
    Arming, Begun, Dispatcher, Ended, Kept, KeySetup, Setup, measure, standing, stands,
};
use spurline_sim::SimulatedBench;
use spurline_store::{Recorder, Store, StoredRun};
use spurline_transport::Tap;

use crate::commands::operator::{AtTerminal, Simulated};
use crate::data::{self, make_folder, write_whole};
use crate::exit::Exit;
use crate::hold::Held;
use crate::stop::told_to_stop;
use crate::talk::{self, Failure, print, say};
use crate::{arming, commands, noted, progress, simulated, table};
use keeper::Keeper;

/// Program and version, as a record names them.
pub(crate) const SOFTWARE: &str = concat!("spurline ", env!("CARGO_PKG_VERSION"));

/// A job that is about to be measured.
pub(crate) struct Measurement<'a> {
    pub(crate) job: &'a Job,
    /// Folder of the record.
    pub(crate) folder: PathBuf,
    /// Whether one JSON document is printed instead of a table.
    pub(crate) json: bool,
    /// Whether whoever started it has armed a real bench for it.
    pub(crate) arm: bool,
    pub(crate) from: From,
}

/// Where a run begins.
pub(crate) enum From {
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

/// A run that ended one way or another, as far as the caller needs it.
type Outcome = Result<Ended, Failure>;

impl Measurement<'_> {
    pub(crate) fn execute(self) -> Result<Exit, Failure> {
        let job = self.job;
        let forecast = Forecast::of(job)?;
        let bench = simulated::read(&job.bench)?;
        if job.bench.key.is_by_hand() && bench.is_none() {
            somebody_is_there(self.json)?;
        }
        let held = match &bench {
            // It lives in this process, on ports of its own.
            Some(_) => Held::default(),
            None => Held::take(job.bench.instruments.iter().map(|instrument| &instrument.address))?,
        };
        let store = data::open_for_run(&self.folder)?;
        let pace = bench.as_ref().map_or(Pace::Real, SimulatedBench::pace);
        let ran = spurline_clock::run(pace, |clock| self.measure(&forecast, bench, store, clock));
        let (id, recorder, outcome) = ran.map_err(Failure::Runtime)??;
        drop((recorder, held));
        let ended = match outcome {
            Ok(ended) => ended,
            Err(failure) => {
                let exit = talk::report(&failure, false);
                self.say_how_to_go_on(&id);
                if let Err(second) = self.finish(&id, Some(&failure)) {
                    // The first failure decides how the program ends; the second is told as well.
                    talk::report(&second, false);
                    if self.json {
                        talk::print_json(&talk::as_json(&failure))?;
                    }
                }
                return Ok(exit);
            }
        };
        self.finish(&id, None)?;
        if Exit::of_run(&ended) == Exit::Interrupted {
            self.say_how_to_go_on(&id);
        }
        Ok(Exit::of_run(&ended))
    }

    fn say_how_to_go_on(&self, id: &RunId) {
        say(&format!("what is measured is kept; go on with `spurline resume {id}`"));
    }

    async fn measure(
        &self,
        forecast: &Forecast,
        bench: Option<SimulatedBench>,
        store: Store,
        clock: Clock,
    ) -> Result<(RunId, Recorder, Outcome), Failure> {
        let job = self.job;
        let (served, addresses) = match &bench {
            Some(bench) => {
                let (served, addresses) = simulated::serve_anywhere(&job.bench, bench, clock).await?;
                (Some(served), addresses)
            }
            None => {
                simulated::warn_of_port(&job.bench);
                (None, BTreeMap::new())
            }
        };
        let expired = job.bench.not_good_on(commands::today(clock));
        refuse_expired(job, &expired)?;
        let mut setup = self.setup(clock, addresses);
        setup.key = simulated::key(served.as_ref());
        setup.simulated = bench.as_ref().map(SimulatedBench::seed);
        setup.arming = if bench.is_some() { Arming::Simulated } else { self.arming() };
        setup.notes = expired;
        // Opening a port may key for a moment, and a command does what it likes: not before it is said that they may.
        if setup.arming == Arming::Not && job.bench.key.relay().is_none() {
            return Err(arming::refuse(job, forecast, &[]));
        }
        let goes_on = setup.kept.is_some();
        // Whoever goes on with a run keeps it for itself already.
        let alone = if goes_on { Held::default() } else { Held::run(&self.folder, &setup.id)? };
        let tap = Tap::default();
        let begun = Begun::connect(job, &setup, clock, tap.clone()).await.map_err(Failure::Run)?;
        let begun = begun.with_operator(match &served {
            Some(served) => Box::new(Simulated { speaker: served.speaker(), thumb: served.thumb() }),
            None => Box::new(AtTerminal),
        });
        if setup.arming == Arming::Not {
            let refused = arming::refuse(job, forecast, begun.instruments());
            begun.leave().await.map_err(Failure::Run)?;
            return Err(refused);
        }
        if setup.arming != Arming::Simulated {
            say(&arming::cautions());
        }
        let now = clock.timestamp();
        let newest = newest_proof(&store, job, &begun, setup.simulated, now)?;
        setup.proven = stands(newest.as_ref(), &job.bench, now);
        if !goes_on {
            setup.notes.extend(forecast.notes.iter().cloned());
            setup.notes.insert(0, standing(newest.as_ref(), &job.bench, now));
            setup.noted = noted::carriers(&store, job, &begun, setup.simulated)?;
        }
        let mut recorder = match &setup.kept {
            None => store.into_recorder(),
            Some(_) => store.into_recorder_of(&setup.id),
        };
        let pace = bench.as_ref().map_or(Pace::Real, SimulatedBench::pace);
        let kept = setup.kept.as_ref().map_or(0, |kept| kept.readings.len());
        let mut listener = progress::listener(self.json, forecast.readings().saturating_sub(kept), pace);
        let mut keeper = Keeper { recorder: &mut recorder, tap: &tap, folder: &self.folder };
        let stop = told_to_stop();
        let stopping = async {
            stop.await;
            say("stopping: key up first");
        };
        let ended = {
            let last = setup.kept.as_ref().map_or(0, |kept| kept.last);
            let mut out = Dispatcher::new(clock, &mut keeper, listener.as_mut()).after(last);
            measure(job, &setup, begun, clock, &mut out, stopping).await.map_err(Failure::Run)
        };
        if let Some(served) = served {
            served.stop().await;
        }
        drop(alone);
        Ok((setup.id, recorder, ended))
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

    /// Writes the report and prints what the run came to, and why it broke off.
    fn finish(&self, id: &RunId, failure: Option<&Failure>) -> Result<(), Failure> {
        let stored = Store::open_read_only(&self.folder)?.load(id)?;
        let view = commands::report::view(&stored);
        let reports = self.folder.join("reports");
        make_folder(&reports)?;
        let path = reports.join(format!("{id}.html"));
        write_whole(&path, spurline_report::html(&view)?.as_bytes())?;
        if !self.json {
            return summary(&stored, &path);
        }
        let text = spurline_report::json(&view)?;
        match failure {
            None => print(text.as_bytes()),
            Some(failure) => talk::print_json(&with_error(&text, failure)),
        }
    }
}

/// The document of a run that broke off: with `error`, as of a command that failed.
fn with_error(text: &str, failure: &Failure) -> serde_json::Value {
    let mut document: serde_json::Value = serde_json::from_str(text).expect("a report in JSON is JSON");
    document["error"] = talk::as_json(failure)["error"].take();
    document
}

/// A person who keys must see what the run says, and hear it.
fn somebody_is_there(json: bool) -> Result<(), Failure> {
    let missing = if json {
        Some("`--json` leaves no place for what it is told")
    } else if !std::io::stdin().is_terminal() {
        Some("standard input is no terminal")
    } else if !std::io::stderr().is_terminal() {
        Some("standard error is no terminal")
    } else {
        None
    };
    missing.map_or(Ok(()), |missing| {
        Err(Failure::Usage {
            message: format!("the key is a person's hand, and nobody is told when to key: {missing}"),
            advice: "run it at a terminal without `--json`, or key by a line: `relay`, `serial_line`. Nothing was keyed"
                .to_owned(),
        })
    })
}

/// Where the plan wants it so, nothing is keyed with what is no longer calibrated.
pub(crate) fn refuse_expired(job: &Job, expired: &[String]) -> Result<(), Failure> {
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

fn summary(stored: &StoredRun, report: &Path) -> Result<(), Failure> {
    let text = format!("{}\n{}", table::readings(&stored.readings), table::summary(stored));
    talk::print_text(&text)?;
    say(&format!("run {}\nreport {}", stored.header.id, report.display()));
    Ok(())
}

/// Tells apart runs that start in the same second.
pub(crate) fn salt() -> u16 {
    use std::hash::{BuildHasher, Hasher};
    std::collections::hash_map::RandomState::new().build_hasher().finish() as u16
}
