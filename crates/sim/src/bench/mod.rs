//! The truth of a simulated bench as its file states it: the node under `simulated:`.
//!
//! Only reading lives here; what follows from the truth is worked out elsewhere.

mod analyser;
mod audio_generator;
mod behaviour;
mod equipment;
mod fault;
mod generator;
mod hand;
mod identity;
mod inhibit;
mod key_line;
mod link;
mod microphone;
mod modulation;
mod path;
mod read;
mod spur;
mod stated;
mod surroundings;
mod unit;

use spurline_clock::Pace;
use spurline_document::{Node, Reader};

pub(crate) use analyser::{AnalyserTruth, ResponseTruth};
pub(crate) use audio_generator::AudioGeneratorTruth;
pub(crate) use behaviour::BehaviourTruth;
pub(crate) use equipment::{PowerMeterTruth, RelayTruth, SupplyTruth};
pub(crate) use fault::{Befalls, Does, Fault};
pub(crate) use generator::GeneratorTruth;
pub(crate) use hand::HandTruth;
pub(crate) use identity::Identity;
pub(crate) use inhibit::{Inhibit, Inhibited, Place};
pub(crate) use key_line::KeyLineTruth;
pub(crate) use link::{Busy, LinkTruth, Output};
pub(crate) use microphone::{Makes, MicrophoneTruth};
pub(crate) use modulation::{Depth, ModulationTruth, Swing};
pub(crate) use path::{Calibration, PartKind, PartTruth, PathTruth};
pub(crate) use spur::{Oscillator, OscillatorPlace, SpurPlace};
pub(crate) use stated::Stated;
pub(crate) use surroundings::{Ambient, LeakTruth};
pub(crate) use unit::UnitTruth;

use crate::draw::Seed;
use crate::role::Role;

/// A bench that exists only in this process: a unit, instruments and the path between them, all with known truth.
#[derive(Clone, Debug)]
pub struct SimulatedBench {
    pub(crate) seed: Seed,
    /// The seed of noise and joints, which are others at each visit to the same bench.
    pub(crate) of_visit: Seed,
    pace: Pace,
    pub(crate) units: Vec<UnitTruth>,
    pub(crate) analyser: Option<AnalyserTruth>,
    pub(crate) power_meter: Option<PowerMeterTruth>,
    pub(crate) supply: Option<SupplyTruth>,
    pub(crate) relay: Option<RelayTruth>,
    pub(crate) switch: Option<RelayTruth>,
    pub(crate) generator: Option<GeneratorTruth>,
    pub(crate) audio_generator: Option<AudioGeneratorTruth>,
    pub(crate) path: PathTruth,
    pub(crate) ambient: Vec<Ambient>,
    pub(crate) leak: Option<LeakTruth>,
    pub(crate) faults: Vec<Fault>,
    pub(crate) key_line: KeyLineTruth,
    pub(crate) hand: HandTruth,
    /// Where every change of the key is written, if it is.
    pub(crate) key_log: Option<std::path::PathBuf>,
}

