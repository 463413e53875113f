//! Where a test day happens: the log is kept, carriers are found and measured, and whoever looks on is told.

use std::future::{Future, poll_fn};
use std::path::Path;
use std::pin::pin;
use std::task::Poll;
use std::time::Duration;

use jiff::{SignedDuration, Timestamp};
use spurline_clock::{Moment, Pace, present};
use spurline_plan::{Job, Library};
use spurline_record::{
    DayEntry, DayEvent, InterlockName, Label, Outcome, RunId, RunState, VisitOutcome, VisitResult,
};
use spurline_runner::{
    Company, Done, Failure, From, Held, Measurement, RecordAt, SOFTWARE, Search, Visitor, read_simulated,
    write_report,
};
use spurline_sequencer::{Before, FoundBy, FoundCarrier, RunFault, Sought, Wanted};
use spurline_store::{DayLog, DayLogError, Store};
use spurline_units::{Hertz, Seconds, Watts};
use thiserror::Error;

use crate::day::Day;
use crate::ledger::{Ledger, Visit};
use crate::machine::{Effect, Machine};
use crate::noting::{Hearing, Noting};
use crate::now::local;
use crate::warmth::{self, Warmth};
use crate::{ledger, measured, plan};

/// After a key-down a radio rests for so many times as long as it was keyed.
const REST_FACTOR: u32 = 3;

/// How a rest ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Rested {
    Enough,
    Stopped,
}

