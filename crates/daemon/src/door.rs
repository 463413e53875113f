//! The door of a test day on a bench of the service: what somebody types on the page goes in, what is to be seen comes out.

use std::collections::VecDeque;
use std::future::Future;
use std::pin::Pin;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use jiff::{SignedDuration, Timestamp};
use serde_json::json;
use spurline_clock::Pace;
use spurline_record::{Event, EventKind, Outcome, RunId, RunState, VisitOutcome};
use spurline_runner::{Company, Files};
use spurline_sequencer::{Listener, Operator};
use spurline_walkin::{
    Audience, Day, Desk, DeskError, Front, Show, Visit, row, slip, summary_text, typeset, verdict,
};

use crate::bench::Bench;
use crate::service::Shared;
use crate::told;
use crate::worker::{Absent, Ears};

/// Lines that wait while a radio is measured; whoever types more is not heard.
const MOST_WAITING: usize = 20;
/// So many of the last words stay to be seen.
const MOST_WORDS: usize = 8;
/// So many of the last visits are listed.
const MOST_VISITS: usize = 60;

/// What whoever holds the radio is told.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Telling {
    /// To key.
    Key,
    /// To let go.
    LetGo,
}

/// A verdict as it is seen.
#[derive(Clone, Debug)]
pub struct Verdict {
    /// The number of its visit.
    pub number: u32,
    /// Which visit, and what it goes by.
    pub of: String,
    /// The word, in capitals.
    pub word: String,
    /// What it comes to.
    pub outcome: VisitOutcome,
    /// Why.
    pub why: Option<String>,
    /// In how many seconds.
    pub seconds: String,
}

/// What is to be seen of a day.
#[derive(Clone, Debug, Default)]
pub struct Seen {
    /// Its title and place.
    pub title: String,
    /// What is asked, and what can be typed.
    pub asks: Vec<String>,
    /// What whoever holds the radio is told.
    pub telling: Option<Telling>,
    /// The same in words.
    pub told: Option<String>,
    /// What was said last.
    pub words: VecDeque<String>,
    /// The last verdict.
    pub verdict: Option<Verdict>,
    /// The last slip.
    pub slip: Option<String>,
    /// The visit that it is of.
    pub slip_of: Option<u32>,
    /// The day so far, where somebody asked for it.
    pub day: Option<String>,
    /// The visits, the newest first.
    pub visits: Vec<[String; 6]>,
    /// The day in one line.
    pub counts: String,
    /// When the reference radio is due.
    pub due: Option<Timestamp>,
    /// Why the day does not go on.
    pub trouble: Option<String>,
    /// Whether it has ended for that, so that no line is taken any more.
    pub is_over: bool,
    /// Whether a radio is being measured.
    pub measuring: bool,
    /// Whether a carrier stays that nobody let go of: somebody must be able to say that it is gone, whatever else holds.
    pub stays: bool,
}

/// The door of one bench.
#[derive(Debug)]
pub struct Door {
    /// What the day's file says.
    pub day: Day,
    /// Each with whether it was typed while a radio was measured.
    lines: Mutex<VecDeque<(String, bool)>>,
    seen: Mutex<Seen>,
}

impl Door {
    /// One that nobody has come to.
    #[must_use]
    pub fn new(day: Day) -> Self {
        let place = if day.place.is_empty() { String::new() } else { format!(", {}", day.place) };
        let seen = Seen { title: format!("{}{place}", day.title), ..Seen::default() };
        Self { day, lines: Mutex::default(), seen: Mutex::new(seen) }
    }

    /// What is to be seen.
    #[must_use]
    pub fn seen(&self) -> Seen {
        self.lock().clone()
    }

    /// Takes what somebody typed; `false` if too much waits already.
    pub(crate) fn typed(&self, line: String) -> bool {
        let mut lines = self.lines.lock().unwrap_or_else(PoisonError::into_inner);
        if lines.len() >= MOST_WAITING {
            return false;
        }
        // One line answers what was asked; what comes behind it was typed too early.
        let early = self.lock().measuring || !lines.is_empty();
        lines.push_back((line, early));
        true
    }

