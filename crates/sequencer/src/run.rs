//! The run: connect, prepare, every scope, key up on every way out.

use std::any::Any;
use std::collections::BTreeMap;
use std::future::{Future, poll_fn};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::pin::pin;
use std::task::Poll;
use std::time::Duration;

use jiff::{SignedDuration, Timestamp};
use spurline_clock::Clock;
use spurline_instrument::{KeyError, KeyHandle};
use spurline_plan::{Job, Warm};
use spurline_record::{
    EventKind, Identity, InstrumentUsed, NotedCarrier, Outcome, Resumption, Role, RunHeader, RunId, RunState,
};
use spurline_transport::{Address, Tap};
use spurline_units::Seconds;

use crate::by_hand::leave;
use crate::dispatcher::Dispatcher;
use crate::fault::RunFault;
use crate::interlock::{Arming, Chain};
use crate::keyed::KeySetup;
use crate::mending::mended;
use crate::modulation::{Operator, tone_off};
use crate::rack::{self, Rack};
use crate::resume::Kept;
use crate::scope::{Case, Done, Measuring};

/// What a run needs beside its job.
#[derive(Clone, Debug)]
pub struct Setup {
    /// The run's name.
    pub id: RunId,
    /// Program and version.
    pub software: String,
    /// The serial number that the unit must have, if one was named.
    pub unit: Option<String>,
    /// The firmware version, if one was named; else what the unit says.
    pub firmware: Option<String>,
    /// The seed, if the bench is simulated.
    pub simulated: Option<u64>,
    /// Addresses that stand in for those of the bench file.
    pub addresses: BTreeMap<Role, Address>,
    /// Who holds the key.
    pub key: KeySetup,
    /// What a reader should be told before the readings.
    pub notes: Vec<String>,
    /// The carriers of an earlier run on this bench, for its path to be verified.
    pub noted: Vec<NotedCarrier>,
    /// What is kept of the run already, if it goes on.
    pub kept: Option<Kept>,
    /// Who has said that the bench may key.
    pub arming: Arming,
    /// What shows that the path is what its tables say, if a proof of the bench stands.
    pub proven: Option<String>,
    /// What was keyed before it began.
    pub before: Before,
}

/// What was asked of the unit and of the parts of the path before a run began.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Before {
    /// The parts that are warm.
    pub warm: Vec<Warm>,
    /// The key-down in which its carrier was found, if it was looked for.
    pub found: Option<FoundBy>,
}

/// A key-down before a run.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FoundBy {
    /// The longest that it might have lasted.
    pub lease: Seconds,
    /// How long it lasted.
    pub held: Seconds,
    /// How long ago it ended.
    pub ago: Seconds,
}

impl FoundBy {
    /// The key-down as it is recorded, with its own times.
    fn events(self, now: Timestamp) -> Vec<(Timestamp, EventKind)> {
        let before = |span: Seconds| {
            let span = SignedDuration::try_from(span.duration()).unwrap_or_default();
            now.saturating_sub(span).unwrap_or(now)
        };
        let note = format!(
            "the carrier was found in a key-down of {:.1} before this run began: it counts among those of the run",
            self.held
        );
        vec![
            (before(self.ago + self.held), EventKind::KeyDown { lease: self.lease }),
            (before(self.ago), EventKind::KeyUp { held: self.held }),
            (now, EventKind::Note(note)),
        ]
    }
}

/// How a run ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Ended {
    /// How.
    pub state: RunState,
    /// What its readings come to; `None` if there are none.
    pub outcome: Option<Outcome>,
    /// How many readings have no limit: they are never counted as complying.
    pub without_limit: usize,
}

/// A bench whose instruments have answered, with the key up; nothing has been keyed.
#[derive(Debug)]
pub struct Begun {
    pub(crate) rack: Rack,
    pub(crate) key: KeyHandle,
    used: Vec<InstrumentUsed>,
    tap: Tap,
}

impl Begun {
    /// Connects to every instrument of the job, the relay first, and compares identities.
    ///
    /// # Errors
    ///
    /// [`RunFault`]; nothing has been keyed.
    pub async fn connect(job: &Job, setup: &Setup, clock: Clock, tap: Tap) -> Result<Self, RunFault> {
        let (rack, key, used) = rack::connect(job, &setup.addresses, &setup.key, clock, &tap).await?;
        let begun = Self { rack, key, used, tap };
        match begun.expected(setup) {
            Ok(()) => Ok(begun),
            Err(fault) => {
                begun.key.close().await?;
                Err(fault)
            }
        }
    }

