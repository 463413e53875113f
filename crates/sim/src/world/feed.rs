//! What a supply and its cable give to the unit that hangs on them.

use crate::bench::{BehaviourTruth, SupplyTruth};

/// How a supply is set.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Feed {
    /// Zero while the output is off.
    pub(crate) volts: f64,
    /// The limit of the current, in amperes.
    pub(crate) limit: f64,
}

/// Supply, cable and unit together.
#[derive(Clone, Copy, Debug)]
pub(super) struct Circuit {
    /// Ohms of both wires.
    cable: f64,
    /// Whether the supply holds the voltage at the unit.
    senses_unit: bool,
    /// The voltage of full power, if power goes with the voltage.
    nominal: Option<f64>,
    works_from: f64,
}

/// What is there in the end.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Terminals {
    /// Volts where the supply senses them.
    pub(crate) sensed: f64,
    /// Amperes.
    pub(crate) current: f64,
    /// Whether the current limit holds.
    pub(crate) is_limiting: bool,
    /// Volts at the unit.
    unit: f64,
}

/// What a unit draws: keyed at full power, and receiving.
const KEYED: f64 = 1.5;
const RECEIVING: f64 = 0.15;
/// A current above its limit by less than this is the limit.
const SAME: f64 = 1e-9;

impl Circuit {
    pub(super) fn new(supply: &SupplyTruth, behaviour: &BehaviourTruth, works_from: f64) -> Self {
        Self {
            cable: supply.cable.get(),
            senses_unit: supply.senses_unit,
            nominal: behaviour.follows_supply.then(|| behaviour.nominal.get()),
            works_from,
        }
    }

    /// The circuit while the unit does not transmit.
    pub(super) fn resting(&self, feed: Feed) -> Terminals {
        if feed.volts <= 0.0 {
            return Terminals::default();
        }
        if RECEIVING > feed.limit + SAME {
            // It starves: less current at less voltage.
            let unit = feed.volts * feed.limit / RECEIVING;
            return self.terminals(unit, feed.limit, true);
        }
        self.terminals(feed.volts - self.drop(RECEIVING), RECEIVING, false)
    }

    /// The circuit while the unit gives `full` of its highest power at its nominal voltage, as a ratio of powers, and
    /// `share` of what it could: as it comes up, less.
    pub(super) fn transmitting(&self, feed: Feed, full: f64, share: f64) -> Terminals {
        let amplifier = (KEYED - RECEIVING) * full.sqrt();
        let wanted = match self.nominal {
            // The amplifier is a resistor: amplifier / nominal amperes a volt.
            Some(nominal) => {
                let siemens = amplifier / nominal;
                let unit = (feed.volts - self.drop(RECEIVING)) / (1.0 + self.drop(siemens));
                self.terminals(unit, RECEIVING + siemens * unit.max(0.0), false)
            }
            None => {
                let current = RECEIVING + amplifier;
                self.terminals(feed.volts - self.drop(current), current, false)
            }
        };
        let settled = match self.nominal {
            _ if wanted.current <= feed.limit + SAME => wanted,
            Some(nominal) => {
                let unit = nominal * (feed.limit - RECEIVING).max(0.0) / amplifier;
                self.terminals(unit, feed.limit, true)
            }
            // Current that does not fall with the voltage pulls it down until the unit gives up.
            None => self.terminals(0.0, feed.limit, true),
        };
        if settled.unit >= self.works_from {
            let current = RECEIVING + (settled.current - RECEIVING) * share.sqrt();
            return Terminals { current, ..settled };
        }
        if settled.is_limiting && feed.volts >= self.works_from {
            // It comes up and breaks down again and again, at the voltage that it just needs.
            return Terminals { unit: 0.0, ..self.terminals(self.works_from, feed.limit, true) };
        }
        Terminals { unit: 0.0, ..self.resting(feed) }
    }

    /// What `transmitting` says of the power: as a ratio to that at the nominal voltage, nothing if it cannot.
    pub(super) fn drive(&self, feed: Feed, full: f64) -> Option<f64> {
        let unit = self.transmitting(feed, full, 1.0).unit;
        (unit > 0.0).then(|| self.nominal.map_or(1.0, |nominal| (unit / nominal).powi(2)))
    }

    /// Whether the voltage is enough to work at all.
    pub(super) fn works(&self, feed: Feed) -> bool {
        self.resting(feed).unit >= self.works_from
    }

    /// The voltage that the cable takes from the unit at a current.
    fn drop(&self, current: f64) -> f64 {
        if self.senses_unit { 0.0 } else { self.cable * current }
    }

    fn terminals(&self, unit: f64, current: f64, is_limiting: bool) -> Terminals {
        Terminals { sensed: unit + self.drop(current), current, is_limiting, unit }
    }
}

#[cfg(test)]
mod tests;