    /// The day does not go on. What was said of a carrier that stays is not taken back for that.
    fn is_over(&self, why: &str) {
        let mut seen = self.lock();
        let stays = seen.trouble.take().filter(|_| seen.stays);
        seen.trouble = Some(stays.map_or_else(|| why.to_owned(), |stays| format!("{stays}\n{why}")));
        (seen.is_over, seen.measuring) = (true, false);
    }

    /// The next line for a desk whose bench may be paused: then only a carrier that stays is talked of. What waits until
    /// somebody resumes was typed too early, for nobody knows how long that takes and who is at the radio by then.
    fn next_unless(&self, paused: bool) -> Option<(String, bool)> {
        if !paused || self.lock().stays {
            return self.next();
        }
        let mut lines = self.lines.lock().unwrap_or_else(PoisonError::into_inner);
        lines.iter_mut().for_each(|(_, early)| *early = true);
        None
    }

    fn next(&self) -> Option<(String, bool)> {
        let mut lines = self.lines.lock().unwrap_or_else(PoisonError::into_inner);
        let line = lines.pop_front()?;
        // Before another line can come: nothing is asked any more.
        self.lock().measuring = true;
        Some(line)
    }

    fn lock(&self) -> MutexGuard<'_, Seen> {
        // It is only shown: what a thread that broke off left half changed is soon overwritten.
        self.seen.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// Holds the day of a bench until the service ends.
pub(crate) fn work(shared: &Arc<Shared>, bench: &Arc<Bench>, door: &Arc<Door>) {
    if let Err(error) = hold(shared, bench, door) {
        let advice = error.advice().map_or_else(String::new, |advice| format!("\n{advice}"));
        tracing::error!(bench = bench.at.name, "{}", told::chain(&error));
        door.is_over(&format!("{}{advice}", told::chain(&error)));
        tell(shared, bench);
        shared.tell_bench(bench, &bench.break_off("the test day does not go on"));
        bench.wait_for(|_| shared.is_ending().then_some(()));
    }
}

fn hold(shared: &Arc<Shared>, bench: &Arc<Bench>, door: &Arc<Door>) -> Result<(), DeskError> {
    let files = Files::from_environment();
    // Only the bench file arms a real bench.
    let mut desk = Desk::open(door.day.clone(), &files, shared.record.clone(), false)?;
    let mut page = Page { shared: shared.clone(), bench: bench.clone(), door: door.clone() };
    let begun = desk.begin(&mut page);
    // One that stayed before the program ended is not gone for that.
    if desk.carrier_stays().is_some() {
        rest(shared, bench, door, &desk);
    }
    begun?;
    loop {
        look(shared, door, &desk);
        tell(shared, bench);
        let line = bench.wait_for(|state| {
            if shared.is_ending() {
                return Some(None);
            }
            let line = door.next_unless(state.paused)?;
            // While a carrier stays nothing is measured, and the lamp is left as it is.
            if desk.carrier_stays().is_none() {
                bench.begin(state, None);
            }
            Some(Some(line))
        });
        let Some((line, waited)) = line else { return Ok(()) };
        shared.tell_bench(bench, &bench.state());
        {
            let mut seen = door.lock();
            seen.measuring = true;
            seen.words.clear();
            seen.day = None;
        }
        tell(shared, bench);
        let done = desk.line(&line, waited, &mut page);
        // Before anybody sees that nothing is measured any more: what it came to is seen with that.
        look(shared, door, &desk);
        rest(shared, bench, door, &desk);
        if !done? {
            page.word(
                "the page does not end the day: it goes on for whoever comes next, and after the service has ended with its next \
                 start. To take no radio for a while, pause the bench on the page `Benches`",
            );
        }
    }
}

/// Nothing is measured any more; where a carrier stays, that is seen.
fn rest(shared: &Shared, bench: &Bench, door: &Door, desk: &Desk<'_>) {
    let stays = desk.carrier_stays().map(str::to_owned);
    {
        let mut seen = door.lock();
        (seen.measuring, seen.trouble, seen.stays) = (false, stays.clone(), stays.is_some());
        (seen.telling, seen.told) = (stays.as_ref().map(|_| Telling::LetGo), None);
    }
    let state = match stays {
        Some(why) => bench.rest_keyed(why, shared.now()),
        None => bench.rest(None),
    };
    shared.tell_bench(bench, &state);
}

/// Notes what is to be seen of a desk.
fn look(shared: &Shared, door: &Door, desk: &Desk<'_>) {
    let ledger = desk.ledger();
    let due = desk.reference_due_in().and_then(|span| SignedDuration::try_from(span).ok());
    let text = summary_text(&desk.day, ledger, Audience::Private);
    let mut seen = door.lock();
    seen.asks = desk.prompt().lines().map(typeset).collect();
    // What was corrected since is seen at once, on the verdict and on the slip.
    if let Some(visit) = seen.slip_of.and_then(|number| ledger.visit(number)) {
        seen.slip = Some(slip(&desk.day, visit, desk.day.slip));
    }
    if let Some(verdict) = &mut seen.verdict
        && let Some(visit) = ledger.visit(verdict.number)
    {
        verdict.of = name_of(visit);
    }
    seen.visits = ledger.visits().iter().rev().take(MOST_VISITS).map(row).collect();
    seen.counts = text.lines().nth(1).unwrap_or_default().to_owned();
    seen.due = due.and_then(|span| shared.now().saturating_add(span).ok());
}

fn tell(shared: &Shared, bench: &Bench) {
    shared.hub.tell("walk-in", json!({ "name": bench.at.name }).to_string());
}

/// The page as what looks on.
struct Page {
    shared: Arc<Shared>,
    bench: Arc<Bench>,
    door: Arc<Door>,
}

impl Page {
    fn word(&self, text: &str) {
        let mut seen = self.door.lock();
        seen.words.push_back(in_prose(text));
        while seen.words.len() > MOST_WORDS {
            seen.words.pop_front();
        }
        drop(seen);
        tell(&self.shared, &self.bench);
    }
}

/// Words for a page: what stands in columns at a terminal has no columns here.
fn in_prose(text: &str) -> String {
    let line = |line: &str| match line.split_once("  ") {
        Some((word, rest)) if !word.is_empty() => format!("{word}: {}", rest.trim_start()),
        Some(_) | None => line.to_owned(),
    };
    text.lines().map(line).collect::<Vec<_>>().join("\n")
}

impl Company for Page {
    fn say(&mut self, text: &str) {
        tracing::info!(bench = self.bench.at.name, "{}", told::in_one_line(text));
        self.word(text);
    }

