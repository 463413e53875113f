//! The occasion on which a fault may happen, and whether it suits the fault.

use std::time::Duration;

use spurline_clock::Moment;
use spurline_scpi::Response;

use super::program;
use super::words::is_number;
use crate::bench::{Befalls, Does, Fault};

/// What is the case when a message was taken, an answer is ready, or a connection is being made.
#[derive(Clone, Debug)]
pub(super) struct Sight<'a> {
    pub(super) now: Moment,
    /// Counts the occasions, for the draws: messages of the instrument, or its connections.
    pub(super) number: u64,
    /// The number of the connection, from 1.
    pub(super) connection: u64,
    pub(super) message: &'a [u8],
    pub(super) response: Option<&'a Response>,
    /// How long nothing had come over the connection.
    pub(super) idle: Duration,
    /// How long nothing had come to the instrument; `None` before the first message.
    pub(super) pause: Option<Duration>,
    /// Whether nothing was answered on the connection so far.
    pub(super) unanswered: bool,
}

impl Sight<'_> {
    /// Whether the fault has something to befall here.
    pub(super) fn suits(&self, fault: &Fault) -> bool {
        let named = fault.on.as_ref().is_none_or(|on| contains(self.message, on));
        let there = match fault.does.nature().befalls {
            Befalls::Answer => self.response.is_some(),
            Befalls::Block => self.response.is_some_and(has_block),
            Befalls::Number => self.response.is_some_and(has_number),
            Befalls::Message | Befalls::Work | Befalls::Connection => true,
            // These need no occasion.
            Befalls::Instrument | Befalls::Bytes => false,
        };
        named && there && self.suits_what_it_does(fault)
    }

    fn suits_what_it_does(&self, fault: &Fault) -> bool {
        match fault.does {
            Does::SlowReset => contains(self.message, "*RST"),
            Does::IdleDeath => self.idle > fault.by,
            Does::DeafWhenRushed => self.pause.is_some_and(|pause| pause < fault.by),
            Does::ShortInput => self.message.len() > fault.bytes,
            Does::SlowStart => self.unanswered,
            Does::OtherSerial => self.connection > 1 && contains(self.message, "*IDN?"),
            Does::ClippedSetting | Does::LateSettings => {
                program::units(self.message).iter().any(program::Unit::is_setting)
            }
            _ => true,
        }
    }
}

/// Whether a text in capitals stands in a message, in whatever case.
pub(super) fn contains(message: &[u8], capitals: &str) -> bool {
    message.windows(capitals.len()).any(|window| window.eq_ignore_ascii_case(capitals.as_bytes()))
}

fn has_block(response: &Response) -> bool {
    let mut elements = response.units.iter().flat_map(|unit| &unit.elements);
    elements.any(|element| matches!(element, spurline_scpi::Element::Block(_)))
}

fn has_number(response: &Response) -> bool {
    response.units.iter().any(|unit| super::words::is_measured(unit) && unit.elements.iter().any(is_number))
}
