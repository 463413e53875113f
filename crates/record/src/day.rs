//! A test day: who came with which radio, and what was found. Nothing of it is ever changed: what was wrong is corrected
//! by another entry.

use std::fmt;

use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use spurline_units::{Db, Dbm, Hertz};

use crate::outcome::Outcome;
use crate::run::RunId;

/// What a visitor or a radio goes by.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Label {
    /// The call sign of whoever brought it: a person's name, as it were.
    pub call: Option<String>,
    /// The serial number of the radio.
    pub serial: Option<String>,
    /// A tag that was put on it.
    pub tag: Option<String>,
    /// A word of which nobody has said what it is: it may name a person, as a call sign does.
    #[serde(default)]
    pub other: Option<String>,
    /// Whether the call sign may be published; `None` if nobody was asked.
    pub publish: Option<bool>,
}

impl Label {
    /// Whether nothing is known.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.call.is_none() && self.serial.is_none() && self.tag.is_none() && self.other.is_none()
    }

    /// The same with everything that a correction states. A word that it states as something else was taken for the wrong
    /// thing, and is that no more. Leave to publish is a person's own: another call sign has none unless it says so itself.
    #[must_use]
    pub fn corrected(&self, by: &Self) -> Self {
        let stated = |word: &String| {
            [&by.call, &by.serial, &by.tag, &by.other]
                .into_iter()
                .flatten()
                .any(|new| new.eq_ignore_ascii_case(word))
        };
        let or = |new: &Option<String>, old: &Option<String>| {
            new.clone().or_else(|| old.clone().filter(|old| !stated(old)))
        };
        let another = by.call.as_ref().is_some_and(|new| !self.is_of(new));
        Self {
            call: or(&by.call, &self.call),
            serial: or(&by.serial, &self.serial),
            tag: or(&by.tag, &self.tag),
            other: or(&by.other, &self.other),
            publish: if another { by.publish } else { by.publish.or(self.publish) },
        }
    }

    /// Whether it is the person of a call sign, as far as it says. A word of which nobody has said what it is may have been it.
    #[must_use]
    pub fn is_of(&self, call: &str) -> bool {
        self.call.as_ref().is_some_and(|own| same_call(own, call))
            || self.other.as_ref().is_some_and(|word| alike(word, call))
    }

    /// What it says that another one does not: a word of that one in another spelling is nothing new.
    #[must_use]
    pub fn beside(&self, known: &Self) -> Self {
        let new = |word: &Option<String>, of: &Option<String>| {
            word.clone().filter(|word| of.as_ref().is_none_or(|of| !alike(of, word)))
        };
        Self {
            call: new(&self.call, &known.call),
            serial: new(&self.serial, &known.serial),
            tag: new(&self.tag, &known.tag),
            other: self.other.clone().filter(|word| !known.has_word(word)),
            publish: self.publish,
        }
    }

    /// Whether one of its words is this one, however either is spelt.
    #[must_use]
    pub fn has_word(&self, word: &str) -> bool {
        let words = [&self.call, &self.serial, &self.tag, &self.other];
        words.into_iter().flatten().any(|known| alike(known, word))
            || self.call.as_ref().is_some_and(|call| same_call(call, word))
    }

    /// Whether both go by the same call sign, serial number or tag, however that is spelt.
    #[must_use]
    pub fn shares(&self, other: &Self) -> bool {
        // One person may bring several radios: where both have a number of their own, that decides.
        if let Some((one, two)) = self.serial.as_ref().zip(other.serial.as_ref()) {
            return alike(one, two);
        }
        if let Some((one, two)) = self.tag.as_ref().zip(other.tag.as_ref()) {
            return same_tag(one, two);
        }
        // The same word is the same, whatever it was taken for.
        if let Some((one, two)) = self.other.as_ref().zip(other.other.as_ref()) {
            return alike(one, two);
        }
        let calls = self.call.as_ref().zip(other.call.as_ref());
        let others = |one: &Self, two: &Self| one.other.as_ref().is_some_and(|word| two.has_word(word));
        calls.is_some_and(|(one, two)| same_call(one, two)) || others(self, other) || others(other, self)
    }

    /// What may be said where everybody reads it: the tag, and by leave the call sign. The serial number of somebody's radio,
    /// and a word of which nobody has said what it is, never.
    #[must_use]
    pub fn in_public(&self) -> Self {
        let call = self.call.clone().filter(|_| self.publish == Some(true));
        Self { call, serial: None, other: None, ..self.clone() }
    }
}