    fn named(&mut self, id: &RunId) {
        let state = self.bench.change(|state| state.run = Some(id.clone()));
        self.shared.tell_bench(&self.bench, &state);
    }

    fn listener(&mut self, readings: usize, _: Pace) -> Box<dyn Listener> {
        self.bench.change(|state| state.planned = u32::try_from(readings).unwrap_or(u32::MAX));
        // From here on another radio is at the connector: until then the verdict of the one before it is seen.
        self.door.lock().verdict = None;
        let ears = Ears::of(&self.shared, &self.bench);
        Box::new(Seeing {
            ears,
            shared: self.shared.clone(),
            bench: self.bench.clone(),
            door: self.door.clone(),
        })
    }

    fn operator(&mut self) -> Box<dyn Operator> {
        Box::new(Absent)
    }

    fn stop(&mut self) -> Pin<Box<dyn Future<Output = ()>>> {
        Box::pin(self.bench.stopped())
    }
}

impl Front for Page {
    fn show(&mut self, day: &Day, what: Show<'_>) {
        match what {
            Show::Words(words) => self.word(words),
            Show::Verdict(visit) => {
                self.door.lock().verdict = seen_verdict(visit);
                tell(&self.shared, &self.bench);
            }
            Show::Slip(visit) => {
                let mut seen = self.door.lock();
                (seen.slip, seen.slip_of) = (Some(slip(day, visit, day.slip)), Some(visit.number));
                drop(seen);
                tell(&self.shared, &self.bench);
            }
            Show::Summary(ledger) => {
                self.door.lock().day = Some(typeset(&summary_text(day, ledger, Audience::Private)));
                tell(&self.shared, &self.bench);
            }
        }
    }