/// Why a day could not go on.
#[derive(Debug, Error)]
pub enum DeskError {
    /// Its log cannot be kept.
    #[error("the log of the day cannot be kept")]
    Log(#[from] DayLogError),
    /// The record cannot be kept, or the bench or the day's file is not right.
    #[error(transparent)]
    Runner(#[from] Failure),
    /// The system is out of something.
    #[error("the program could not start its runtime")]
    Runtime(#[from] std::io::Error),
}

impl DeskError {
    /// What to do about it.
    #[must_use]
    pub fn advice(&self) -> Option<String> {
        match self {
            Self::Log(error) => Some(error.advice().to_owned()),
            Self::Runner(failure) => failure.advice(),
            Self::Runtime(_) => Some("the system is out of something: files, memory or processes".to_owned()),
        }
    }
}

/// Something for whoever looks on.
#[derive(Debug)]
pub enum Show<'a> {
    /// Words.
    Words(&'a str),
    /// A visit that has ended.
    Verdict(&'a Visit),
    /// The slip of a visit.
    Slip(&'a Visit),
    /// The day so far.
    Summary(&'a Ledger),
}

/// Whoever looks on: a terminal, a page.
pub trait Front: Company {
    /// Shows something.
    fn show(&mut self, day: &Day, what: Show<'_>);

    /// Takes note of how a run ended, and what its readings came to.
    fn ran(&mut self, _: RunState, _: Option<Outcome>) {}

    /// Takes note of what a visit came to; a look at the reference radio is none.
    fn came_to(&mut self, _: VisitOutcome) {}
}

/// A test day at work.
pub struct Desk<'a> {
    /// What its file says.
    pub day: Day,
    machine: Machine,
    log: DayLog,
    /// Under which name the log has the day: its title, and the date on which it began.
    name: String,
    library: &'a dyn Library,
    record: RecordAt,
    arm: bool,
    search: Job,
    /// How time passes on the bench.
    pace: Pace,
    /// The serial numbers of the units of a simulated bench.
    units: Vec<String>,
    /// In which visit a carrier stays that nobody let go of, and why, as long as the log does not have it.
    stays: Option<(u32, String)>,
    /// How warm the parts of the path are from all radios so far.
    warmth: Warmth,
    _alone: Held,
}

impl<'a> Desk<'a> {
    /// Opens a day, which may have begun before; nothing is keyed.
    ///
    /// # Errors
    ///
    /// [`DeskError`].
    pub fn open(day: Day, library: &'a dyn Library, record: RecordAt, arm: bool) -> Result<Self, DeskError> {
        let search = plan::of_search(&day, library)?;
        let simulated = read_simulated(&search.bench).map_err(Failure::Mistakes)?;
        let units = simulated.iter().flat_map(|bench| bench.units().map(|unit| unit.serial.to_owned()));
        let units = units.collect();
        let pace = simulated.as_ref().map_or(Pace::Real, |bench| bench.pace());
        if simulated.is_none() && !arm && !search.bench.armed {
            return Err(DeskError::Runner(Failure::Usage {
                message: "the bench is real, and nobody has said that it may key; nothing was keyed".to_owned(),
                advice: "look at the bench, then say `--arm` for this one day, or write `armed: true` into the bench file"
                    .to_owned(),
            }));
        }
        // What is known of the record is known before anybody stands in line.
        drop(Store::open_on(&record.folder, record.disk).map_err(Failure::Store)?);
        let alone = Held::days(&record.folder)?;
        let log = DayLog::open(&record.folder, record.disk)?;
        let (_, at) = present();
        let all = log.all()?;
        let name = name_of(&day, at, &all);
        // What is hot, and what still transmits, does not ask how the day is called.
        let of_bench = ledger::of_bench(&all, &search.bench.title);
        let ledger = Ledger::of_day(&all, &name).with_stays(ledger::stays(of_bench.iter().copied()));
        let warmth = warmth_of(&of_bench, &search, at);
        let machine = Machine::new(ledger, day.reference.clone()).with_tags(day.tags.clone());
        let mut desk = Self {
            day,
            machine,
            log,
            name,
            library,
            record,
            arm,
            search,
            pace,
            units,
            stays: None,
            warmth,
            _alone: alone,
        };
        desk.keep(DayEvent::Opened {
            place: desk.day.place.clone(),
            bench: desk.search.bench.title.clone(),
            rule: desk.day.rule.clone(),
            software: SOFTWARE.to_owned(),
        })?;
        Ok(desk)
    }

    /// The day so far.
    #[must_use]
    pub fn ledger(&self) -> &Ledger {
        self.machine.ledger()
    }

    /// The bench that radios are measured on.
    #[must_use]
    pub fn bench(&self) -> &spurline_plan::Bench {
        &self.search.bench
    }

    /// What is asked, and below it what can be typed.
    #[must_use]
    pub fn prompt(&self) -> String {
        self.machine.prompt(present().1)
    }

    /// How long until the reference radio is asked for anew; `None` if it is due already, or there is none.
    #[must_use]
    pub fn reference_due_in(&self) -> Option<Duration> {
        self.machine.reference_due_in(present().1).filter(|span| !span.is_zero())
    }

    /// Looks up what broke off before.
    ///
    /// # Errors
    ///
    /// [`DeskError`].
    pub fn begin(&mut self, front: &mut dyn Front) -> Result<(), DeskError> {
        let effects = self.machine.begin();
        self.carry_out(effects, front)?;
        // What broke off was keyed as well.
        let all = self.log.all()?;
        self.warmth = warmth_of(&ledger::of_bench(&all, &self.search.bench.title), &self.search, present().1);
        Ok(())
    }

    /// Why a carrier is still there that nobody let go of, until somebody has said that it is gone.
    #[must_use]
    pub fn carrier_stays(&self) -> Option<&str> {
        self.ledger().stays().or(self.stays.as_ref().map(|(_, why)| why.as_str()))
    }

    /// Does what a line asks for; `false` once the day is left. One that `waited` was typed while another radio was at the
    /// connector.
    ///
    /// # Errors
    ///
    /// [`DeskError`], if the log or the record cannot be kept.
    pub fn line(&mut self, text: &str, waited: bool, front: &mut dyn Front) -> Result<bool, DeskError> {
        // Nobody is told to key before the log has it.
        self.keep_stays()?;
        let now = present().1;
        let effects =
            if waited { self.machine.line_that_waited(text, now) } else { self.machine.line(text, now) };
        self.carry_out(effects, front)
    }

    fn carry_out(&mut self, effects: Vec<Effect>, front: &mut dyn Front) -> Result<bool, DeskError> {
        let mut due: std::collections::VecDeque<Effect> = effects.into();
        while let Some(effect) = due.pop_front() {
            match effect {
                Effect::Say(words) => front.show(&self.day, Show::Words(&words)),
                Effect::Keep(event) => self.keep_as_asked(event, front)?,
                Effect::Measure { visit, label } => {
                    let result = self.measure(visit, &label, front);
                    // Before what the visit came to, and even if nothing came of it: whoever starts the program anew must
                    // hear of it. What the measuring failed by is told first.
                    let kept = self.keep_stays();
                    let result = result?;
                    kept?;
                    self.count(visit, result.outcome, front);
                    due.extend(self.machine.ended(visit, result, present().1));
                }
                Effect::Recover { visit, run } => {
                    let result = self.recover(run)?;
                    let words =
                        format!("visit {visit} broke off when the program ended last: it {}", told(&result));
                    front.show(&self.day, Show::Words(&words));
                    self.count(visit, result.outcome, front);
                    due.extend(self.machine.ended(visit, result, present().1));
                }
                Effect::Verdict(visit) => self.show(visit, front, Show::Verdict),
                Effect::Slip(visit) => self.show(visit, front, Show::Slip),
                Effect::Summary => front.show(&self.day, Show::Summary(self.machine.ledger())),
                Effect::Quit => return Ok(false),
            }
        }
        Ok(true)
    }

    /// A look at the reference radio is no visit.
    fn count(&self, visit: u32, outcome: VisitOutcome, front: &mut dyn Front) {
        if self.ledger().visit(visit).is_some_and(|visit| !visit.reference) {
            front.came_to(outcome);
        }
    }

    fn show<'v>(&'v self, visit: u32, front: &mut dyn Front, how: impl FnOnce(&'v Visit) -> Show<'v>) {
        if let Some(visit) = self.machine.ledger().visit(visit) {
            front.show(&self.day, how(visit));
        }
    }

    fn keep(&mut self, event: DayEvent) -> Result<(), DeskError> {
        let entry = self.log.append(&self.name, present().1, event)?;
        self.machine.entered(&entry);
        Ok(())
    }

    /// Keeps what a line asked for, with what follows from it.
    fn keep_as_asked(&mut self, event: DayEvent, front: &mut dyn Front) -> Result<(), DeskError> {
        let corrected = match &event {
            DayEvent::Corrected { visit, .. } => self.ledger().visit(*visit).filter(|visit| visit.reference),
            _ => None,
        };
        let (was_look, is_gone) = (corrected.map(|visit| visit.number), event == DayEvent::Gone);
        self.keep(event)?;
        if is_gone {
            self.warmth.stayed(&self.search, present().1);
        }
        // One that was taken for the reference radio, and is a visit.
        let found = was_look.and_then(|visit| self.ledger().visit(visit));
        if let Some((visit, result)) = found.and_then(|visit| Some((visit.number, visit.result()?))) {
            self.count(visit, result.outcome, front);
        }
        Ok(())
    }

    /// Has the log say that a carrier stays, if one does that it does not have.
    fn keep_stays(&mut self) -> Result<(), DeskError> {
        let Some((visit, why)) = self.stays.clone() else { return Ok(()) };
        self.keep(DayEvent::Stays { visit, why })?;
        self.stays = None;
        Ok(())
    }

    /// Remembers a carrier that stays: nobody else may be told to key, whatever else fails.
    fn remember(&mut self, visit: u32, failure: &Failure) {
        if carrier_stays(failure) {
            self.stays = Some((visit, in_words(failure)));
        }
    }

    /// What came of a run that the program's end broke off.
    fn recover(&self, run: Option<RunId>) -> Result<VisitResult, DeskError> {
        let unknown = |what: &str| {
            let longest = self.day.longest;
            let why = format!(
                "the program ended before {what}; the radio may have been keyed for up to {longest} by then"
            );
            VisitResult { keyed: longest.get(), ..nothing(VisitOutcome::Stopped, why) }
        };
        let Some(run) = run else { return Ok(unknown("a run had begun")) };
        let store = Store::open_read_only(&self.record.folder).map_err(Failure::Store)?;
        match store.load_readings(&run) {
            Ok(stored) => {
                let ended = stored.ended.or_else(|| stored.events.last().map(|event| event.at));
                let keyed = measured::keyed(&stored);
                Ok(VisitResult { keyed, ended, ..measured::result(&stored, &run, 0.0) })
            }
            // Named, and nothing of it was kept yet.
            Err(spurline_store::StoreError::UnknownRun { .. }) => Ok(unknown("anything was measured")),
            Err(error) => Err(DeskError::Runner(Failure::Store(error))),
        }
    }

    /// Finds the carrier of a radio and measures it. What fails on the bench is a result; what fails in the record ends the
    /// day.
    fn measure(
        &mut self,
        visit: u32,
        label: &Label,
        front: &mut dyn Front,
    ) -> Result<VisitResult, DeskError> {
        let (began, _) = present();
        let unit = self.simulated_unit(visit, label);
        if self.cool(front)? == Rested::Stopped {
            return timed(nothing(VisitOutcome::Stopped, "somebody stopped it".to_owned()), began);
        }
        let (looked, keyed) = self.find(unit.clone(), front);
        if let Err(failure) = &looked {
            self.remember(visit, failure);
        }
        let whole = |result: VisitResult| timed(VisitResult { keyed: keyed + result.keyed, ..result }, began);
        let found = match looked {
            Ok(Sought::Found(found)) => found,
            Ok(Sought::Refused { carrier, why }) => {
                let result = nothing(VisitOutcome::Refused, why);
                return whole(VisitResult { carrier: Some(carrier), ..result });
            }
            Ok(Sought::NobodyKeyed { asked, each }) => {
                let times = if asked == 1 { String::new() } else { format!(", asked {asked} times") };
                let why = format!("no carrier was seen within {each} of being told to key{times}");
                return whole(nothing(VisitOutcome::NotKeyed, why));
            }
            Ok(Sought::Stopped) => {
                return whole(nothing(VisitOutcome::Stopped, "somebody stopped it".to_owned()));
            }
            Err(failure) => return whole(failed(failure)?),
        };
        front.say(&format!("carrier found: {}, {:.1} at the connector", found.carrier, found.level));
        if self.rest(&found, front)? == Rested::Stopped {
            return whole(nothing(VisitOutcome::Stopped, "somebody stopped it".to_owned()));
        }
        let result = self.run(visit, label, unit, found, front)?;
        whole(result)
    }

    /// Has the carrier found; for how long the radio was seen to be keyed for it, in seconds.
    fn find(&mut self, unit: Option<String>, front: &mut dyn Front) -> (Result<Sought, Failure>, f64) {
        let search = Search {
            job: &self.search,
            arm: self.arm,
            wanted: Wanted { within: self.day.within.duration(), takes: self.day.power },
            simulated_unit: unit,
        };
        let mut hearing = Hearing::new(front);
        let sought = search.execute(&mut hearing);
        let held = hearing.heard().held;
        let gave = match &sought {
            Ok(Sought::Found(found)) => {
                (Some(found.carrier), warmth::taken(&self.search).max(found.level.to_watts()))
            }
            // It was measured, but what it was is not told.
            Ok(Sought::Refused { carrier, .. }) => {
                (Some(*carrier), warmth::borne(&self.search, Some(*carrier)))
            }
            Ok(Sought::NobodyKeyed { .. } | Sought::Stopped) => (None, warmth::taken(&self.search)),
            Err(failure) => (None, of_failure(&self.search, None, failure)),
        };
        self.warmth.heat(&self.search, gave, Seconds::new(held), present().1);
        (sought, held)
    }

    /// Lets the parts of the path cool, where the longest key-down would make one too warm.
    fn cool(&mut self, front: &mut dyn Front) -> Result<Rested, DeskError> {
        let wait = self.warmth.wait(&self.search, present().1);
        if wait.get() < 1.0 {
            return Ok(Rested::Enough);
        }
        front.say(&format!(
            "the parts of the path are warm from the radios before, and cool for {wait:.0}: nobody keys until it says so"
        ));
        self.pass(wait.duration(), front)
    }

    /// Lets the radio rest after the look at its carrier. Whoever stops the day then is heard as at any other time.
    fn rest(&mut self, found: &FoundCarrier, front: &mut dyn Front) -> Result<Rested, DeskError> {
        self.pass(found.held * REST_FACTOR, front)
    }

    /// Lets time pass as the bench has it.
    fn pass(&mut self, span: Duration, front: &mut dyn Front) -> Result<Rested, DeskError> {
        let rested = spurline_clock::run(self.pace, |clock| async move {
            let (mut stop, mut rest) = (front.stop(), pin!(clock.sleep(span)));
            poll_fn(|context| {
                if stop.as_mut().poll(context).is_ready() {
                    return Poll::Ready(Rested::Stopped);
                }
                rest.as_mut().poll(context).map(|()| Rested::Enough)
            })
            .await
        });
        if self.pace != Pace::Real {
            // On the wall no time has passed.
            self.warmth.cool(Seconds::from(span));
        }
        Ok(rested?)
    }

    fn run(
        &mut self,
        visit: u32,
        label: &Label,
        simulated_unit: Option<String>,
        found: FoundCarrier,
        front: &mut dyn Front,
    ) -> Result<VisitResult, DeskError> {
        let FoundCarrier { carrier, shown, held, .. } = found;
        let before = Before {
            warm: self.warmth.now(present().1),
            found: Some(FoundBy {
                lease: self.day.longest,
                held: Seconds::from(held),
                ago: Seconds::from(held * REST_FACTOR),
            }),
        };
        let job = plan::of_radio(&self.day, self.library, visit, carrier)?;
        // A call sign is a person's, and so may be a word of which nobody has said what it is: the record of runs goes to
        // others.
        let serial =
            label.serial.clone().or_else(|| label.tag.clone()).unwrap_or_else(|| format!("radio {visit}"));
        let measurement = Measurement {
            job: &job,
            record: self.record.clone(),
            arm: self.arm,
            from: From::Beginning { unit: Some(serial), firmware: None },
            visitor: Visitor { shown: Some(shown), simulated_unit, before },
        };
        let mut noting = Noting::new(Hearing::new(front), &self.log, &self.name, visit);
        let done = measurement.execute(&mut noting);
        let (noted, heard) = noting.end();
        let keyed = heard.held;
        let power = match &done {
            Ok(Done { ended: Ok(_), .. }) => {
                heard.strongest.map_or(warmth::taken(&job), |level| warmth::taken(&job).max(level.to_watts()))
            }
            Err(failure) | Ok(Done { ended: Err(failure), .. }) => of_failure(&job, Some(carrier), failure),
        };
        self.warmth.heat(&job, (Some(carrier), power), Seconds::new(keyed), present().1);
        // Before anything that may fail: a carrier that stays is not forgotten because a report could not be written.
        if let Err(failure) | Ok(Done { ended: Err(failure), .. }) = &done {
            self.remember(visit, failure);
        }
        if let Some(entry) = noted? {
            self.machine.entered(&entry);
        }
        let Done { id, ended } = match done {
            Ok(done) => done,
            Err(failure) => {
                let result = failed(failure)?;
                return Ok(VisitResult { carrier: Some(carrier), keyed, ..result });
            }
        };
        let broke_off = ended.err().map(failed).transpose()?;
        let (stored, _) = write_report(&self.record.folder, &id)?;
        front.ran(stored.state, stored.outcome);
        let mut result = measured::result(&stored, &id, 0.0);
        if let Some(VisitResult { outcome, why, .. }) = broke_off {
            (result.outcome, result.why) = (outcome, why);
        }
        Ok(VisitResult { carrier: Some(carrier), keyed, ..result })
    }

    /// Which unit of a simulated bench is at the connector: the one of that number, else one after the other.
    fn simulated_unit(&self, visit: u32, label: &Label) -> Option<String> {
        let named = |wanted: &Option<String>| {
            let wanted = wanted.as_ref()?;
            self.units.iter().find(|serial| serial.eq_ignore_ascii_case(wanted)).cloned()
        };
        let in_turn = || self.units.get((visit as usize - 1) % self.units.len().max(1)).cloned();
        [&label.serial, &label.tag, &label.other].into_iter().find_map(named).or_else(in_turn)
    }
}

/// How warm a bench is by all that was entered of it.
fn warmth_of(entries: &[&DayEntry], search: &Job, at: Timestamp) -> Warmth {
    Warmth::after(&ledger::by_day(entries), &ledger::stays(entries.iter().copied()), search, at)
}

/// What a radio gave whose measurement failed.
fn of_failure(job: &Job, carrier: Option<Hertz>, failure: &Failure) -> Watts {
    let most = warmth::borne(job, carrier);
    match failure {
        Failure::Run(RunFault::Overload { level, .. }) => most.max(level.to_watts()),
        _ => most,
    }
}

/// A day that was worked at so shortly before goes on, whatever the date is by now.
const GOES_ON: SignedDuration = SignedDuration::from_hours(6);

/// Under which name the log has a day that is worked at at a moment: that of its date, or of the one that is still going on.
fn name_of(day: &Day, at: Timestamp, entries: &[DayEntry]) -> String {
    let today = day_name(day, &local(at).date);
    if entries.iter().any(|entry| entry.day == today) {
        return today;
    }
    let of_day = |entry: &&DayEntry| entry.day.split_once(' ').is_some_and(|(_, title)| title == day.title);
    let last = entries.iter().rev().find(of_day);
    // Whichever way: a date that was set back by days does not go on with a day that has not come.
    let last = last.filter(|entry| at.duration_since(entry.at).abs() < GOES_ON);
    last.map_or(today, |entry| entry.day.clone())
}

/// Under which name the log has a day that began on a date.
pub(crate) fn day_name(day: &Day, date: &str) -> String {
    format!("{date} {}", day.title)
}

/// A day as its log in a folder has it; `None` if there is nothing of it.
///
/// # Errors
///
/// [`DeskError`].
pub fn kept_day(day: &Day, date: Option<&str>, folder: &Path) -> Result<Option<Ledger>, DeskError> {
    let Some(log) = DayLog::open_read_only(folder)? else { return Ok(None) };
    let all = log.all()?;
    let name = match date {
        Some(date) => day_name(day, date),
        None => name_of(day, present().1, &all),
    };
    let is_known = all.iter().any(|entry| entry.day == name);
    Ok(is_known.then(|| Ledger::of_day(&all, &name)))
}

fn told(result: &VisitResult) -> String {
    match result.outcome {
        VisitOutcome::Stopped => "was not measured to its end; measure it again: `a`".to_owned(),
        outcome => format!("came to `{outcome}`"),
    }
}

fn nothing(outcome: VisitOutcome, why: String) -> VisitResult {
    VisitResult { why: Some(why), ..VisitResult::of(outcome) }
}

fn timed(result: VisitResult, began: Moment) -> Result<VisitResult, DeskError> {
    Ok(VisitResult { seconds: present().0.since(began).as_secs_f64(), ..result })
}

/// A failure of the bench as a result; one of the record, or of the files, as what it is.
fn failed(failure: Failure) -> Result<VisitResult, DeskError> {
    match failure {
        Failure::Run(RunFault::Record(_)) | Failure::Store(_) | Failure::Mistakes(_) | Failure::Load(_) => {
            Err(failure.into())
        }
        // Nothing is wrong with the bench: somebody transmits.
        Failure::Run(RunFault::Interlock { name: InterlockName::NoCarrierBefore, why }) => Ok(nothing(
            VisitOutcome::Refused,
            format!(
                "{why}, before anybody was told to key: whose radio is that? Switch it off, or wait until it has gone; then \
                 measure this one again"
            ),
        )),
        failure => Ok(nothing(VisitOutcome::Failed, in_words(&failure))),
    }
}

/// A failure with all that is behind it, and what to do about it.
fn in_words(failure: &Failure) -> String {
    let causes = std::iter::successors(std::error::Error::source(failure), |&cause| cause.source());
    let mut words = vec![failure.to_string()];
    words.extend(causes.map(ToString::to_string));
    words.dedup();
    words.extend(failure.advice());
    words.join(": ")
}

/// Whether a radio may transmit still although everything was done that ends it.
fn carrier_stays(failure: &Failure) -> bool {
    let Failure::Run(fault) = failure else { return false };
    matches!(fault, RunFault::CarrierStays { .. }) || fault.is_still_down()
}

#[cfg(test)]
mod tests;
