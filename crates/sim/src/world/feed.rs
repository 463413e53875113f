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
    amplifier: Amplifier,
    /// What the amplifier draws at the unit's highest power, in amperes.
    full: f64,
    works_from: f64,
}

/// What a unit's last stage makes of its voltage.
#[derive(Clone, Copy, Debug)]
enum Amplifier {
    /// The same power and current at any voltage.
    Constant,
    /// A resistor: current goes with the voltage, and power with its square; full power at `nominal` volts.
    Resistor { nominal: f64 },
    /// A resistor behind a regulator, which takes what is above `from` volts: full power from there on.
    Regulated { from: f64 },
}

impl Amplifier {
    /// The volts that the last stage itself has when `unit` volts are at the unit, over those of full power.
    fn driven(self, unit: f64) -> f64 {
        match self {
            Self::Constant => 1.0,
            Self::Resistor { nominal } => unit / nominal,
            Self::Regulated { from } => (unit / from).min(1.0),
        }
    }

    /// The lowest voltage at the unit that gives full power.
    fn full_from(self, works_from: f64) -> f64 {
        match self {
            Self::Constant => works_from,
            Self::Resistor { nominal: from } | Self::Regulated { from } => from,
        }
    }
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
    pub(crate) unit: f64,
}

/// What a unit draws: keyed at full power, unless that takes more, and receiving.
const KEYED: f64 = 1.5;
const RECEIVING: f64 = 0.15;
/// The most that a last stage makes of what it takes: class C at a small angle of flow; common practice.
const MOST_EFFICIENT: f64 = 0.85;
/// A current above its limit by less than this is the limit.
const SAME: f64 = 1e-9;

impl Circuit {
    /// The circuit of a unit whose highest power is so many watts.
    pub(super) fn new(supply: &SupplyTruth, behaviour: &BehaviourTruth, works_from: f64, watts: f64) -> Self {
        let nominal = behaviour.nominal.get();
        let amplifier = match behaviour.regulated_above {
            _ if !behaviour.follows_supply => Amplifier::Constant,
            Some(from) => Amplifier::Regulated { from: from.get() },
            None => Amplifier::Resistor { nominal },
        };
        let least = watts / (MOST_EFFICIENT * amplifier.full_from(works_from));
        Self {
            cable: supply.cable.get(),
            senses_unit: supply.senses_unit,
            amplifier,
            full: least.max(KEYED - RECEIVING),
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
            let unit = feed.volts * feed.limit / RECEIVING - self.drop(feed.limit);
            return self.terminals(unit, feed.limit, true);
        }
        self.terminals(feed.volts - self.drop(RECEIVING), RECEIVING, false)
    }

    /// The circuit while the unit gives so much of its highest power as its supply makes of it, as a ratio of powers.
    pub(super) fn transmitting(&self, feed: Feed, part: f64) -> Terminals {
        if RECEIVING > feed.limit + SAME {
            return Terminals { unit: 0.0, ..self.resting(feed) };
        }
        let amperes = self.full * part.sqrt();
        let free = self.unlimited(feed, amperes);
        let settled =
            if free.current <= feed.limit + SAME { free } else { self.limited(feed.limit, amperes) };
        if settled.unit >= self.works_from {
            return settled;
        }
        if settled.is_limiting && feed.volts >= self.works_from + self.drop(feed.limit) {
            // It comes up and breaks down again and again, at the voltage that it just needs.
            return Terminals { unit: 0.0, ..self.terminals(self.works_from, feed.limit, true) };
        }
        Terminals { unit: 0.0, ..self.resting(feed) }
    }

    /// Where the line of supply and cable meets that of a unit whose amplifier draws so many amperes at full power.
    fn unlimited(&self, feed: Feed, amperes: f64) -> Terminals {
        let flat = || {
            let current = RECEIVING + amperes;
            self.terminals(feed.volts - self.drop(current), current, false)
        };
        let slope = |from: f64| {
            let siemens = amperes / from;
            let unit = (feed.volts - self.drop(RECEIVING)) / (1.0 + self.drop(siemens));
            self.terminals(unit, RECEIVING + siemens * unit.max(0.0), false)
        };
        match self.amplifier {
            Amplifier::Constant => flat(),
            Amplifier::Resistor { nominal } => slope(nominal),
            // Current never falls as the voltage rises, so that only one of both pieces is met.
            Amplifier::Regulated { from } if flat().unit >= from => flat(),
            Amplifier::Regulated { from } => slope(from),
        }
    }

    /// The same at the current limit.
    fn limited(&self, limit: f64, amperes: f64) -> Terminals {
        let unit = match self.amplifier {
            // Current that does not fall with the voltage pulls it down until the unit gives up.
            Amplifier::Constant => 0.0,
            Amplifier::Resistor { nominal: from } | Amplifier::Regulated { from } => {
                from * (limit - RECEIVING).max(0.0) / amperes
            }
        };
        self.terminals(unit, limit, true)
    }

    /// What the supply makes of the power of a setting that is so much of the highest, as a ratio; nothing if it
    /// cannot transmit.
    pub(super) fn drive(&self, feed: Feed, part: f64) -> Option<f64> {
        let unit = self.transmitting(feed, part).unit;
        (unit > 0.0).then(|| self.amplifier.driven(unit).powi(2))
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