    fn ran(&mut self, state: RunState, outcome: Option<Outcome>) {
        self.shared.metrics.ran(&self.bench.at.name, state, outcome);
    }

    fn came_to(&mut self, outcome: VisitOutcome) {
        self.shared.metrics.visited(&self.bench.at.name, outcome);
    }
}

/// Number and label of a visit.
fn name_of(visit: &Visit) -> String {
    format!("no. {} {}", visit.number, visit.label).trim_end().to_owned()
}

fn seen_verdict(visit: &Visit) -> Option<Verdict> {
    let result = visit.result()?;
    Some(Verdict {
        number: visit.number,
        of: name_of(visit),
        word: verdict(result.outcome),
        outcome: result.outcome,
        why: result.why.clone(),
        seconds: format!("{:.0}", result.seconds),
    })
}

/// Hears a run for the bench's card, and for whoever holds the radio.
struct Seeing {
    ears: Ears,
    shared: Arc<Shared>,
    bench: Arc<Bench>,
    door: Arc<Door>,
}

impl Listener for Seeing {
    fn hear(&mut self, event: &Event) {
        self.ears.hear(event);
        match &event.kind {
            EventKind::Prompt(text) => {
                let telling = if text.starts_with("key ") { Telling::Key } else { Telling::LetGo };
                let mut seen = self.door.lock();
                (seen.telling, seen.told, seen.verdict) = (Some(telling), Some(text.clone()), None);
                drop(seen);
                tell(&self.shared, &self.bench);
            }
            EventKind::KeyUp { .. } => {
                let mut seen = self.door.lock();
                (seen.telling, seen.told) = (None, None);
                drop(seen);
                tell(&self.shared, &self.bench);
            }
            _ => {}
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn door() -> Door {
        let text = "day: Spring\nbench: b.yaml\nrule: us-part-97\nbands: [ 144 MHz..148 MHz ]\n";
        let document = spurline_document::Document::parse("d.yaml", text).unwrap();
        Door::new(Day::read(&document).unwrap())
    }

    /// A label that waited while the bench was paused is not measured the moment somebody resumes.
    #[test]
    fn what_waited_for_a_paused_bench_was_typed_too_early() {
        let door = door();
        assert!(door.typed("one".to_owned()));
        assert_eq!(door.next_unless(true), None);
        assert_eq!(door.next_unless(false), Some(("one".to_owned(), true)));
    }

    /// Paused or not: somebody must be able to say that a carrier is gone.
    #[test]
    fn a_paused_bench_is_told_that_a_carrier_is_gone() {
        let door = door();
        door.lock().stays = true;
        assert!(door.typed("off".to_owned()));
        assert_eq!(door.next_unless(true), Some(("off".to_owned(), false)));
    }

    /// The day ends because its log failed; the radio transmits all the same.
    #[test]
    fn a_day_that_does_not_go_on_takes_back_nothing_of_a_carrier_that_stays() {
        let door = door();
        {
            let mut seen = door.lock();
            (seen.stays, seen.telling) = (true, Some(Telling::LetGo));
            seen.trouble = Some("a carrier is there".to_owned());
        }
        door.is_over("the disk is full");
        let seen = door.seen();
        assert_eq!(seen.trouble.as_deref(), Some("a carrier is there\nthe disk is full"));
        assert!(seen.is_over && seen.telling == Some(Telling::LetGo));
    }

    #[test]
    fn what_comes_behind_a_line_waits() {
        let door = door();
        assert!(door.typed("one".to_owned()) && door.typed("two".to_owned()));
        assert_eq!(door.next(), Some(("one".to_owned(), false)));
        // Nobody has begun with the first yet.
        assert!(door.typed("three".to_owned()));
        for line in ["two", "three"] {
            assert_eq!(door.next(), Some((line.to_owned(), true)));
        }
        door.lock().measuring = false;
        assert!(door.typed("four".to_owned()));
        assert_eq!(door.next(), Some(("four".to_owned(), false)));
    }
}
