//! A test day as it goes on, without input or output: lines and results go in, what is to be done comes out.

use std::collections::VecDeque;
use std::time::Duration;

use jiff::{SignedDuration, Timestamp};
use spurline_record::{DayEntry, DayEvent, Drift, Label, RunId, VisitOutcome, VisitResult, alike, same_tag};

use crate::command::{Typed, TypedError, typed};
use crate::day::ReferenceRadio;
use crate::ledger::{Ledger, Visit};
use crate::reference;
use crate::wording;

/// What is to be done next, in this order.
#[derive(Clone, Debug, PartialEq)]
pub enum Effect {
    /// Told to whoever types.
    Say(String),
    /// Kept for good before anything that follows; given back by [`Machine::entered`].
    Keep(DayEvent),
    /// The carrier is found and measured; what comes of it is told by [`Machine::ended`].
    Measure {
        /// Which visit.
        visit: u32,
        /// What it goes by.
        label: Label,
    },
    /// What came of a visit that broke off is looked up; told by [`Machine::ended`] as well.
    Recover {
        /// Which visit.
        visit: u32,
        /// The run that it had begun.
        run: Option<RunId>,
    },
    /// The verdict is shown large.
    Verdict(u32),
    /// The slip is printed.
    Slip(u32),
    /// The summary is shown.
    Summary,
    /// The end.
    Quit,
}

/// What is waited for.
#[derive(Clone, Debug, Default, PartialEq)]
enum State {
    /// The next label.
    #[default]
    Waiting,
    /// Whether one who came before is measured again.
    Asking { label: Label, former: u32 },
    /// What a visit comes to.
    Measuring,
    /// That somebody brings a carrier down that nobody let go of.
    Stays,
}

/// A test day.
#[derive(Clone, Debug)]
pub struct Machine {
    ledger: Ledger,
    reference: Option<ReferenceRadio>,
    /// What tags begin with, beside `#`.
    tags: Vec<String>,
    state: State,
    /// Lines that ask for a radio, typed while another one was at the connector.
    waiting: VecDeque<String>,
}

/// So many lines wait, and no more.
const MOST_WAITING: usize = 20;

/// What can be typed, in one line.
const KEYS: &str = "label = next  a again  c correct  r slip  d day  q quit  ? help";

/// The same at length.
const HELP: &str = "scan or type a call sign, a serial number or a tag (`#12`), several in one line; `call:`, `serial:` or `tag:` before a \
word says what it is. `+` behind it: the call sign may be published, and nothing else; `-`: it may not, or not any more (`c 12 -`)\n\
a        measure the last one again; `a 12`: visit 12\n\
c WORDS  what is right about the last visit; `c 12 WORDS`: about visit 12. Nothing is written over\n\
r        the slip of the last one again; `r 12`: of visit 12\n\
d        the day so far\n\
n        the one that waits does not come; of one who came before: neither again nor its slip. Enter alone: it is connected\n\
off      the carrier that stayed is gone: its radio is off\n\
q        end, also `quit` and `exit`; the day goes on with the next start\n\
?        this, also `help`";

impl Machine {
    /// A day that has this log already.
    #[must_use]
    pub fn new(ledger: Ledger, reference: Option<ReferenceRadio>) -> Self {
        let mut machine =
            Self { ledger, reference, tags: Vec::new(), state: State::Waiting, waiting: VecDeque::new() };
        machine.settle();
        machine
    }

    /// The same with what tags begin with.
    #[must_use]
    pub fn with_tags(self, tags: Vec<String>) -> Self {
        Self { tags, ..self }
    }

    /// The day so far.
    #[must_use]
    pub fn ledger(&self) -> &Ledger {
        &self.ledger
    }

    /// What broke off before is looked up first.
    #[must_use]
    pub fn begin(&self) -> Vec<Effect> {
        let broken = self.ledger.broken();
        broken.map(|visit| Effect::Recover { visit: visit.number, run: visit.run.clone() }).collect()
    }