    /// That the unit is the one that was named, and with a run that goes on everything the same as when it began.
    fn expected(&self, setup: &Setup) -> Result<(), RunFault> {
        // Of a unit without a control port nobody else says which it is.
        let of_port = self.used.iter().any(|used| used.role == Role::UnitControl);
        if let Some(named) = setup.unit.as_ref().filter(|_| of_port) {
            let found = self.unit().serial;
            if found != *named {
                return Err(RunFault::WrongUnit { named: named.clone(), found });
            }
        }
        setup.kept.as_ref().map_or(Ok(()), |kept| kept.same_bench(&self.used))
    }

    /// The same, with somebody who is asked to set a tone where the bench has no audio generator.
    #[must_use]
    pub fn with_operator(mut self, operator: Box<dyn Operator>) -> Self {
        self.rack.operator = Some(operator);
        self
    }

    /// Leaves the bench as it is: nothing has been keyed, and the key is up.
    ///
    /// # Errors
    ///
    /// If the key line does not confirm that.
    pub async fn leave(self) -> Result<(), RunFault> {
        Ok(self.key.close().await.map(drop)?)
    }

    /// The instruments as they were found.
    #[must_use]
    pub fn instruments(&self) -> &[InstrumentUsed] {
        &self.used
    }

    fn unit(&self) -> Identity {
        let unit = self.used.iter().find(|used| used.role == Role::UnitControl);
        unit.map(|used| used.identity.clone()).unwrap_or_default()
    }

    fn header(&self, job: &Job, setup: &Setup, clock: Clock) -> RunHeader {
        let mut found = self.unit();
        if job.bench.is_tuned_by_hand() {
            found.serial = setup.unit.clone().unwrap_or_default();
        }
        let mut reservations = job.reservations();
        // Whoever announces a firmware before it is on the unit would have the other one measured under its name.
        reservations.extend(setup.firmware.as_ref().filter(|stated| !found.firmware.is_empty() && **stated != found.firmware).map(
            |stated| format!("the unit itself says that its firmware is {}: {stated} was stated by whoever began the run", found.firmware),
        ));
        RunHeader {
            id: setup.id.clone(),
            started: clock.timestamp(),
            plan: job.plan.title.clone(),
            bench: job.bench.title.clone(),
            unit: Identity {
                model: job.plan.unit.model.clone(),
                firmware: setup.firmware.clone().unwrap_or(found.firmware),
                ..found
            },
            rule: job.plan.rule.clone(),
            rule_source: format!("{}; {}", job.rule.source_text(), job.rule_file()),
            rule_status: job.rule.status().to_string(),
            decision: job.plan.decision,
            guard_factor: job.plan.guard_factor,
            largest_uncertainty: job.plan.largest_uncertainty,
            software: setup.software.clone(),
            simulated: setup.simulated,
            layout: job.layout(),
            texts: job.texts.clone(),
            notes: setup.notes.clone(),
            reservations,
            noted: setup.noted.clone(),
        }
    }
}

