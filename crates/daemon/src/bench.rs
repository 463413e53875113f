//! One bench of the service: what it does now, as far as anybody may want to see it.

use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};

use jiff::Timestamp;
use serde::Serialize;
use spurline_record::{Event, EventKind, Limit, Outcome, Reading, RunId, RunState, Unit};
use spurline_walkin::Day;
use tokio::sync::watch;
use utoipa::ToSchema;

use crate::configuration::BenchAt;
use crate::door::Door;

/// What a bench does.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Standing {
    /// It waits for work.
    Idle,
    /// It measures.
    Measuring,
    /// It was told to stop, and brings the key up first.
    Stopping,
}

/// How the key stands.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, ToSchema)]
pub struct KeyDown {
    /// Since when it is down.
    #[schema(value_type = String, format = DateTime)]
    pub since: Timestamp,
    /// The longest that it may stay so, in seconds.
    pub lease_s: f64,
}

/// The reading that was finished last.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct LastReading {
    /// Its place in the run.
    pub ordinal: u32,
    /// What it is about.
    pub title: String,
    /// Channel, power setting and supply.
    pub state: String,
    /// At which frequency, in Hz.
    pub frequency_hz: f64,
    /// Level at the connector, in dBm.
    pub level_dbm: Option<f64>,
    /// Its limit, in dBm.
    pub limit_dbm: Option<f64>,
    /// Limit minus level, in dB.
    pub margin_db: Option<f64>,
    /// The expanded uncertainty, in dB.
    pub uncertainty_db: Option<f64>,
    /// The verdict.
    #[schema(value_type = String)]
    pub outcome: Outcome,
    /// Why, in words.
    pub reason: Option<String>,
}

/// What a bench does now.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct State {
    /// What it does.
    pub standing: Standing,
    /// Whether it takes no further work.
    pub paused: bool,
    /// Why it is paused, and how it goes on.
    #[schema(value_type = Option<String>)]
    pub paused_because: Option<Cause>,
    /// The entry of the queue that it works on.
    pub entry: Option<u64>,
    /// The run.
    #[schema(value_type = Option<String>)]
    pub run: Option<RunId>,
    /// The plan's title.
    pub plan: Option<String>,
    /// The unit: model and serial number.
    pub unit: Option<String>,
    /// In which state the unit is measured.
    pub state: Option<String>,
    /// What is being done.
    pub doing: Option<String>,
    /// What a person was told to do.
    pub prompt: Option<String>,
    /// How the key stands; `None` if it is up.
    pub key_down: Option<KeyDown>,
    /// For how long the unit was keyed in this run, in seconds.
    pub keyed_s: f64,
    /// How many readings are finished.
    pub readings: u32,
    /// How many are planned, if that is known.
    pub planned: u32,
    /// The smallest margin so far, in dB.
    pub least_margin_db: Option<f64>,
    /// The reading that was finished last.
    pub last: Option<LastReading>,
    /// Why the last work was not done.
    pub trouble: Option<String>,
}

/// Why a bench is paused.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Cause {
    /// Its run, or every run, was stopped.
    Stopped,
    /// Somebody asked for the pause alone.
    Asked,
}

impl Serialize for Cause {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(self.in_words())
    }
}

impl Cause {
    /// Both, the one that other words come from first.
    pub(crate) const ALL: [Self; 2] = [Self::Stopped, Self::Asked];

    /// The word for it on the disk.
    pub(crate) const fn word(self) -> &'static str {
        match self {
            Self::Stopped => "stopped",
            Self::Asked => "asked",
        }
    }

    /// Why, and how it goes on.
    #[must_use]
    pub const fn in_words(self) -> &'static str {
        match self {
            Self::Stopped => "stopped by hand: go on with `Take work again`, or `paused: false`",
            Self::Asked => "paused by hand: go on with `Take work again`, or `paused: false`",
        }
    }
}

impl State {
    const IDLE: Self = Self {
        standing: Standing::Idle,
        paused: false,
        paused_because: None,
        entry: None,
        run: None,
        plan: None,
        unit: None,
        state: None,
        doing: None,
        prompt: None,
        key_down: None,
        keyed_s: 0.0,
        readings: 0,
        planned: 0,
        least_margin_db: None,
        last: None,
        trouble: None,
    };

    /// Nothing of a run, and paused as before.
    fn anew(&self) -> Self {
        Self { paused: self.paused, paused_because: self.paused_because, ..Self::IDLE }
    }

    /// Takes no further work, or takes work again.
    pub(crate) fn pause(&mut self, cause: Option<Cause>) {
        self.paused = cause.is_some();
        self.paused_because = cause;
    }