    /// Takes an entry that is kept.
    pub fn entered(&mut self, entry: &DayEntry) {
        self.ledger.take(entry);
        if matches!(entry.event, DayEvent::Stays { .. } | DayEvent::Gone) {
            self.settle();
        }
    }

    /// Waits for the next label, unless a carrier is still there: then for somebody to bring it down.
    fn settle(&mut self) {
        self.state = if self.ledger.stays().is_some() { State::Stays } else { State::Waiting };
    }

    /// What is asked, and below it what can be typed.
    #[must_use]
    pub fn prompt(&self, now: Timestamp) -> String {
        let asked = match &self.state {
            State::Asking { former, .. } => {
                let came_to = self.ledger.visit(*former).map(words_of).unwrap_or_default();
                return format!(
                    "{came_to}\na = measure again  r = its slip  n = neither  another label = next"
                );
            }
            State::Measuring => "measuring".to_owned(),
            State::Stays => {
                return "A CARRIER IS STILL THERE: switch that radio off by hand, or take its battery out; when it is off, \
                        type `off`\noff = it is off  d day  q quit"
                    .to_owned();
            }
            State::Waiting if !self.waiting.is_empty() => {
                let next = &self.waiting[0];
                let others = match self.waiting.len() - 1 {
                    0 => String::new(),
                    others => format!("; {others} more after it"),
                };
                let due = match (self.ledger.drifted(), self.is_reference_due(now)) {
                    (Some(_), _) => "; THE REFERENCE RADIO HAS DRIFTED: measure it again",
                    (None, true) => "; the reference radio is due",
                    (None, false) => "",
                };
                return format!(
                    "`{next}` waits{others}{due}: take the radio before it off, connect this one, then Enter\n\
                     Enter = it is connected  n not this one  label = another one first  r slip  d day  q quit"
                );
            }
            State::Waiting if self.reference.is_some() && self.ledger.drifted().is_some() => format!(
                "THE REFERENCE RADIO HAS DRIFTED: look for a loose connector or a warm pad, then connect it again and scan its \
                 tag, {}; a visitor may go first, and the slip says so",
                self.tag()
            ),
            State::Waiting if self.is_reference_due(now) => {
                let tag = self.tag();
                format!("reference radio due: connect it and scan its tag, {tag}; a visitor may go first")
            }
            State::Waiting => "next radio: connect it, then scan or type its label".to_owned(),
        };
        format!("{asked}\n{KEYS}")
    }

    /// Whether the reference radio should have been measured by now.
    #[must_use]
    pub fn is_reference_due(&self, now: Timestamp) -> bool {
        self.reference_due_in(now).is_some_and(|span| span.is_zero())
    }

    fn tag(&self) -> &str {
        self.reference.as_ref().map_or("", |reference| reference.tag.as_str())
    }

    /// How long until it is asked for, at once where it was not what it had been; `None` if the day has none.
    #[must_use]
    pub fn reference_due_in(&self, now: Timestamp) -> Option<Duration> {
        let reference = self.reference.as_ref()?;
        if self.ledger.drifted().is_some() {
            return Some(Duration::ZERO);
        }
        let Some(last) = self.ledger.reference_at() else { return Some(Duration::ZERO) };
        let every = SignedDuration::try_from(reference.every.duration()).unwrap_or(SignedDuration::MAX);
        let left = every - now.duration_since(last);
        Some(Duration::try_from(left.max(SignedDuration::ZERO)).unwrap_or_default())
    }

    /// Takes a line that was typed while a radio was measured, or before its verdict was seen: whose it is cannot be
    /// connected yet, so that nobody is told to key before somebody has said that it is.
    pub fn line_that_waited(&mut self, text: &str, now: Timestamp) -> Vec<Effect> {
        let asks_for_a_radio = match self.typed(text) {
            Ok(Typed::Label(_) | Typed::Again(_)) => true,
            Err(TypedError::Two { .. }) => self.ledger.spelt(text).is_some(),
            // What confirms something that was not yet asked confirms nothing.
            Ok(Typed::Nothing | Typed::Off | Typed::NotThis) => return Vec::new(),
            Ok(_) | Err(_) => false,
        };
        if !asks_for_a_radio {
            return self.line(text, now);
        }
        if self.waiting.len() >= MOST_WAITING {
            return vec![Effect::Say(format!(
                "`{}` is not taken: too many wait\ntype it again later",
                text.trim()
            ))];
        }
        self.waiting.push_back(text.trim().to_owned());
        Vec::new()
    }

