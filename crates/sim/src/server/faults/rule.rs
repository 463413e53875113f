//! One fault while the bench is served: when it happens, how often, and whether it is over.

use std::time::Duration;

use rand::RngExt;
use spurline_clock::Moment;

use super::sight::Sight;
use crate::bench::{Befalls, Does, Fault};
use crate::draw::{Draws, Seed};

/// A fault and what became of it so far.
#[derive(Debug)]
pub(super) struct Rule {
    fault: Fault,
    /// The name of its stream of draws.
    purpose: String,
    /// Messages taken, since it last began if it is a state.
    messages: u64,
    /// Connections made, since it last began.
    connections: u64,
    happened: u64,
    /// When it first could happen; of a state: when it last began.
    since: Option<Moment>,
}

/// A fault that happens now.
#[derive(Debug)]
pub(super) struct Act {
    pub(super) does: Does,
    pub(super) on: Option<String>,
    pub(super) by: Duration,
    pub(super) bytes: usize,
    pub(super) count: u32,
    /// For what of it is left to chance.
    pub(super) draws: Draws,
}

impl Rule {
    /// The fault at this place in the file, on an instrument that is switched on `now`.
    pub(super) fn new(fault: Fault, place: usize, now: Moment) -> Self {
        let purpose = format!("fault {place} of the {}", fault.instrument);
        let mut rule = Self { fault, purpose, messages: 0, connections: 0, happened: 0, since: None };
        rule.begin_if_due(now);
        rule
    }

    pub(super) fn fault(&self) -> &Fault {
        &self.fault
    }

    /// Notes that a message was taken.
    pub(super) fn count_message(&mut self, now: Moment) {
        self.messages += 1;
        self.begin_if_due(now);
    }

    /// Notes that a connection was made.
    pub(super) fn count_connection(&mut self) {
        self.connections += 1;
    }

    /// What needs no occasion begins once the instrument has taken its messages.
    fn begin_if_due(&mut self, now: Moment) {
        let needs_no_occasion =
            matches!(self.fault.does.nature().befalls, Befalls::Instrument | Befalls::Bytes);
        if needs_no_occasion && self.since.is_none() && self.messages >= self.fault.after_messages {
            self.since = Some(now);
        }
    }

    /// Until when it lasts, once it has begun.
    pub(super) fn ends(&self) -> Option<Moment> {
        self.since.zip(self.fault.lasts).map(|(since, span)| since.after(span))
    }

    /// Whether it has begun and is not over.
    pub(super) fn stands(&self, now: Moment) -> bool {
        self.since.is_some() && self.ends().is_none_or(|end| now < end)
    }

    /// What happens on this occasion, if it happens.
    pub(super) fn happens(&mut self, seed: Seed, sight: &Sight<'_>) -> Option<Act> {
        let fault = &self.fault;
        let messages = match fault.does.nature().befalls {
            Befalls::Connection => self.messages + 1,
            _ => self.messages,
        };
        let slots_left = fault.does == Does::SlotLeak && self.connections <= u64::from(fault.count);
        if messages <= fault.after_messages || slots_left || !sight.suits(fault) {
            return None;
        }
        let is_state = is_state(fault.does);
        if is_state && self.stands(sight.now) || fault.times.is_some_and(|times| self.happened >= times) {
            return None;
        }
        if !is_state {
            self.since.get_or_insert(sight.now);
            if !self.stands(sight.now) {
                return None;
            }
        }
        let fault = &self.fault;
        let mut draws = seed.stream(&self.purpose, sight.number);
        if fault.chance < 1.0 && draws.random::<f64>() >= fault.chance {
            return None;
        }
        let act = Act {
            does: fault.does,
            on: fault.on.clone(),
            by: fault.by,
            bytes: fault.bytes,
            count: fault.count,
            draws,
        };
        self.happened += 1;
        if is_state {
            (self.since, self.messages, self.connections) = (Some(sight.now), 0, 0);
        }
        Some(act)
    }
}

/// Whether the fault, once begun, is there for all that comes, whatever began it.
fn is_state(does: Does) -> bool {
    matches!(does, Does::CutLink | Does::MuteLink | Does::Unplugged | Does::PowerCycle | Does::SlotLeak)
}