/// Whether two words are the same to whoever types them: in capitals or not, with hyphens, dots and blanks or without.
#[must_use]
pub fn alike(one: &str, two: &str) -> bool {
    let letters = |word: &str| {
        let kept = word.chars().filter(|letter| !letter.is_whitespace() && !"-._".contains(*letter));
        kept.map(|letter| letter.to_ascii_uppercase()).collect::<String>()
    };
    let (one, two) = (letters(one), letters(two));
    !one.is_empty() && one == two
}

/// Whether two call signs are one person's: what stands before or behind a `/` tells where it is, not who.
#[must_use]
pub fn same_call(one: &str, two: &str) -> bool {
    let own = |call: &str| call.split('/').rev().max_by_key(|part| part.len()).unwrap_or(call).to_owned();
    alike(&own(one), &own(two))
}

/// Whether two tags are the same one, with the sign of a number before it or without.
#[must_use]
pub fn same_tag(one: &str, two: &str) -> bool {
    let bare = |tag: &str| tag.trim_start_matches('#').to_owned();
    alike(&bare(one), &bare(two))
}

impl fmt::Display for Label {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let words =
            [&self.call, &self.serial, &self.tag, &self.other].into_iter().flatten().map(String::as_str);
        f.write_str(&words.collect::<Vec<_>>().join(", "))
    }
}

/// What a visit came to.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum VisitOutcome {
    /// As of a run.
    Complies,
    /// As of a run.
    Exceeds,
    /// As of a run.
    Undecided,
    /// As of a run.
    Invalid,
    /// As of a run.
    NoLimit,
    /// No carrier came.
    NotKeyed,
    /// A carrier came where none may be, or that this bench does not take.
    Refused,
    /// The bench or the record failed.
    Failed,
    /// Somebody stopped it, or the program ended.
    Stopped,
}

impl VisitOutcome {
    /// All of them, as they are counted.
    pub const ALL: [Self; 9] = [
        Self::Complies,
        Self::Exceeds,
        Self::Undecided,
        Self::Invalid,
        Self::NoLimit,
        Self::NotKeyed,
        Self::Refused,
        Self::Failed,
        Self::Stopped,
    ];

    /// The word for it.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Complies => "complies",
            Self::Exceeds => "exceeds",
            Self::Undecided => "undecided",
            Self::Invalid => "invalid",
            Self::NoLimit => "no limit",
            Self::NotKeyed => "not keyed",
            Self::Refused => "refused",
            Self::Failed => "failed",
            Self::Stopped => "stopped",
        }
    }
}

impl From<Outcome> for VisitOutcome {
    fn from(outcome: Outcome) -> Self {
        match outcome {
            Outcome::Complies => Self::Complies,
            Outcome::Exceeds => Self::Exceeds,
            Outcome::Undecided => Self::Undecided,
            Outcome::Invalid => Self::Invalid,
            Outcome::NoLimit => Self::NoLimit,
        }
    }
}

impl fmt::Display for VisitOutcome {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.word())
    }
}

/// One line of a radio, at the connector.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct DayLine {
    /// The order of a harmonic; 1 is the carrier.
    pub order: u32,
    /// Where it is.
    pub frequency: Hertz,
    /// How strong it is; `None` if nothing could be read.
    pub level: Option<Dbm>,
    /// Whether noise hid it, so that the level is a bound.
    pub bound: bool,
    /// What it is held against, for a harmonic.
    pub limit: Option<Dbm>,
    /// Limit minus level.
    pub margin: Option<Db>,
    /// The expanded uncertainty of the level.
    pub uncertainty: Option<Db>,
    /// What it comes to.
    pub outcome: Outcome,
}

