//! The service: its benches, their threads, its queue and its times, whoever asks.

use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread::JoinHandle;
use std::time::Duration;

use jiff::Timestamp;
use serde::Serialize;
use serde_json::json;
use spurline_clock::Clock;
use spurline_plan::{Job, LoadError};
use spurline_record::RunId;
use spurline_runner::{Files, Held, RecordAt, make_folder};
use spurline_store::Store;
use spurline_walkin::{Day, load_day};
use thiserror::Error;
use utoipa::ToSchema;

use crate::bench::{Bench, Cause, Standing, State};
use crate::configuration::{Announced, BenchAt, Configuration};
use crate::door::{self, Door};
use crate::hub::Hub;
use crate::metrics::{Metrics, Now};
use crate::plans::{PlanError, Plans};
use crate::queue::{Entry, Queue, QueueError, Wanted};
use crate::scribe::Scribe;
use crate::worker;

/// How long it is waited at most before the dates of schedules are looked at again: the machine's date may be set.
const LOOK_EVERY: Duration = Duration::from_secs(30);
/// How often it is looked whether the benches have ended.
const ENDED_EVERY: Duration = Duration::from_millis(20);

/// Why a service does not begin.
#[derive(Debug, Error)]
pub enum ServiceError {
    /// A bench's file has mistakes.
    #[error("bench `{bench}` cannot be used")]
    Bench {
        /// Its name.
        bench: String,
        /// Why.
        #[source]
        source: LoadError,
    },
    /// The file of a test day has mistakes.
    #[error("the test day of bench `{bench}` cannot be held")]
    Day {
        /// The bench.
        bench: String,
        /// Why.
        #[source]
        source: spurline_runner::Failure,
    },
    /// What is measured by itself names a plan that is not there, or the plans cannot be looked at.
    #[error("{what} cannot be measured")]
    Plan {
        /// What wants it.
        what: String,
        /// Why.
        #[source]
        source: PlanError,
    },
    /// What is measured by itself names a bench that takes no queue.
    #[error("{what} cannot be measured on bench `{bench}`: it holds a test day")]
    OfDay {
        /// What wants it.
        what: String,
        /// The bench.
        bench: String,
    },
    /// The record cannot be used.
    #[error("the record cannot be used")]
    Record(#[source] spurline_runner::Failure),
    /// The queue cannot be used.
    #[error(transparent)]
    Queue(#[from] QueueError),
    /// The system gives no thread.
    #[error("the system gives no thread for {of}")]
    Thread {
        /// What it is for.
        of: String,
        /// Why.
        #[source]
        source: std::io::Error,
    },
}

impl ServiceError {
    /// What to do about it.
    #[must_use]
    pub fn advice(&self) -> Option<String> {
        match self {
            Self::Bench { source: LoadError::Mistakes(mistakes), .. } => {
                Some(format!("mend its file, then begin again\n{mistakes}"))
            }
            Self::Bench { source, .. } => source.advice(),
            Self::Day { source: spurline_runner::Failure::Mistakes(mistakes), .. } => {
                Some(format!("mend its file, then begin again\n{mistakes}"))
            }
            Self::Day { source, .. } | Self::Record(source) => source.advice(),
            Self::Plan { source: PlanError::Folder { .. }, .. } => {
                Some("`plans:` in the service's file names the folder".to_owned())
            }
            Self::Plan { .. } => Some(
                "its name is that of a file in the folder of the plans, without `.yaml`; mend the service's file"
                    .to_owned(),
            ),
            Self::OfDay { .. } => Some("name a bench without `day` in the service's file".to_owned()),
            Self::Queue(_) => Some("can this user write there, and is the disk full?".to_owned()),
            Self::Thread { .. } => Some("the system is out of something: threads or memory".to_owned()),
        }
    }
}

/// Why something that was asked of the service was not done.
#[derive(Debug, Error)]
pub enum AskError {
    /// There is no such bench.
    #[error("there is no bench `{0}`")]
    NoBench(String),
    /// There is no such plan.
    #[error(transparent)]
    Plan(#[from] PlanError),
    /// The queue does not take it.
    #[error(transparent)]
    Queue(#[from] QueueError),
    /// It holds as long as the program does, but not longer.
    #[error(
        "bench `{bench}` does as it was told, but that is not on the disk and does not hold after a restart"
    )]
    NotKept {
        /// The bench.
        bench: String,
        /// Why.
        #[source]
        source: QueueError,
    },
    /// A text is too long, or holds what no name holds.
    #[error("expected {what} of at most {most} printable characters")]
    Text {
        /// What it is.
        what: &'static str,
        /// How long it may be.
        most: usize,
    },
    /// Something without a name was announced.
    #[error("expected a name, found none")]
    NoName,
    /// The bench holds a test day, and works off no queue.
    #[error("bench `{0}` holds a test day, and works off no queue")]
    HoldsDay(String),
    /// The bench holds no test day.
    #[error("no test day is held on `{0}`")]
    NoDay(String),
    /// The day does not go on.
    #[error("the test day on `{bench}` does not go on, and takes no line: {why}")]
    DayIsOver {
        /// Where.
        bench: String,
        /// Why it does not.
        why: String,
    },
    /// The bench is paused.
    #[error("bench `{0}` is paused, and takes no line")]
    Paused(String),
    /// Too many lines wait already.
    #[error("too many lines wait on bench `{0}` already")]
    TooManyLines(String),
    /// The service ends.
    #[error("the service ends, and takes nothing new")]
    Ending,
}

/// What all threads of the service share.
#[derive(Debug)]
pub(crate) struct Shared {
    pub(crate) queue: Queue,
    pub(crate) hub: Hub,
    pub(crate) metrics: Metrics,
    pub(crate) plans: Plans,
    pub(crate) record: RecordAt,
    pub(crate) scribe: Scribe,
    pub(crate) benches: Vec<Arc<Bench>>,
    clock: Clock,
    ending: AtomicBool,
}

impl Shared {
    pub(crate) fn now(&self) -> Timestamp {
        self.clock.timestamp()
    }

    pub(crate) fn is_ending(&self) -> bool {
        self.ending.load(Ordering::SeqCst)
    }

    pub(crate) fn tell_bench(&self, bench: &Bench, state: &State) {
        let shown = Shown { name: &bench.at.name, title: &bench.title, simulated: bench.simulated, state };
        let text = serde_json::to_string(&shown).expect("it is made of texts and numbers");
        self.hub.tell("bench", text);
    }

    pub(crate) fn tell_queue(&self) {
        self.hub.tell("queue", "{}".to_owned());
    }
}

/// A bench as it is shown.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct Shown<'a> {
    /// Its name.
    pub name: &'a str,
    /// Its title.
    pub title: &'a str,
    /// Whether it is simulated.
    pub simulated: bool,
    /// What it does.
    #[serde(flatten)]
    pub state: &'a State,
}

/// A service that goes on.
#[derive(Debug)]
pub struct Service {
    shared: Arc<Shared>,
    configuration: Configuration,
    threads: Mutex<Vec<(String, JoinHandle<()>)>>,
    _alone: Held,
}

impl AskError {
    /// What to do about it.
    #[must_use]
    pub fn advice(&self) -> Option<&'static str> {
        match self {
            Self::NoBench(_) => Some("the benches of the service stand in its file"),
            Self::Plan(PlanError::Unknown(_)) => {
                Some("its name is that of a file in the folder of the plans, without `.yaml`")
            }
            Self::Plan(PlanError::Folder { .. }) => Some("look at the folder's rights"),
            Self::Queue(QueueError::Full(_)) => Some("wait, or withdraw what nobody needs"),
            Self::Queue(QueueError::GoesOn { .. }) => Some(
                "wait until it has ended, or withdraw it from the queue; `/api/queue` tells how it stands",
            ),
            Self::Queue(QueueError::NotWaiting(_)) => Some("its turn has come, or it was withdrawn"),
            Self::Queue(QueueError::Unknown(_)) => Some("the queue tells its numbers"),
            Self::Queue(QueueError::File { .. } | QueueError::Later { .. }) => Some("is the disk full?"),
            Self::NotKept { .. } => Some("is the disk full? make room, then ask again"),
            Self::Text { .. } => Some("write it shorter, in one line, without control characters"),
            Self::NoName => Some("`name` is a firmware's version or file, or a unit's serial number"),
            Self::HoldsDay(_) => Some("radios are entered on the page of the day: `/walk-in`"),
            Self::NoDay(_) => {
                Some("name the day's file beside the bench: `benches: [ { name: …, file: …, day: … } ]`")
            }
            Self::DayIsOver { .. } => {
                Some("mend what it says, then start the service again; the day goes on")
            }
            Self::Paused(_) => Some("let it take work again on the page `Benches`, then type it again"),
            Self::TooManyLines(_) => Some("wait for the radio that is measured"),
            Self::Ending => Some("ask again when it has begun anew"),
        }
    }
}