/// Does the whole of a job, and brings the key up whatever happens.
///
/// When `stop` is ready, the run ends as interrupted: key up first, then the record.
///
/// # Errors
///
/// [`RunFault`]; it has been recorded, unless it is the record itself that failed.
pub async fn measure(
    job: &Job,
    setup: &Setup,
    begun: Begun,
    clock: Clock,
    out: &mut Dispatcher<'_>,
    stop: impl Future<Output = ()>,
) -> Result<Ended, RunFault> {
    let beginning = match &setup.kept {
        None => EventKind::RunStarted(Box::new(begun.header(job, setup, clock))),
        Some(kept) => {
            EventKind::Resumed(Box::new(Resumption { notes: setup.notes.clone(), ..kept.resumption.clone() }))
        }
    };
    let Begun { mut rack, key, used, tap } = begun;
    // In one commit: a run that goes on must be able to tell whether the same instruments answer. And before anybody can
    // stop it: the record of a run has its beginning.
    let found = used.iter().cloned().map(EventKind::InstrumentFound);
    let begins = out.emit_all(std::iter::once(beginning).chain(found).collect());
    let earlier = setup.before.found.filter(|_| setup.kept.is_none());
    let begins = begins
        .and_then(|()| earlier.map_or(Ok(()), |found| out.keep_earlier(found.events(clock.timestamp()))));
    let begins = begins.map_err(RunFault::Record);
    let mut done = Done { chain: Chain::begin(job, setup, &used, clock), ..Done::default() };
    if let Some(kept) = &setup.kept {
        done.numbered = kept.numbered;
        done.outcomes = kept.readings.iter().map(|reading| reading.outcome).collect();
        done.parts.clone_from(&kept.parts);
    }
    let worked = if let Err(fault) = begins {
        Err(fault)
    } else {
        let place = String::new();
        let noted = &setup.noted;
        let mut measuring = Measuring {
            job,
            rack: &mut rack,
            key: &key,
            clock,
            tap: &tap,
            out,
            done: &mut done,
            place,
            noted,
        };
        tokio::select! {
            biased;
            () = stop => Ok(RunState::Interrupted),
            worked = guarded(work(&mut measuring, setup.kept.as_ref())) => worked.map(|()| RunState::Finished),
        }
    };
    // However the work ended, a person may still hold the key: that comes before all else.
    let mut by_hand = None;
    let worked = match done.thumb.take() {
        None => worked,
        Some(watch) => {
            let left = leave(&mut rack, clock, out, &watch, "let go now: the run ends").await;
            done.key_is_down &= left.is_ok();
            let (held, worked) = match left {
                Ok((held, kept)) => (held, worked.and_then(|state| kept.map(|()| state))),
                Err(stays) => (Duration::ZERO, Err(stays)),
            };
            by_hand = Some(if done.key_is_down { held } else { Duration::ZERO });
            worked
        }
    };
    let still_down = worked.as_ref().is_err_and(RunFault::is_still_down);
    let Released { held, key, tone, supply } = release(key, &mut rack, job, still_down).await;
    let held = by_hand.unwrap_or(held);
    // What was told of the key while it was down is not the last word, if the line has confirmed since.
    let worked = match worked {
        Err(RunFault::Key(KeyError::StillDown(fault))) if key.is_ok() => {
            Err(RunFault::Key(KeyError::ConfirmedLate(fault)))
        }
        Err(RunFault::Key(KeyError::NoHolder { why, keyed, .. })) if key.is_ok() => {
            Err(RunFault::Key(KeyError::NoHolder { why, keyed, confirmed: true }))
        }
        worked => worked,
    };
    let Done { mut outcomes, held: readings, key_is_down, .. } = done;
    outcomes.extend(readings.iter().map(|reading| reading.outcome));
    let without_limit = outcomes.iter().filter(|outcome| **outcome == Outcome::NoLimit).count();
    let outcome = Outcome::of_run(outcomes);
    // A key that is not surely up is what a person must hear of first, and what the record says first.
    // A key that does not come up breaks the work off, and is still not up when the bench is left: one fault.
    let work = worked.as_ref().err().filter(|fault| key.is_ok() || !matches!(fault, RunFault::Key(_)));
    let faults: Vec<&RunFault> = [key.as_ref().err(), work, tone.as_ref().err(), supply.as_ref().err()]
        .into_iter()
        .flatten()
        .collect();
    let state = match (faults.as_slice(), &worked) {
        ([], Ok(state)) => *state,
        ([_, ..], _) | ([], Err(_)) => RunState::Failed,
    };
    let mut ends: Vec<EventKind> = Vec::new();
    if !held.is_zero() || (key_is_down && key.is_ok()) {
        ends.push(EventKind::KeyUp { held: Seconds::from(held) });
    }
    // What the last scope had come to when it was broken off.
    ends.extend(readings.into_iter().map(|reading| EventKind::ReadingFinished(Box::new(reading))));
    ends.extend(faults.iter().map(|fault| EventKind::Failed(fault.to_record())));
    ends.push(EventKind::RunEnded { state, outcome });
    // A record that failed already takes nothing more; that it fails now must not hide what failed before.
    let recordable = !matches!(worked, Err(RunFault::Record(_)));
    let recorded = if recordable {
        ends.into_iter().try_for_each(|kind| out.emit(kind)).map_err(RunFault::Record)
    } else {
        let up = ends.into_iter().find(|kind| matches!(kind, EventKind::KeyUp { .. }));
        // It is shown, if it cannot be kept.
        drop(up.map(|up| out.emit(up)));
        Ok(())
    };
    key?;
    worked?;
    tone?;
    supply?;
    recorded?;
    Ok(Ended { state, outcome, without_limit })
}

/// Turns a panic of the work into a fault, so that what follows still brings the key up.
pub(crate) async fn guarded(work: impl Future<Output = Result<(), RunFault>>) -> Result<(), RunFault> {
    guarded_as(work).await
}