/// What a visit came to, with figures.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct VisitResult {
    /// In a word.
    pub outcome: VisitOutcome,
    /// The run that it was measured in.
    pub run: Option<RunId>,
    /// Where the carrier was found.
    pub carrier: Option<Hertz>,
    /// The carrier and its harmonics.
    pub lines: Vec<DayLine>,
    /// Why, where a word is not enough.
    pub why: Option<String>,
    /// From the label to the verdict, in seconds of the bench's time.
    pub seconds: f64,
    /// Whether the reference radio should have been measured before.
    pub reference_overdue: bool,
    /// Whether the reference radio had drifted when it was measured last: the bench was shown not to be as it was.
    #[serde(default)]
    pub reference_drifted: bool,
    /// How long it was seen to be keyed in all, in seconds; of a visit that broke off, how long it may have been.
    #[serde(default)]
    pub keyed: f64,
    /// When it ended, if that was before it was entered: of a visit that broke off and was looked up later.
    #[serde(default)]
    pub ended: Option<Timestamp>,
}

impl VisitResult {
    /// One of which nothing is known but what it came to.
    #[must_use]
    pub const fn of(outcome: VisitOutcome) -> Self {
        Self {
            outcome,
            run: None,
            carrier: None,
            lines: Vec::new(),
            why: None,
            seconds: 0.0,
            reference_overdue: false,
            reference_drifted: false,
            keyed: 0.0,
            ended: None,
        }
    }

    /// The line that decided: of the gravest outcome, and among those the one with the smallest margin. A line without a
    /// margin is it only where nothing graver has one, and where it does not comply.
    #[must_use]
    pub fn worst(&self) -> Option<&DayLine> {
        let margin = |line: &DayLine| line.margin.map_or(f64::INFINITY, |margin| margin.get());
        let told = self.lines.iter().filter(|line| {
            line.margin.is_some() || !matches!(line.outcome, Outcome::Complies | Outcome::NoLimit)
        });
        told.min_by(|one, other| other.outcome.cmp(&one.outcome).then(margin(one).total_cmp(&margin(other))))
    }

    /// The carrier's own line.
    #[must_use]
    pub fn carrier_line(&self) -> Option<&DayLine> {
        self.lines.iter().find(|line| line.order == 1)
    }

    /// The highest line that was really read: how far was looked.
    #[must_use]
    pub fn highest_read(&self) -> Option<&DayLine> {
        let read = self.lines.iter().filter(|line| line.level.is_some() && line.outcome != Outcome::Invalid);
        read.max_by_key(|line| line.order)
    }

    /// Its frequency.
    #[must_use]
    pub fn looked_up_to(&self) -> Option<Hertz> {
        self.highest_read().map(|line| line.frequency)
    }
}

/// How one line of the reference radio stands against what it was.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Drift {
    /// The order of a harmonic; 1 is the carrier.
    pub order: u32,
    /// What it was.
    pub was: Dbm,
    /// What it is.
    pub is: Dbm,
    /// What is let pass.
    pub allowed: Db,
}

impl Drift {
    /// By how much it has moved.
    #[must_use]
    pub fn by(&self) -> Db {
        self.is - self.was
    }

    /// Whether that is more than is let pass.
    #[must_use]
    pub fn is_real(&self) -> bool {
        self.by().get().abs() > self.allowed.get()
    }
}

/// What happened on a test day.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", tag = "what")]
pub enum DayEvent {
    /// The program was started with the day.
    Opened {
        /// Where the day is held.
        place: String,
        /// The bench's title.
        bench: String,
        /// The name of the rule.
        rule: String,
        /// Program and version.
        software: String,
    },
    /// Somebody came; nobody was asked to key yet.
    Came {
        /// Which visit of the day, from 1.
        visit: u32,
        /// What was said.
        label: Label,
        /// Whether it is the reference radio.
        reference: bool,
    },
    /// Its run has a name.
    Measuring {
        /// Which visit.
        visit: u32,
        /// The run.
        run: RunId,
    },
    /// What it came to.
    Ended {
        /// Which visit.
        visit: u32,
        /// All of it.
        result: VisitResult,
    },
    /// What was said of a visit was wrong, or not all.
    Corrected {
        /// Which visit.
        visit: u32,
        /// What holds from now on; what is not stated stays.
        label: Label,
    },
    /// A carrier is there that nobody let go of: nobody else is told to key.
    Stays {
        /// In which visit.
        visit: u32,
        /// What was seen.
        why: String,
    },
    /// Somebody has said that it is gone.
    Gone,
    /// The reference radio was held against what it was.
    Compared {
        /// Which visit.
        visit: u32,
        /// Each line that both have.
        drifts: Vec<Drift>,
    },
}