impl Service {
    /// Begins: every bench goes on with what it was doing when the program ended, then with what waits.
    ///
    /// # Errors
    ///
    /// [`ServiceError`]; nothing was keyed.
    pub fn begin(configuration: Configuration, record: RecordAt, clock: Clock) -> Result<Self, ServiceError> {
        let mut benches = Vec::new();
        for at in &configuration.benches {
            benches.push(Arc::new(bench(at)?));
        }
        can_be_measured(&configuration)?;
        make_folder(&record.folder).map_err(ServiceError::Record)?;
        // Before anything is taken for left over: another service may be working it off.
        let alone = Held::queue(&record.folder).map_err(ServiceError::Record)?;
        // Made, or brought up to date, before any bench needs it.
        let store = Store::open_on(&record.folder, record.disk);
        drop(store.map_err(|error| ServiceError::Record(error.into()))?);
        let queue = Queue::open(&record.folder)?;
        for entry in queue.recover()? {
            tracing::warn!(
                entry = entry.id,
                bench = entry.wanted.bench,
                "was going on when the program ended"
            );
        }
        for pause in queue.pauses()? {
            let Some(bench) = benches.iter().find(|bench| bench.at.name == pause.bench) else { continue };
            bench.change(|state| state.pause(Some(pause.cause)));
            let (since, why) = (pause.since.to_string(), pause.cause.in_words());
            tracing::warn!(bench = pause.bench, since, "is paused, and takes no work: {why}");
        }
        let scribe = Scribe::begin(record.folder.clone());
        let scribe =
            scribe.map_err(|source| ServiceError::Thread { of: "the reports".to_owned(), source })?;
        let shared = Arc::new(Shared {
            queue,
            scribe,
            hub: Hub::new(clock.timestamp().as_millisecond().to_string()),
            metrics: Metrics::default(),
            plans: Plans::new(configuration.plans.clone()),
            record,
            benches,
            clock,
            ending: AtomicBool::new(false),
        });
        let service = Self { shared, configuration, threads: Mutex::default(), _alone: alone };
        for bench in &service.shared.benches {
            let (shared, own) = (service.shared.clone(), bench.clone());
            let name = bench.at.name.clone();
            let thread =
                std::thread::Builder::new().name(name.clone()).spawn(move || match own.door.clone() {
                    Some(door) => door::work(&shared, &own, &door),
                    None => worker::work(&shared, &own),
                });
            let thread =
                thread.map_err(|source| ServiceError::Thread { of: format!("bench `{name}`"), source })?;
            service.threads.lock().unwrap_or_else(PoisonError::into_inner).push((name, thread));
        }
        Ok(service)
    }