    /// A line, understood as this day understands it.
    fn typed(&self, text: &str) -> Result<Typed, TypedError> {
        let tag = self.reference.as_ref().map(|reference| reference.tag.as_str());
        let begins = |word: &str, with: &String| {
            word.len() > with.len()
                && word.get(..with.len()).is_some_and(|head| head.eq_ignore_ascii_case(with))
        };
        typed(text, |word| {
            tag.is_some_and(|tag| alike(tag, word)) || self.tags.iter().any(|with| begins(word, with))
        })
    }

    /// Whether a carrier is there that nobody let go of: nothing is keyed before somebody says that it is gone.
    #[must_use]
    pub fn is_stuck(&self) -> bool {
        self.state == State::Stays
    }

    /// Takes a line that somebody typed.
    pub fn line(&mut self, text: &str, now: Timestamp) -> Vec<Effect> {
        match self.typed(text) {
            // Blanks within a word make several: one who came before is noticed all the same.
            Err(TypedError::Two { .. }) if !self.is_stuck() && self.ledger.spelt(text).is_some() => {
                self.label(Label::default(), text)
            }
            Err(error) => vec![Effect::Say(error.to_string())],
            Ok(Typed::Label(_) | Typed::Again(_)) if self.is_stuck() => {
                vec![Effect::Say(
                    "nobody is told to key while a carrier is still there\ntype `off` when it is off"
                        .to_owned(),
                )]
            }
            Ok(Typed::Nothing) if self.state == State::Waiting => match self.waiting.pop_front() {
                Some(text) => self.line(&text, now),
                None => Vec::new(),
            },
            Ok(Typed::Nothing) => Vec::new(),
            Ok(Typed::NotThis) if matches!(self.state, State::Asking { .. }) => {
                self.settle();
                vec![Effect::Say("nobody is measured again\nscan or type a label".to_owned())]
            }
            Ok(Typed::NotThis) => vec![Effect::Say(match self.waiting.pop_front() {
                Some(text) => format!("`{text}` does not wait any more"),
                None => "nobody waits\nscan or type a label".to_owned(),
            })],
            Ok(Typed::Off) => {
                if !self.is_stuck() {
                    return vec![Effect::Say(
                        "no carrier is there that stayed\nscan or type a label".to_owned(),
                    )];
                }
                vec![Effect::Keep(DayEvent::Gone)]
            }
            Ok(Typed::CorrectNumber(number, _)) if self.ledger.visit(number).is_some() => {
                vec![Effect::Say(format!(
                    "expected what is right about visit {number}, found nothing behind it\nwrite for example `c {number} X1ABC`; \
                     if {number} is the right serial number of the last one, `c serial:{number}`"
                ))]
            }
            Ok(Typed::CorrectNumber(_, label)) => self.correct(None, label, now),
            Ok(Typed::Label(label)) => self.label(label, text),
            Ok(Typed::Again(visit)) => self.again(visit),
            Ok(Typed::Correct(visit, label)) => self.correct(visit, label, now),
            Ok(Typed::Slip(visit)) => self.slip(visit),
            Ok(Typed::Day) => vec![Effect::Summary],
            Ok(Typed::Help) => vec![Effect::Say(HELP.to_owned())],
            Ok(Typed::Quit) => self.quit(now),
        }
    }

    fn label(&mut self, label: Label, text: &str) -> Vec<Effect> {
        self.state = State::Waiting;
        if self.is_reference(&label) {
            return self.comes(label, true);
        }
        if let Some(former) = self.ledger.same(&label) {
            let label = label.beside(&former.label);
            self.state = State::Asking { label, former: former.number };
            return Vec::new();
        }
        let words: Vec<&str> = text.split_whitespace().filter(|word| !["+", "-"].contains(word)).collect();
        if let Some(former) = self.ledger.spelt(&words.join(" ")) {
            let label = Label { publish: label.publish, ..Label::default() };
            self.state = State::Asking { label, former: former.number };
            return Vec::new();
        }
        self.comes(label, false)
    }