/// One entry in the log of a day.
#[derive(Clone, Debug, PartialEq)]
pub struct DayEntry {
    /// Its place in the log, from 1, over all days.
    pub number: u64,
    /// Which day.
    pub day: String,
    /// When.
    pub at: Timestamp,
    /// What.
    pub event: DayEvent,
}

#[cfg(test)]
mod tests {
    use super::*;

    fn label(call: &str, serial: &str) -> Label {
        let some = |text: &str| (!text.is_empty()).then(|| text.to_owned());
        Label { call: some(call), serial: some(serial), ..Label::default() }
    }

    #[test]
    fn one_person_may_bring_two_radios() {
        assert!(label("X1ABC", "").shares(&label("x1abc", "")));
        assert!(label("X1ABC", "1").shares(&label("", "1")));
        assert!(!label("X1ABC", "1").shares(&label("X1ABC", "2")));
        assert!(label("X1ABC", "1").shares(&label("X1ABC", "")));
        assert!(!label("", "1").shares(&label("X1ABC", "")));
    }

    #[test]
    fn a_word_that_was_taken_for_the_wrong_thing_is_corrected() {
        let other = |word: &str| Label { other: Some(word.to_owned()), ..Label::default() };
        let was = other("3DA0RU");
        assert!(was.in_public().is_empty());
        let right = was.corrected(&label("3DA0RU", ""));
        assert_eq!((right.call.as_deref(), right.other), (Some("3DA0RU"), None));
        let right = label("", "0815").corrected(&label("0815", ""));
        assert_eq!((right.call.as_deref(), right.serial), (Some("0815"), None));
        assert!(other("w-1").shares(&label("", "W-1")) && label("X1ABC", "W-1").shares(&other("W-1")));
        // However it is spelt; another number is another one.
        assert!(other("w0001").shares(&other("W-0001")) && other("X1-ABC").shares(&label("x1abc", "")));
        assert!(
            label("", "SN0001").shares(&other("sn-0001")) && !label("", "SN0001").shares(&other("sn-001"))
        );
        let tag = Label { tag: Some("T-12".to_owned()), ..Label::default() };
        assert!(tag.shares(&other("t12")) && alike("x1 abc", "X1ABC") && !alike("-", "."));
        assert!(!other("W-1").shares(&other("W-2")) && !other("W-1").shares(&label("X1ABC", "")));
        // One person, two radios.
        let of = |word: &str| Label { call: Some("X1ABC".to_owned()), ..other(word) };
        assert!(!of("W-1").shares(&of("W-2")) && of("W-1").shares(&of("W-1")));
    }

    /// What stands before or behind a `/` is no other person, and `#12` no other tag than 12; another number is another radio.
    #[test]
    fn the_same_one_is_noticed_with_a_suffix_or_the_sign_of_a_number() {
        let tag = |text: &str| Label { tag: Some(text.to_owned()), ..Label::default() };
        assert!(
            label("G4XYZ/P", "").shares(&label("g4xyz", ""))
                && label("F/G4XYZ", "").shares(&label("G4XYZ", ""))
        );
        assert!(
            !label("G4XYZ/P", "").shares(&label("G4XYY", ""))
                && !label("G4XYZ/P", "").shares(&label("G3ABC/P", ""))
        );
        assert!(tag("#12").shares(&tag("12")) && !tag("#12").shares(&tag("#21")));
        assert!(!label("", "12/3").shares(&label("", "123")) && !label("", "12").shares(&tag("#12")));
        assert!(!label("", "A/P").shares(&label("", "B/P")) && !tag("#12").has_word("12"));
    }