    /// What it was made of.
    #[must_use]
    pub fn configuration(&self) -> &Configuration {
        &self.configuration
    }

    /// Its benches.
    #[must_use]
    pub fn benches(&self) -> &[Arc<Bench>] {
        &self.shared.benches
    }

    /// A bench by its name.
    ///
    /// # Errors
    ///
    /// [`AskError::NoBench`].
    pub fn bench(&self, name: &str) -> Result<&Arc<Bench>, AskError> {
        let found = self.shared.benches.iter().find(|bench| bench.at.name == name);
        found.ok_or_else(|| AskError::NoBench(name.to_owned()))
    }

    /// The door of the test day that a bench holds.
    ///
    /// # Errors
    ///
    /// [`AskError::NoBench`], [`AskError::NoDay`].
    pub fn door(&self, name: &str) -> Result<&Arc<Door>, AskError> {
        self.bench(name)?.door.as_ref().ok_or_else(|| AskError::NoDay(name.to_owned()))
    }

    /// Takes a line that somebody typed on the page of a test day.
    ///
    /// # Errors
    ///
    /// [`AskError`].
    pub fn typed(&self, name: &str, line: &str) -> Result<(), AskError> {
        let door = self.door(name)?;
        if self.shared.is_ending() {
            return Err(AskError::Ending);
        }
        plain("a line", line)?;
        let seen = door.seen();
        if seen.is_over {
            return Err(AskError::DayIsOver {
                bench: name.to_owned(),
                why: seen.trouble.unwrap_or_default(),
            });
        }
        if self.bench(name)?.state().paused && !seen.stays {
            return Err(AskError::Paused(name.to_owned()));
        }
        if !door.typed(line.to_owned()) {
            return Err(AskError::TooManyLines(name.to_owned()));
        }
        self.bench(name)?.ring();
        Ok(())
    }

