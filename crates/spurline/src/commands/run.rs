//! `run`: the run, from identification to the report.

use std::collections::BTreeMap;

use clap::Args;
use spurline_clock::{Clock, Pace};
use spurline_plan::{Forecast, Job};
use spurline_record::{BenchProof, Role, RunId};
use spurline_sequencer::{Arming, Begun, Dispatcher, Ended, Setup, measure, standing, stands};
use spurline_store::{Recorder, Store, StoredRun};
use spurline_transport::Tap;

use super::run_operator::{AtTerminal, Simulated};
use crate::arming;
use crate::data::{DataArgument, make_folder, write_whole};
use crate::exit::Exit;
use crate::hold::Held;
use crate::library::Files;
use crate::noted;
use crate::progress;
use crate::room;
use crate::talk::{self, Failure, print, say};
use crate::{simulated, table};

/// Measure a unit as a plan says, and judge it
///
/// Ends with 0 if everything complies, 1 if something exceeds, 2 for a wrong plan (nothing was keyed), 3 if
/// nothing exceeds but something is undecided, invalid or without limit, 4 if the bench failed, 5 if the record
/// failed, 130 if it was stopped.
#[derive(Args, Debug)]
pub(crate) struct Run {
    /// The plan
    plan: String,
    /// The bench, instead of the one that the plan names
    #[arg(long, value_name = "FILE")]
    bench: Option<String>,
    /// Serial number that the unit must have
    #[arg(long, value_name = "SERIAL")]
    unit: Option<String>,
    /// Firmware version to write into the record, if it is not what the unit says
    #[arg(long, value_name = "VERSION")]
    firmware: Option<String>,
    /// Let this one run key a real bench: you have looked at it, and the cautions are kept
    #[arg(long)]
    arm: bool,
    #[command(flatten)]
    data: DataArgument,
    /// Print one JSON document instead of a table
    #[arg(long)]
    pub(crate) json: bool,
}

/// Program and version, as a record names them.
pub(super) const SOFTWARE: &str = concat!("spurline ", env!("CARGO_PKG_VERSION"));

/// A run that ended one way or another, as far as the caller needs it.
type Outcome = Result<Ended, Failure>;

impl Run {
    pub(crate) fn execute(self) -> Result<Exit, Failure> {
        let job = Job::load(&self.plan, self.bench.as_deref(), &Files::new())?;
        let forecast = Forecast::of(&job)?;
        let bench = simulated::read(&job.bench)?;
        let folder = self.data.folder()?;
        let held = match &bench {
            // It lives in this process, on ports of its own.
            Some(_) => Held::default(),
            None => Held::take(job.bench.instruments.iter().map(|instrument| &instrument.address))?,
        };
        let store = Store::open(&folder)?;
        let pace = bench.as_ref().map_or(Pace::Real, |bench| bench.pace());
        let ran = spurline_clock::run(pace, |clock| self.measure(&job, &forecast, bench, store, clock));
        let (id, recorder, outcome) = ran.map_err(Failure::Runtime)??;
        drop((recorder, held));
        let ended = match outcome {
            Ok(ended) => ended,
            Err(failure) => {
                let exit = talk::report(&failure, false);
                if let Err(second) = self.finish(&folder, &id) {
                    // The first failure decides how the program ends; the second is told as well.
                    talk::report(&second, self.json);
                }
                return Ok(exit);
            }
        };
        self.finish(&folder, &id)?;
        Ok(Exit::of_run(&ended))
    }