/// The same of work that comes to something.
pub(crate) async fn guarded_as<T>(work: impl Future<Output = Result<T, RunFault>>) -> Result<T, RunFault> {
    let mut work = pin!(work);
    poll_fn(|context| {
        // After a panic the work is not polled again, only dropped.
        catch_unwind(AssertUnwindSafe(|| work.as_mut().poll(context)))
            .unwrap_or_else(|panic| Poll::Ready(Err(RunFault::Panic(words_of(panic.as_ref())))))
    })
    .await
}

fn words_of(panic: &(dyn Any + Send)) -> String {
    let text = panic.downcast_ref::<&str>().copied().map(str::to_owned);
    text.or_else(|| panic.downcast_ref::<String>().cloned()).unwrap_or_default()
}

/// The whole of a job between the first event and the last.
async fn work(measuring: &mut Measuring<'_, '_>, kept: Option<&Kept>) -> Result<(), RunFault> {
    measuring.emit(EventKind::Doing("align and zero the instruments".to_owned()))?;
    mended!(measuring, measuring.rack.prepare(measuring.tap));
    let job = measuring.job;
    // What has measured nothing yet is as good as new.
    let kept = kept.filter(|kept| !kept.readings.is_empty());
    if let Some(kept) = kept {
        measuring.verify_carrier(kept).await?;
    }
    let mut fed: Option<&str> = None;
    let mut first = true;
    for state in job.states() {
        let case = Case::of(&state);
        if measuring.done.parts.contains(&case.part()) {
            continue;
        }
        if let Some(setting) = state.supply.filter(|setting| fed != Some(setting.name.as_str())) {
            mended!(measuring, measuring.rack.feed(setting));
            fed = Some(&setting.name);
        }
        if std::mem::take(&mut first) {
            mended!(measuring, try_all(measuring));
            // With a run that goes on, the carrier of before has shown it.
            measuring.done.verify = kept.is_none() && measuring.job.verifies_path();
        }
        measuring.scope(&case).await?;
    }
    measuring.supply_series().await?;
    measuring.silence().await?;
    measuring.standby().await
}

/// Tunes the unit once to everything that the plan wants, so that what it refuses is known before anything is keyed.
async fn try_all(measuring: &mut Measuring<'_, '_>) -> Result<(), RunFault> {
    measuring.doing("tune the unit to everything once")?;
    for channel in &measuring.job.plan.channels {
        for power in &channel.powers {
            let tuned = measuring.rack.unit.tune(channel.carrier, &power.name).await;
            tuned.map_err(|source| RunFault::Tuning {
                channel: channel.name.clone(),
                power: power.name.clone(),
                source,
            })?;
        }
    }
    Ok(())
}

/// How the bench was left.
struct Released {
    /// How long the key was down, if it still was.
    held: Duration,
    key: Result<(), RunFault>,
    /// Whether the tone at the microphone input is off.
    tone: Result<(), RunFault>,
    supply: Result<(), RunFault>,
}

/// Key up, confirmed, then the tone off, then the supply off: the second way off. It comes first if the first has failed already.
async fn release(key: KeyHandle, rack: &mut Rack, job: &Job, still_down: bool) -> Released {
    let mut supply = Ok(());
    let mut held = Duration::ZERO;
    let up = if still_down { Err(()) } else { key.up().await.map(|span| held = span).map_err(drop) };
    if up.is_err() {
        supply = supply_off(rack, job).await;
    }
    // A line that does not confirm is asked again by closing, which has the last word.
    let key = key.close().await.map(|span| held += span).map_err(RunFault::from);
    let tone = tone_off(rack).await;
    if up.is_ok() {
        supply = supply_off(rack, job).await;
    }
    Released { held, key, tone, supply }
}

async fn supply_off(rack: &mut Rack, job: &Job) -> Result<(), RunFault> {
    match rack.supply.as_mut().filter(|_| !job.plan.supplies.is_empty()) {
        Some(supply) => supply.off().await.map_err(RunFault::from),
        None => Ok(()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_panic_becomes_a_fault_and_the_work_is_dropped() {
        struct Dropped<'a>(&'a mut bool);
        impl Drop for Dropped<'_> {
            fn drop(&mut self) {
                *self.0 = true;
            }
        }
        let mut dropped = false;
        let held = Dropped(&mut dropped);
        let fault = spurline_clock::run(spurline_clock::Pace::Fast, |clock| {
            guarded(async move {
                let _held = held;
                clock.sleep(std::time::Duration::from_secs(1)).await;
                panic!("reading {}", 7)
            })
        });
        assert_eq!(fault.unwrap().unwrap_err().to_string(), "the measuring broke off: reading 7");
        assert!(dropped);
    }
}