    /// The present moment.
    #[must_use]
    pub fn now(&self) -> Timestamp {
        self.shared.now()
    }

    /// The plans that may be asked for.
    #[must_use]
    pub fn plans(&self) -> &Plans {
        &self.shared.plans
    }

    /// Where the record is.
    #[must_use]
    pub fn record(&self) -> &RecordAt {
        &self.shared.record
    }

    /// Where messages come from.
    #[must_use]
    pub fn hub(&self) -> &Hub {
        &self.shared.hub
    }

    /// Puts a run at the end of its bench's queue.
    ///
    /// # Errors
    ///
    /// [`AskError`]; nothing was added.
    pub fn ask(&self, wanted: &Wanted) -> Result<Entry, AskError> {
        let bench = self.bench(&wanted.bench)?;
        if bench.door.is_some() {
            return Err(AskError::HoldsDay(wanted.bench.clone()));
        }
        if self.shared.is_ending() {
            return Err(AskError::Ending);
        }
        if wanted.goes_on.is_none() {
            self.shared.plans.path(&wanted.plan)?;
        }
        let texts = [("a serial number", &wanted.unit), ("a firmware version", &wanted.firmware)];
        for (what, text) in texts {
            plain(what, text.as_deref().unwrap_or_default())?;
        }
        let entry = self.shared.queue.add(wanted, self.shared.now())?;
        self.shared.tell_queue();
        bench.ring();
        Ok(entry)
    }

    /// Has everything measured that the configuration wants when a firmware or a unit is announced.
    ///
    /// # Errors
    ///
    /// [`AskError`] for the first that cannot be added; those before it are.
    pub fn announce(&self, of: Announced, text: &str, bench: Option<&str>) -> Result<Vec<Entry>, AskError> {
        plain("a name", text)?;
        if text.is_empty() {
            return Err(AskError::NoName);
        }
        if let Some(bench) = bench {
            self.bench(bench)?;
        }
        let meant = self
            .configuration
            .announced
            .iter()
            .filter(|follows| follows.of == of && bench.is_none_or(|bench| follows.bench == bench));
        meant
            .map(|follows| {
                let (unit, firmware, by) = match of {
                    Announced::Firmware => (None, Some(text.to_owned()), "announced firmware"),
                    Announced::Unit => (Some(text.to_owned()), None, "announced unit"),
                };
                self.ask(&Wanted {
                    bench: follows.bench.clone(),
                    plan: follows.plan.clone(),
                    unit,
                    firmware,
                    goes_on: None,
                    by: by.to_owned(),
                })
            })
            .collect()
    }

    /// Takes out what waits.
    ///
    /// # Errors
    ///
    /// [`QueueError::NotWaiting`] or [`QueueError::Unknown`].
    pub fn withdraw(&self, id: u64) -> Result<(), AskError> {
        self.shared.queue.withdraw(id, self.shared.now())?;
        self.shared.tell_queue();
        Ok(())
    }

    /// Has what waits come next.
    ///
    /// # Errors
    ///
    /// [`QueueError::NotWaiting`] or [`QueueError::Unknown`].
    pub fn first(&self, id: u64) -> Result<(), AskError> {
        self.shared.queue.first(id)?;
        self.shared.tell_queue();
        Ok(())
    }

    /// What runs, waits, and ended last.
    ///
    /// # Errors
    ///
    /// [`QueueError::File`].
    pub fn entries(&self, most: u32) -> Result<Vec<Entry>, AskError> {
        Ok(self.shared.queue.entries(most)?)
    }

    /// Whether a bench takes no further work from now on. A run that goes on is not disturbed.
    ///
    /// # Errors
    ///
    /// [`AskError::NoBench`].
    pub fn pause(&self, name: &str, paused: bool) -> Result<(), AskError> {
        let bench = self.bench(name)?;
        let cause = paused.then_some(Cause::Asked);
        // One that was stopped stays so for whoever asks for a pause on top of that.
        let state =
            bench.change(|state| state.pause(cause.map(|asked| state.paused_because.unwrap_or(asked))));
        self.shared.tell_bench(bench, &state);
        self.shared.tell_queue();
        let kept = self.keep_pause(bench);
        bench.ring();
        kept
    }

