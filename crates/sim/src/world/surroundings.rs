//! How everything around the unit stands at a moment: switched contacts, the warmth of the path, others on the air.

use std::time::Duration;

use super::generator::{Connected, Tone};
use crate::bench::Ambient;
use crate::physics::line::Line;

/// How everything around the unit stands; what is emitted and this make up the lines at a port.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Contacts {
    /// The closed contacts of the switch card, the first in the lowest bit.
    closed: u64,
    /// Those of the passing signals that are there, in the order of the file.
    passing: u64,
    /// How warm the path is, in steps.
    heat: u16,
    /// What is where the unit's connector is.
    pub(super) connected: Connected,
    /// How often something was connected there.
    pub(super) made: u32,
    /// The line that the generator gives.
    pub(super) tone: Option<Tone>,
    /// How far its level has moved, in steps.
    pub(super) drifted: i32,
}

/// From cold to the warmest; a part that then loses 1 dB more does it in steps of a thousandth.
const HEAT_STEPS: f64 = 1000.0;

impl Contacts {
    /// Nothing is switched, nobody else is there.
    pub(super) fn with((connected, made): (Connected, u32), tone: Option<Tone>) -> Self {
        Self { connected, made, tone, ..Self::default() }
    }

    /// The contact counts from 1.
    pub(super) fn close(&mut self, contact: u32) {
        self.closed |= 1u64 << (contact - 1);
    }

    pub(super) fn closed(self, contact: u32) -> bool {
        self.closed & (1u64 << (contact - 1)) != 0
    }

    /// `heat` is from 0 to 1.
    pub(super) fn warm(&mut self, heat: f64) {
        self.heat = (heat * HEAT_STEPS).round() as u16;
    }

    pub(super) fn heat(self) -> f64 {
        f64::from(self.heat) / HEAT_STEPS
    }

    /// As far as the unit's lines on the path are concerned.
    pub(super) fn without_others(self) -> Self {
        Self { passing: 0, tone: None, drifted: 0, ..self }
    }
}

/// The signals of others at the analyser's input.
#[derive(Clone, Debug)]
pub(super) struct Others {
    signals: Vec<Ambient>,
    /// Those of them that come and go.
    passing: Vec<Ambient>,
}

impl Others {
    pub(super) fn new(signals: Vec<Ambient>) -> Self {
        let passing = signals.iter().filter(|signal| signal.is_passing()).cloned().collect();
        Self { signals, passing }
    }

    /// Marks those that are there some time after the bench started.
    pub(super) fn mark(&self, contacts: &mut Contacts, age: Duration, keyed: bool) {
        let age = age.as_secs_f64();
        for (place, signal) in self.passing.iter().enumerate() {
            let there = signal.from.get() <= age
                && signal.until.is_none_or(|until| age < until.get())
                && (keyed || !signal.only_while_keyed);
            contacts.passing |= u64::from(there) << place;
        }
    }

    /// The lines of those that are there.
    pub(super) fn lines(&self, contacts: Contacts) -> impl Iterator<Item = Line> + '_ {
        let mut place = 0;
        let there = self.signals.iter().filter(move |signal| {
            if !signal.is_passing() {
                return true;
            }
            place += 1;
            contacts.passing & (1u64 << (place - 1)) != 0
        });
        there.map(|signal| Line::bare(signal.frequency, signal.level.to_watts()))
    }

    /// When one comes or goes by the clock, since the bench started.
    pub(super) fn changes(&self) -> impl Iterator<Item = Duration> + '_ {
        let ends = |signal: &Ambient| [Some(signal.from), signal.until];
        self.signals.iter().flat_map(ends).flatten().map(|at| at.duration())
    }
}