    /// Follows what happens in a run.
    pub fn follow(&mut self, event: &Event) {
        match &event.kind {
            EventKind::RunStarted(header) => {
                self.plan = Some(header.plan.clone());
                self.unit = Some(format!("{} {}", header.unit.model, header.unit.serial).trim().to_owned());
            }
            EventKind::ScopeStarted { scope, .. } => self.state = Some(scope.in_short()),
            EventKind::Doing(what) => self.doing = Some(what.clone()),
            EventKind::Prompt(what) => self.prompt = Some(what.clone()),
            EventKind::KeyDown { lease } => {
                self.key_down = Some(KeyDown { since: event.at, lease_s: lease.get() });
            }
            EventKind::KeyUp { held } => {
                self.key_down = None;
                self.prompt = None;
                self.keyed_s += held.get();
            }
            EventKind::ReadingFinished(reading) => {
                self.readings += 1;
                let last = LastReading::of(reading);
                self.least_margin_db = match (self.least_margin_db, last.margin_db) {
                    (Some(least), Some(margin)) => Some(least.min(margin)),
                    (least, margin) => least.or(margin),
                };
                self.last = Some(last);
            }
            EventKind::RunEnded { state, .. } => {
                self.doing = None;
                self.prompt = None;
                if *state != RunState::Running {
                    self.key_down = None;
                }
            }
            EventKind::InstrumentFound(_)
            | EventKind::Interlocks(_)
            | EventKind::PartFinished(_)
            | EventKind::Resumed(_)
            | EventKind::Note(_)
            | EventKind::Failed(_) => {}
        }
    }
}

impl LastReading {
    fn of(reading: &Reading) -> Self {
        Self {
            ordinal: reading.ordinal,
            title: reading.title(),
            state: reading.scope.in_short(),
            frequency_hz: reading.frequency.get(),
            level_dbm: reading.level().map(|level| level.get()),
            limit_dbm: upper(reading),
            margin_db: reading.margin.and_then(|margin| margin.db()).map(|margin| margin.get()),
            uncertainty_db: reading.budget.as_ref().and_then(|budget| budget.expanded_in(Unit::Db)),
            outcome: reading.outcome,
            reason: reading.reason.as_ref().map(|reason| reason.text.clone()),
        }
    }
}

/// The level that a reading must not exceed, in dBm, if there is one.
pub(crate) fn upper(reading: &Reading) -> Option<f64> {
    match reading.limit {
        Some(Limit::Upper { level, .. }) => Some(level.get()),
        Some(Limit::Window { .. } | Limit::Several(_) | Limit::Between { .. }) | None => None,
    }
}

/// A bench of the service.
#[derive(Debug)]
pub struct Bench {
    /// Its name and file.
    pub at: BenchAt,
    /// Its title.
    pub title: String,
    /// Whether it is simulated.
    pub simulated: bool,
    /// The door of the test day that it holds.
    pub door: Option<Arc<Door>>,
    state: Mutex<State>,
    /// Rung when there may be work, or none any more.
    bell: Condvar,
    stop: watch::Sender<bool>,
    by_hand: AtomicBool,
    /// Held while the disk is told of a pause: what is written last is what holds.
    keeping: Mutex<()>,
    /// The sweep that was drawn last, for whoever opens the page after that.
    trace: Mutex<Option<String>>,
}

impl Bench {
    /// A bench that has nothing to do.
    #[must_use]
    pub fn new(at: BenchAt, title: String, simulated: bool) -> Self {
        let state = Mutex::new(State::IDLE);
        Self {
            at,
            title,
            simulated,
            door: None,
            state,
            bell: Condvar::new(),
            stop: watch::channel(false).0,
            by_hand: AtomicBool::new(false),
            keeping: Mutex::new(()),
            trace: Mutex::new(None),
        }
    }

    /// The same, for a test day.
    #[must_use]
    pub fn with_day(self, day: Day) -> Self {
        Self { door: Some(Arc::new(Door::new(day))), ..self }
    }

    /// What it does now.
    #[must_use]
    pub fn state(&self) -> State {
        self.lock().clone()
    }

    /// Changes what it does, and says how it is then.
    pub(crate) fn change(&self, how: impl FnOnce(&mut State)) -> State {
        let mut state = self.lock();
        how(&mut state);
        state.clone()
    }

    /// Waits for the bell or for `look` to find work; `look` is asked with the state at hand, so that no ring is missed,
    /// and begins what it found: whoever stops the bench comes before that or after it, never in between.
    pub(crate) fn wait_for<T>(&self, mut look: impl FnMut(&mut State) -> Option<T>) -> T {
        let mut state = self.lock();
        loop {
            if let Some(found) = look(&mut state) {
                return found;
            }
            state = self.bell.wait(state).unwrap_or_else(PoisonError::into_inner);
        }
    }