    fn is_reference(&self, label: &Label) -> bool {
        let tags = self.reference.as_ref().zip(label.tag.as_ref());
        tags.is_some_and(|(reference, tag)| same_tag(&reference.tag, tag))
    }

    fn comes(&mut self, label: Label, reference: bool) -> Vec<Effect> {
        let visit = self.ledger.next();
        self.state = State::Measuring;
        vec![
            Effect::Keep(DayEvent::Came { visit, label: label.clone(), reference }),
            Effect::Measure { visit, label },
        ]
    }

    fn again(&mut self, visit: Option<u32>) -> Vec<Effect> {
        if let (State::Asking { label, former }, None) = (&self.state, visit) {
            // What was said before holds, and what is said now on top of it.
            let known = self.ledger.visit(*former).map(|visit| visit.label.clone()).unwrap_or_default();
            let label = known.corrected(label);
            return self.comes(label, false);
        }
        match self.find(visit) {
            Ok(found) => {
                let (label, reference) = (found.label.clone(), found.reference);
                self.comes(label, reference)
            }
            Err(told) => vec![told],
        }
    }

    /// The visit of a number, or the last one.
    fn find(&self, visit: Option<u32>) -> Result<&Visit, Effect> {
        match visit {
            Some(number) => self.ledger.visit(number).ok_or_else(|| {
                let last = self.ledger.last().map_or(0, |visit| visit.number);
                Effect::Say(format!("there is no visit {number}\nvisits so far: 1 to {last}; `d` lists them"))
            }),
            None => self
                .ledger
                .last()
                .ok_or_else(|| Effect::Say("nobody has come yet\nscan or type a label".to_owned())),
        }
    }

    fn correct(&mut self, visit: Option<u32>, label: Label, now: Timestamp) -> Vec<Effect> {
        let former = match (&self.state, visit) {
            (State::Asking { former, .. }, None) => Some(*former),
            (_, visit) => visit,
        };
        let found = match self.find(former) {
            Ok(found) => found,
            Err(told) => return vec![told],
        };
        let (visit, was_look) = (found.number, found.reference);
        let (noted, agreed) = (found.label.to_string(), found.label.publish);
        let event = DayEvent::Corrected { visit, label: label.clone() };
        // The day as it will be.
        let mut then = self.ledger.clone();
        then.take(&DayEntry { number: 0, day: String::new(), at: now, event: event.clone() });
        let Some(right) = then.visit(visit) else { return Vec::new() };
        let mut told = format!("visit {visit}: `{noted}` was noted, `{}` holds", right.label);
        if agreed == Some(true) && right.label.publish.is_none() {
            told.push_str(&format!(
                "\nthis is another call sign: that it may be published nobody has said; if it may, `c {visit} +`"
            ));
        }
        if was_look != right.reference {
            told.push_str(&match right.reference {
                true => format!("\nvisit {visit} is a look at the reference radio"),
                false => format!(
                    "\nvisit {visit} is no look at the reference radio, and nothing is held against it: `r {visit}` prints its \
                     slip; those of visits since then rest on an earlier look"
                ),
            });
        }
        let mut effects = vec![Effect::Keep(event)];
        if was_look != right.reference {
            effects.extend(self.compared_anew(then));
        }
        effects.push(Effect::Say(told));
        effects
    }

    /// What each look comes to once another one is the first.
    fn compared_anew(&self, mut then: Ledger) -> Vec<Effect> {
        let Some(reference) = &self.reference else { return Vec::new() };
        let looks: Vec<u32> =
            then.visits().iter().filter(|visit| visit.reference).map(|visit| visit.number).collect();
        let mut effects = Vec::new();
        // None is held against what it was held against before.
        looks.iter().for_each(|look| then.compared(*look, Vec::new()));
        for look in looks {
            let Some(drifts) = drifts_of(reference, &then, look) else { continue };
            then.compared(look, drifts.clone());
            if self.ledger.visit(look).is_some_and(|before| before.drifts != drifts) {
                effects.push(Effect::Keep(DayEvent::Compared { visit: look, drifts }));
            }
        }
        effects
    }