    async fn measure(
        &self,
        job: &Job,
        forecast: &Forecast,
        bench: Option<spurline_sim::SimulatedBench>,
        store: Store,
        clock: Clock,
    ) -> Result<(RunId, Recorder, Outcome), Failure> {
        let (served, addresses) = match &bench {
            Some(bench) => {
                let (served, addresses) = simulated::serve_anywhere(&job.bench, bench, clock).await?;
                (Some(served), addresses)
            }
            None => (None, BTreeMap::new()),
        };
        let expired = job.bench.not_good_on(super::today(clock));
        super::refuse_expired(job, &expired)?;
        let mut setup = Setup {
            id: RunId::new(clock.timestamp(), salt()),
            software: SOFTWARE.to_owned(),
            unit: self.unit.clone(),
            firmware: self.firmware.clone(),
            simulated: bench.as_ref().map(spurline_sim::SimulatedBench::seed),
            addresses,
            notes: expired.into_iter().chain(forecast.notes.iter().cloned()).collect(),
            noted: Vec::new(),
            arming: if bench.is_some() { Arming::Simulated } else { self.arming(job) },
            proven: None,
        };
        let tap = Tap::default();
        let begun = Begun::connect(job, &setup, clock, tap.clone()).await.map_err(Failure::Run)?;
        let begun = begun.with_operator(match &served {
            Some(served) => Box::new(Simulated(served.speaker())),
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
        let newest = newest_proof(&store, job, &begun)?;
        let lasts = job.bench.proof_lasts;
        setup.notes.insert(0, standing(newest.as_ref(), clock.timestamp(), lasts));
        setup.proven = stands(newest.as_ref(), clock.timestamp(), lasts);
        setup.noted = noted::carriers(&store, job, &begun, setup.simulated)?;
        let mut recorder = store.into_recorder();
        let pace = bench.as_ref().map_or(Pace::Real, spurline_sim::SimulatedBench::pace);
        let mut listener = progress::listener(self.json, forecast.readings(), pace);
        let folder = self.data.folder()?;
        let mut keeper = Keeper { recorder: &mut recorder, tap: &tap, folder: &folder };
        let stop = told_to_stop();
        let stopping = async {
            stop.await;
            say("stopping: key up first");
        };
        let ended = {
            let mut out = Dispatcher::new(clock, &mut keeper, listener.as_mut());
            measure(job, &setup, begun, clock, &mut out, stopping).await.map_err(Failure::Run)
        };
        if let Some(served) = served {
            served.stop().await;
        }
        Ok((setup.id, recorder, ended))
    }

    /// Who has said that a real bench may key.
    fn arming(&self, job: &Job) -> Arming {
        match (self.arm, job.bench.armed) {
            (true, _) => Arming::ThisRun,
            (false, true) => Arming::BenchFile,
            (false, false) => Arming::Not,
        }
    }

    /// Writes the report and prints what the run came to.
    fn finish(&self, folder: &std::path::Path, id: &RunId) -> Result<(), Failure> {
        let stored = Store::open_read_only(folder)?.load(id)?;
        let view = super::report::view(&stored);
        let reports = folder.join("reports");
        make_folder(&reports)?;
        let path = reports.join(format!("{id}.html"));
        write_whole(&path, spurline_report::html(&view)?.as_bytes())?;
        if self.json {
            print(spurline_report::json(&view)?.as_bytes())?;
        } else {
            summary(&stored, &path)?;
        }
        Ok(())
    }
}

/// The newest proof of the bench with the analyser that answers.
fn newest_proof(store: &Store, job: &Job, begun: &Begun) -> Result<Option<BenchProof>, Failure> {
    let analyser = begun.instruments().iter().find(|used| used.role == Role::Analyser);
    let serial = analyser.map_or("", |used| used.identity.serial.as_str());
    Ok(store.newest_proof(&job.bench.title, serial)?)
}

fn summary(stored: &StoredRun, report: &std::path::Path) -> Result<(), Failure> {
    let text = format!("{}\n{}", table::readings(&stored.readings), table::summary(stored));
    talk::print_text(&text)?;
    say(&format!("run {}\nreport {}", stored.header.id, report.display()));
    Ok(())
}

/// Keeps events and, with each, what passed on the links meanwhile.
struct Keeper<'a> {
    recorder: &'a mut Recorder,
    tap: &'a Tap,
    folder: &'a std::path::Path,
}

impl spurline_sequencer::Recorder for Keeper<'_> {
    fn keep(
        &mut self,
        events: &[spurline_record::Event],
    ) -> Result<(), Box<dyn std::error::Error + Send + Sync>> {
        self.recorder.record(events)?;
        // The transcript is kept with what is kept anyway: no commit of its own while the key is down.
        let takes = |event: &spurline_record::Event| {
            matches!(
                event.kind,
                spurline_record::EventKind::ScopeStarted { .. }
                    | spurline_record::EventKind::KeyUp { .. }
                    | spurline_record::EventKind::RunEnded { .. }
            )
        };
        if events.iter().any(takes) {
            let entries: Vec<_> = self.tap.take().into_iter().map(transcript_entry).collect();
            self.recorder.transcript(&entries)?;
        }
        Ok(())
    }

    fn ready(&mut self) -> Result<String, String> {
        room::in_folder(self.folder)
    }
}

fn transcript_entry(tapped: spurline_transport::Tapped) -> spurline_store::TranscriptEntry {
    spurline_store::TranscriptEntry {
        at: tapped.at,
        link: tapped.link,
        direction: match tapped.direction {
            spurline_transport::Direction::Sent => spurline_store::Direction::To,
            spurline_transport::Direction::Received => spurline_store::Direction::From,
            spurline_transport::Direction::Unreadable => spurline_store::Direction::Unreadable,
            spurline_transport::Direction::Lost => spurline_store::Direction::Lost,
        },
        step: tapped.step,
        bytes: tapped.bytes.to_vec(),
    }
}

/// Tells apart runs that start in the same second.
pub(super) fn salt() -> u16 {
    use std::hash::{BuildHasher, Hasher};
    std::collections::hash_map::RandomState::new().build_hasher().finish() as u16
}

/// Ready when someone wants the program to stop; listened for from the call on.
pub(super) fn told_to_stop() -> impl Future<Output = ()> {
    use tokio::signal::unix::{SignalKind, signal};
    let kinds = [SignalKind::interrupt(), SignalKind::terminate(), SignalKind::hangup()];
    let mut signals: Vec<_> = kinds.into_iter().filter_map(|kind| signal(kind).ok()).collect();
    std::future::poll_fn(move |context| {
        if signals.iter_mut().any(|signal| signal.poll_recv(context).is_ready()) {
            std::task::Poll::Ready(())
        } else {
            std::task::Poll::Pending
        }
    })
}