    /// Leave to publish does not pass from one person to another.
    #[test]
    fn another_person_has_not_agreed_to_anything() {
        let agreed = Label { publish: Some(true), ..label("X1ABC", "0815") };
        assert_eq!(agreed.corrected(&label("Y2DEF", "")).publish, None);
        assert_eq!(
            Label { publish: Some(true), ..label("", "0815") }.corrected(&label("Y2DEF", "")).publish,
            None
        );
        let by = Label { publish: Some(true), ..label("Y2DEF", "") };
        assert_eq!(agreed.corrected(&by).publish, Some(true));
        // The same one in another spelling, or what was taken for something else, has agreed.
        assert_eq!(agreed.corrected(&label("x1abc/p", "")).publish, Some(true));
        assert_eq!(agreed.corrected(&label("", "0816")).publish, Some(true));
        let word = Label { other: Some("3DA0RU".to_owned()), publish: Some(true), ..Label::default() };
        assert_eq!(word.corrected(&label("3DA0RU", "")).publish, Some(true));
    }

    /// The line that a slip shows is the one that decided, whatever margin another one has.
    #[test]
    fn the_worst_line_is_the_one_that_decided() {
        let line = |order: u32, margin: Option<f64>, outcome| DayLine {
            order,
            frequency: Hertz::from_mhz(145.0 * f64::from(order)),
            level: Some(Dbm::new(-40.0)),
            bound: false,
            limit: None,
            margin: margin.map(Db::new),
            uncertainty: Some(Db::new(1.5)),
            outcome,
        };
        let worst = |lines: &[DayLine]| {
            let result = VisitResult { lines: lines.to_vec(), ..result(VisitOutcome::Undecided) };
            result.worst().map(|line| line.order)
        };
        let carrier = line(1, None, Outcome::Complies);
        let near = line(2, Some(1.6), Outcome::Complies);
        let unsure = line(3, Some(4.0), Outcome::Undecided);
        assert_eq!(worst(&[carrier, near, unsure]), Some(3));
        assert_eq!(worst(&[carrier, near, unsure, line(4, Some(9.0), Outcome::Invalid)]), Some(4));
        assert_eq!(worst(&[carrier, near, line(5, Some(3.0), Outcome::Complies)]), Some(2));
        assert_eq!(worst(&[line(1, None, Outcome::Invalid), near]), Some(1));
        assert_eq!(worst(&[carrier]), None);
    }

    fn result(outcome: VisitOutcome) -> VisitResult {
        VisitResult { seconds: 1.0, keyed: 2.0, ..VisitResult::of(outcome) }
    }

    /// How far was looked is what was read, not what was to be.
    #[test]
    fn what_could_not_be_read_was_not_looked_at() {
        let line = |order: u32, level: Option<f64>, outcome| DayLine {
            order,
            frequency: Hertz::from_mhz(145.0 * f64::from(order)),
            level: level.map(Dbm::new),
            bound: false,
            limit: None,
            margin: None,
            uncertainty: None,
            outcome,
        };
        let lines = vec![
            line(1, Some(36.0), Outcome::Complies),
            line(2, Some(-40.0), Outcome::Complies),
            line(3, Some(-40.0), Outcome::Invalid),
            line(4, None, Outcome::Invalid),
        ];
        let result = VisitResult { lines, ..result(VisitOutcome::Invalid) };
        assert_eq!(result.highest_read().map(|line| line.order), Some(2));
        assert_eq!(result.looked_up_to(), Some(Hertz::from_mhz(290.0)));
    }

    #[test]
    fn nobody_is_named_without_leave() {
        let named = label("X1ABC", "1");
        assert!(named.in_public().is_empty());
        let agreed = named.corrected(&Label { publish: Some(true), ..Label::default() });
        let public = agreed.in_public();
        assert_eq!((public.call.as_deref(), public.serial), (Some("X1ABC"), None));
        assert_eq!(agreed.to_string(), "X1ABC, 1");
    }
}