    fn slip(&mut self, visit: Option<u32>) -> Vec<Effect> {
        let wanted = match (&self.state, visit) {
            (State::Asking { former, .. }, None) => Some(*former),
            (_, visit) => visit,
        };
        let found = match self.find(wanted) {
            Ok(found) => found,
            Err(told) => return vec![told],
        };
        let (number, outcome) = (found.number, found.result().map(|result| result.outcome));
        self.settle();
        match outcome {
            Some(VisitOutcome::Stopped) => vec![Effect::Say(format!(
                "visit {number} was stopped: nothing is said of the radio, and it has no slip\nmeasure it again: `a {number}`"
            ))],
            Some(_) => vec![Effect::Slip(number)],
            None => vec![Effect::Say(format!("visit {number} has no slip yet\nmeasure it: `a {number}`"))],
        }
    }

    fn quit(&mut self, now: Timestamp) -> Vec<Effect> {
        let mut effects = Vec::new();
        if self.reference.is_some() && self.ledger.drifted().is_some() {
            effects.push(Effect::Say(
                "note: the reference radio had drifted when it was measured last, and was not measured again; the slips since \
                 then say so"
                    .to_owned(),
            ));
        } else if self.is_reference_due(now) && self.ledger.reference().is_some() {
            effects.push(Effect::Say(
                "note: the reference radio was not measured at the end; the last slips rest on an earlier look".to_owned(),
            ));
        }
        effects.push(Effect::Quit);
        effects
    }

    /// Takes what a visit came to.
    pub fn ended(&mut self, visit: u32, mut result: VisitResult, now: Timestamp) -> Vec<Effect> {
        self.settle();
        let Some(found) = self.ledger.visit(visit) else { return Vec::new() };
        // Of one that is looked up later: as it stood when it ended.
        let now = result.ended.map_or(now, |ended| ended.min(now));
        result.reference_overdue = self.is_reference_due(now);
        result.reference_drifted = self.reference.is_some() && self.ledger.drifted().is_some();
        let is_look = found.reference;
        let stopped = result.outcome == VisitOutcome::Stopped;
        let mut effects = vec![Effect::Keep(DayEvent::Ended { visit, result: result.clone() })];
        // The day as it will be.
        let mut then = self.ledger.clone();
        then.ended(visit, now, result);
        let reference = self.reference.as_ref().filter(|_| is_look);
        if let Some(drifts) = reference.and_then(|reference| drifts_of(reference, &then, visit)) {
            let told = reference::words(&drifts, then.reference().is_some_and(|first| first.number == visit));
            effects.push(Effect::Keep(DayEvent::Compared { visit, drifts }));
            effects.push(Effect::Say(told));
            return effects;
        }
        effects.push(Effect::Verdict(visit));
        if !stopped {
            effects.push(Effect::Slip(visit));
        }
        effects
    }
}

/// How a look at the reference radio stands against the first one; `None` if its carrier was not measured, for then it says
/// nothing of the bench.
fn drifts_of(reference: &ReferenceRadio, ledger: &Ledger, look: u32) -> Option<Vec<Drift>> {
    let now = ledger.visit(look).filter(|visit| visit.is_measured())?;
    let now = now.result().filter(|now| now.carrier_line().is_some_and(|line| line.level.is_some()))?;
    let first = ledger.reference().filter(|first| first.number < look).and_then(Visit::result);
    Some(reference::drifts(reference, first, now))
}

fn words_of(visit: &Visit) -> String {
    let came_to = visit.result().map_or_else(|| "it has not ended".to_owned(), wording::in_short);
    format!("visit {} was `{}`: {came_to}", visit.number, visit.label)
}

#[cfg(test)]
mod tests;