    /// Has the run on a bench stop: key up first, then what was measured is kept, and can be gone on with. The bench is
    /// paused, also if nothing is measured there at that moment.
    ///
    /// # Errors
    ///
    /// [`AskError`] if there is no such bench, or its pause cannot be kept on the disk; it is stopped all the same.
    pub fn stop(&self, name: &str) -> Result<(), AskError> {
        self.stop_these(std::slice::from_ref(self.bench(name)?))
    }

    /// Has every bench stop, key up first, and pauses every one.
    ///
    /// # Errors
    ///
    /// [`AskError`] if a pause cannot be kept on the disk; they are stopped all the same.
    pub fn stop_all(&self) -> Result<(), AskError> {
        self.stop_these(&self.shared.benches)
    }

    fn stop_these(&self, benches: &[Arc<Bench>]) -> Result<(), AskError> {
        // Every key comes up before anything else is done.
        let states: Vec<State> = benches.iter().map(|bench| bench.stop(true)).collect();
        for (bench, state) in benches.iter().zip(&states) {
            tracing::warn!(bench = bench.at.name, "stopped by hand, and paused");
            self.shared.tell_bench(bench, state);
        }
        self.shared.tell_queue();
        // The first that fails holds up none of the others.
        let kept: Vec<_> = benches.iter().map(|bench| self.keep_pause(bench)).collect();
        kept.into_iter().collect()
    }

    /// Writes how a bench is paused to the disk.
    fn keep_pause(&self, bench: &Bench) -> Result<(), AskError> {
        let kept = bench.keep(|cause| self.shared.queue.pause(&bench.at.name, cause, self.shared.now()));
        kept.map_err(|source| {
            tracing::error!(bench = bench.at.name, "a pause is not kept: {}", crate::told::chain(&source));
            AskError::NotKept { bench: bench.at.name.clone(), source }
        })
    }

    /// The bench on which the queue had a run last, by its name.
    ///
    /// # Errors
    ///
    /// [`QueueError::File`].
    pub fn bench_of(&self, run: &RunId) -> Result<Option<String>, AskError> {
        Ok(self.shared.queue.newest_of(run)?.map(|entry| entry.wanted.bench))
    }

    /// The entry that goes on with a run now, or waits for that.
    ///
    /// # Errors
    ///
    /// [`QueueError::File`].
    pub fn pending(&self, run: &RunId) -> Result<Option<u64>, AskError> {
        Ok(self.shared.queue.pending(run)?)
    }

    /// Has a run that broke off go on, on the bench where it was begun.
    ///
    /// # Errors
    ///
    /// [`AskError`]; nothing was added.
    pub fn go_on(&self, bench: &str, plan: &str, run: &RunId, by: &str) -> Result<Entry, AskError> {
        self.ask(&Wanted {
            bench: bench.to_owned(),
            plan: plan.to_owned(),
            unit: None,
            firmware: None,
            goes_on: Some(run.clone()),
            by: by.to_owned(),
        })
    }

    /// Whether every bench still has its thread.
    #[must_use]
    pub fn lives(&self) -> bool {
        let threads = self.threads.lock().unwrap_or_else(PoisonError::into_inner);
        self.shared.is_ending() || threads.iter().all(|(_, thread)| !thread.is_finished())
    }

    /// The counters, as Prometheus text.
    ///
    /// # Errors
    ///
    /// [`QueueError::File`].
    pub fn metrics(&self) -> Result<String, AskError> {
        let now: Result<Vec<Now>, QueueError> = self
            .shared
            .benches
            .iter()
            .map(|bench| {
                let state = bench.state();
                Ok(Now {
                    bench: bench.at.name.clone(),
                    waiting: self.shared.queue.waiting(&bench.at.name)?,
                    key_down: state.key_down.is_some(),
                    measuring: state.standing != Standing::Idle,
                })
            })
            .collect();
        Ok(self.shared.metrics.text(&now?))
    }