    /// There may be work, or the service ends.
    pub(crate) fn ring(&self) {
        // Whoever is about to wait holds the state: the ring comes before or after that, never in between.
        drop(self.lock());
        self.bell.notify_all();
    }

    /// Has the run that goes on stop, key up first. By hand it is paused with that, whether one goes on or not: nothing
    /// keys after an emergency stop.
    pub(crate) fn stop(&self, by_hand: bool) -> State {
        let mut state = self.lock();
        if by_hand {
            state.pause(Some(Cause::Stopped));
        }
        if state.standing == Standing::Measuring {
            state.standing = Standing::Stopping;
            self.by_hand.store(by_hand, Ordering::SeqCst);
            self.stop.send_replace(true);
        }
        state.clone()
    }

    /// Has `keep` write how the bench is paused now. Not with the state at hand: a slow disk holds up no run.
    pub(crate) fn keep<T>(&self, keep: impl FnOnce(Option<Cause>) -> T) -> T {
        let _alone = self.keeping.lock().unwrap_or_else(PoisonError::into_inner);
        let cause = self.lock().paused_because;
        keep(cause)
    }

    /// Whether the run was stopped by somebody, rather than because the service ends.
    pub(crate) fn was_stopped_by_hand(&self) -> bool {
        self.by_hand.load(Ordering::SeqCst)
    }

    /// A sweep was drawn, as it was told.
    pub(crate) fn drew(&self, trace: String) {
        *self.trace.lock().unwrap_or_else(PoisonError::into_inner) = Some(trace);
    }

    /// The sweep that was drawn last in this life of the program.
    pub(crate) fn trace(&self) -> Option<String> {
        self.trace.lock().unwrap_or_else(PoisonError::into_inner).clone()
    }

    /// A run begins: nobody has stopped it.
    pub(crate) fn begin(&self, state: &mut State, entry: Option<u64>) {
        self.stop.send_replace(false);
        self.by_hand.store(false, Ordering::SeqCst);
        *state = State { standing: Standing::Measuring, entry, ..state.anew() };
    }

    /// It has nothing to do any more.
    pub(crate) fn rest(&self, trouble: Option<String>) -> State {
        self.change(|state| {
            *state = State { trouble, ..state.anew() };
        })
    }

    /// Nothing is measured any more, but a carrier is still there: the key is shown as down until somebody says otherwise.
    pub(crate) fn rest_keyed(&self, trouble: String, now: Timestamp) -> State {
        self.change(|state| {
            let key_down = state.key_down.or(Some(KeyDown { since: now, lease_s: 0.0 }));
            *state = State { trouble: Some(trouble), key_down, ..state.anew() };
        })
    }

    /// Nothing goes on there any more. A key that is shown as down stays so, and so does what was said of it.
    pub(crate) fn break_off(&self, trouble: &str) -> State {
        self.change(|state| {
            let (key_down, before) =
                (state.key_down, state.trouble.take().filter(|_| state.key_down.is_some()));
            let trouble = before.map_or_else(|| trouble.to_owned(), |before| format!("{before}\n{trouble}"));
            *state = State { trouble: Some(trouble), key_down, ..state.anew() };
        })
    }

    /// Ready once the run is to stop.
    pub(crate) fn stopped(&self) -> impl Future<Output = ()> + 'static {
        let mut told = self.stop.subscribe();
        async move {
            if told.wait_for(|stop| *stop).await.is_err() {
                // Nobody can stop it any more.
                std::future::pending::<()>().await;
            }
        }
    }

    fn lock(&self) -> MutexGuard<'_, State> {
        // It is only shown: what a thread that broke off left half changed is soon overwritten.
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The lamp stays lit while a carrier does, whatever else has failed.
    #[test]
    fn a_key_that_is_down_stays_so_when_nothing_goes_on() {
        let at = BenchAt { name: "door".to_owned(), file: "b.yaml".into(), day: None };
        let bench = Bench::new(at, "Table".to_owned(), true);
        bench.rest_keyed("a carrier is there".to_owned(), Timestamp::UNIX_EPOCH);
        let state = bench.break_off("the test day does not go on");
        assert!(state.key_down.is_some());
        assert_eq!(state.trouble.as_deref(), Some("a carrier is there\nthe test day does not go on"));
        bench.rest(Some("of before".to_owned()));
        let state = bench.break_off("the test day does not go on");
        assert!(state.key_down.is_none());
        assert_eq!(state.trouble.as_deref(), Some("the test day does not go on"));
    }
}