impl SimulatedBench {
    /// Reads the node under `simulated:` of a bench file; every mistake is noted in `reader`.
    pub fn read(reader: &mut Reader, node: &Node) -> Option<Self> {
        let mut fields = reader.fields(node, "a simulated bench")?;
        let seed = fields.or(reader, "seed", read::count, 1);
        let visit = fields.or(reader, "visit", read::count, 0);
        let pace = fields.or(reader, "clock", read::pace, Pace::Fast);
        let units = fields.required(reader, "units").and_then(|node| UnitTruth::read_all(reader, node));
        let analyser = fields.maybe(reader, "analyser", AnalyserTruth::read);
        let power_meter = fields.maybe(reader, "power_meter", PowerMeterTruth::read);
        let supply = fields.maybe(reader, "supply", SupplyTruth::read);
        let relay = fields.maybe(reader, "relay", |r, n| RelayTruth::read(r, n, "R-0001"));
        let switch = fields.maybe(reader, "switch", |r, n| RelayTruth::read(r, n, "W-0001"));
        let generator = fields.maybe(reader, "generator", GeneratorTruth::read);
        let audio_generator = fields.maybe(reader, "audio_generator", AudioGeneratorTruth::read);
        let path = fields.or(reader, "path", PathTruth::read, PathTruth::default());
        let ambient = fields.or(reader, "ambient", Ambient::read_all, Vec::new());
        let leak = fields.maybe(reader, "leak", LeakTruth::read);
        let faults = fields.or(reader, "faults", Fault::read_all, Vec::new());
        let key_line = fields.or(reader, "key_line", KeyLineTruth::read, KeyLineTruth::default());
        let hand = fields.or(reader, "hand", HandTruth::read, HandTruth::default());
        let key_log = fields.maybe(reader, "key_log", key_line::log);
        fields.close(reader);
        let (seed, pace, units) = (Seed(u64::from(seed?)), pace?, units?);
        let of_visit = seed.of_visit(visit?);
        let (analyser, power_meter, supply, relay) = (analyser?, power_meter?, supply?, relay?);
        let (switch, path, ambient, leak, faults) = (switch?, path?, ambient?, leak?, faults?);
        let (generator, audio_generator) = (generator?, audio_generator?);
        let (key_line, key_log, hand) = (key_line?, key_log?, hand?);
        let channels = switch.as_ref().map_or(0, |card| card.channels);
        if let Some(part) = path.parts().find(|part| part.contact.is_some_and(|contact| contact > channels)) {
            reader
                .mistake(node.span, format!("nothing switches the part `{}`", part.name))
                .hint("give the simulated bench a `switch` with as many channels");
            return None;
        }
        Some(Self {
            seed,
            of_visit,
            pace,
            units,
            analyser,
            power_meter,
            supply,
            relay,
            switch,
            generator,
            audio_generator,
            path,
            ambient,
            leak,
            faults,
            key_line,
            hand,
            key_log,
        })
    }

    /// The seed that all draws come from.
    #[must_use]
    pub fn seed(&self) -> u64 {
        self.seed.0
    }

    /// How time passes on this bench.
    #[must_use]
    pub fn pace(&self) -> Pace {
        self.pace
    }

    /// The labels of all units that may be at the connector.
    pub fn units(&self) -> impl Iterator<Item = UnitLabel<'_>> {
        self.units.iter().map(UnitTruth::label)
    }

    /// Connects the unit of a serial number, before the bench is served; `false` if there is none.
    pub fn connect_unit(&mut self, serial: &str) -> bool {
        let found = self.units.iter().position(|unit| unit.identity.serial.eq_ignore_ascii_case(serial));
        if let Some(place) = found {
            self.units.swap(0, place);
        }
        found.is_some()
    }

    /// What stands on the label of the unit.
    #[must_use]
    pub fn unit(&self) -> UnitLabel<'_> {
        self.first_unit().label()
    }

    /// Whether the bench has what this role needs.
    #[must_use]
    pub fn has(&self, role: Role) -> bool {
        match role {
            Role::Analyser => self.analyser.is_some(),
            Role::PowerMeter => self.power_meter.is_some(),
            Role::Supply => self.supply.is_some(),
            Role::Relay => self.relay.is_some(),
            Role::UnitControl => true,
            Role::Switch => self.switch.is_some(),
            Role::Generator => self.generator.is_some(),
            Role::AudioGenerator => self.audio_generator.is_some(),
        }
    }

    /// How an instrument takes its clients.
    pub(crate) fn link(&self, role: Role) -> LinkTruth {
        let card = |card: &Option<RelayTruth>| card.as_ref().map(|card| card.link);
        let stated = match role {
            Role::Analyser => self.analyser.as_ref().map(|analyser| analyser.link),
            Role::PowerMeter => self.power_meter.as_ref().map(|meter| meter.link),
            Role::Supply => self.supply.as_ref().map(|supply| supply.link),
            Role::Relay => card(&self.relay),
            Role::UnitControl => Some(self.first_unit().link),
            Role::Switch => card(&self.switch),
            Role::Generator => self.generator.as_ref().map(|generator| generator.link),
            Role::AudioGenerator => self.audio_generator.as_ref().map(|generator| generator.link),
        };
        stated.unwrap_or_default()
    }

    pub(crate) fn first_unit(&self) -> &UnitTruth {
        self.units.first().expect("reading refuses a bench without units")
    }
}

/// What stands on a unit's label.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct UnitLabel<'b> {
    /// Its model.
    pub model: &'b str,
    /// Its serial number.
    pub serial: &'b str,
    /// The firmware that runs in it.
    pub firmware: &'b str,
}

#[cfg(test)]
pub(crate) use analyser::{AheadTruth, ImageTruth, Residual, stated};

#[cfg(test)]
pub(crate) mod tests;