    /// Asks for what the schedules want, at its times, until dropped.
    pub async fn keep_times(&self) {
        let clock = self.shared.clock;
        let mut due: Vec<Option<Timestamp>> =
            self.configuration.schedules.iter().map(|schedule| schedule.next(clock.timestamp())).collect();
        loop {
            let now = clock.timestamp();
            for (schedule, due) in self.configuration.schedules.iter().zip(&mut due) {
                if due.is_none_or(|due| due > now) {
                    continue;
                }
                // However often it was missed, as while the machine slept: once is enough.
                *due = schedule.next(now);
                let asked = self.ask(&Wanted {
                    bench: schedule.bench.clone(),
                    plan: schedule.plan.clone(),
                    unit: None,
                    firmware: None,
                    goes_on: None,
                    by: format!("schedule {}", schedule.name),
                });
                if let Err(error) = asked {
                    tracing::error!(schedule = schedule.name, "{}", crate::told::chain(&error));
                }
            }
            let next = due.iter().flatten().min();
            let span = next.map_or(LOOK_EVERY, |next| {
                Duration::try_from(next.duration_since(clock.timestamp())).unwrap_or_default()
            });
            clock.sleep(span.clamp(Duration::from_millis(10), LOOK_EVERY)).await;
        }
    }

    /// Ends in steps: nothing new is begun, what goes on is stopped, key up first, and it is waited for that. Says which
    /// benches have not ended within `patience`.
    pub async fn end(&self, patience: Duration) -> Vec<String> {
        let clock = self.shared.clock;
        self.shared.ending.store(true, Ordering::SeqCst);
        for bench in &self.shared.benches {
            self.shared.tell_bench(bench, &bench.stop(false));
        }
        self.shared.benches.iter().for_each(|bench| bench.ring());
        let until = clock.now().after(patience);
        loop {
            let left: Vec<String> = {
                let threads = self.threads.lock().unwrap_or_else(PoisonError::into_inner);
                threads
                    .iter()
                    .filter(|(_, thread)| !thread.is_finished())
                    .map(|(name, _)| name.clone())
                    .collect()
            };
            if left.is_empty() || clock.now() >= until {
                self.shared.hub.tell("ends", json!({ "left": left }).to_string());
                return left;
            }
            clock.sleep(ENDED_EVERY).await;
        }
    }
}

fn bench(at: &BenchAt) -> Result<Bench, ServiceError> {
    let failed = |source| ServiceError::Bench { bench: at.name.clone(), source };
    let file = at.file.display().to_string();
    let read = Job::load_bench(&file, &Files::from_environment()).map_err(failed)?;
    let simulated = spurline_runner::read_simulated(&read).map_err(|mistakes| failed(mistakes.into()))?;
    let bench = Bench::new(at.clone(), read.title, simulated.is_some());
    let Some(day) = &at.day else { return Ok(bench) };
    let refused = |source| ServiceError::Day { bench: at.name.clone(), source };
    let library = Files::from_environment();
    let day = load_day(&day.display().to_string(), (None, &[], None), &library).map_err(refused)?;
    // The service's file says which bench it is.
    Ok(bench.with_day(Day { bench: file, ..day }))
}

/// What is to be measured by itself some night is there today.
fn can_be_measured(configuration: &Configuration) -> Result<(), ServiceError> {
    let plans = Plans::new(configuration.plans.clone());
    let failed = |what: &str| {
        let what = what.to_owned();
        move |source| ServiceError::Plan { what, source }
    };
    plans.names().map_err(failed("nothing"))?;
    let scheduled = configuration
        .schedules
        .iter()
        .map(|schedule| (format!("the schedule `{}`", schedule.name), &schedule.bench, &schedule.plan));
    let announced = configuration
        .announced
        .iter()
        .map(|follows| ("what follows an announcement".to_owned(), &follows.bench, &follows.plan));
    for (what, bench, plan) in scheduled.chain(announced) {
        plans.path(plan).map_err(failed(&what))?;
        if configuration.benches.iter().any(|at| at.name == *bench && at.day.is_some()) {
            return Err(ServiceError::OfDay { what, bench: bench.clone() });
        }
    }
    Ok(())
}

/// A name that goes into the record, and from there to people and instruments.
fn plain(what: &'static str, text: &str) -> Result<(), AskError> {
    const MOST: usize = 100;
    let good = |letter: char| {
        !letter.is_control()
            && !matches!(letter, '\u{200e}'..='\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
    };
    if text.chars().count() > MOST || !text.chars().all(good) {
        return Err(AskError::Text { what, most: MOST });
    }
    Ok(())
}
