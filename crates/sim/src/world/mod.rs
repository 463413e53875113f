//! What is true on the bench at every moment: one timeline of key, tuning, power setting and supply, and what
//! follows from it at each instrument's port.
//!
//! Instruments change it and look at it; it knows neither SCPI nor sockets.

mod generator;
mod part;
mod timeline;
mod unit;

use std::sync::{Mutex, MutexGuard, PoisonError};

use num_complex::Complex64;
use spurline_clock::Moment;
use spurline_units::{Amperes, Hertz, Seconds, Volts};

pub use generator::Connected;
pub(crate) use generator::Tone;
pub(crate) use part::Part;
pub(crate) use unit::{Emission, Setting};

use crate::bench::SimulatedBench;
use crate::observed::Observations;
use crate::physics::detector::Line;
use crate::physics::reflection::Reflection;
use crate::physics::two_port::TwoPort;
use generator::Generator;
use timeline::Timeline;
use unit::Unit;

/// Where an instrument meets the path.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Port {
    Analyser,
    PowerMeter,
}

/// The bench while it is being served.
#[derive(Debug)]
pub(crate) struct World {
    started: Moment,
    unit: Unit,
    to_analyser: Way,
    to_power_meter: Way,
    /// Lines at the analyser's input that the unit has nothing to do with.
    ambient: Vec<Line>,
    generator: Option<Generator>,
    state: Mutex<State>,
}

/// The parts to one port and the match of the instrument there.
#[derive(Debug)]
struct Way {
    parts: Vec<Part>,
    load: Reflection,
}

#[derive(Debug)]
struct State {
    /// Whether the contact on the unit's key line is closed.
    key: Timeline<bool>,
    setting: Timeline<Setting>,
    /// Whether the unit has the voltage and the current that it needs to transmit.
    powered: Timeline<bool>,
    /// The closed contacts of the switch card.
    contacts: Timeline<Contacts>,
    /// The line that the generator gives, while its output is on.
    tone: Timeline<Option<Tone>>,
    connected: Timeline<Connected>,
    damaged: Option<Moment>,
}

/// How the path is switched, and what is connected at its beginning beside the unit.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Contacts {
    /// The closed contacts of the switch card, counted from 1, one bit each.
    closed: u64,
    connected: Connected,
    tone: Option<Tone>,
}

impl Contacts {
    fn with(self, contact: u32, closed: bool) -> Self {
        let bit = 1u64 << (contact - 1);
        Self { closed: if closed { self.closed | bit } else { self.closed & !bit }, ..self }
    }

    fn closed(self, contact: u32) -> bool {
        self.with(contact, true) == self
    }
}

/// What a unit draws: keyed at full power, and receiving.
const DRAW_KEYED: f64 = 1.5;
const DRAW_RECEIVING: f64 = 0.15;

impl World {
    /// The bench at `now`: key up, tuned to the lower end of its range, at its first power setting.
    pub(crate) fn new(bench: &SimulatedBench, now: Moment) -> Self {
        let seed = bench.seed;
        let way = |branch: &[_], name: &str, vswr: f64| Way {
            parts: bench.path.common.iter().chain(branch).map(|part| Part::build(seed, part)).collect(),
            load: Reflection::draw(seed, &format!("{name} input"), vswr),
        };
        let analyser_vswr = bench.analyser.as_ref().map_or(1.0, |a| a.vswr);
        let meter_vswr = bench.power_meter.as_ref().map_or(1.0, |p| p.vswr);
        let ambient =
            bench.ambient.iter().map(|a| Line { frequency: a.frequency, power: a.level.to_watts() });
        let unit = Unit::new(bench.first_unit().clone(), seed);
        Self {
            started: now,
            to_analyser: way(&bench.path.analyser, "analyser", analyser_vswr),
            to_power_meter: way(&bench.path.power_meter, "power meter", meter_vswr),
            ambient: ambient.collect(),
            generator: bench.generator.as_ref().map(|truth| Generator::new(truth, seed)),
            state: Mutex::new(State {
                key: Timeline::new(false),
                setting: Timeline::new(unit.initial_setting()),
                // Without a supply on the bench the unit runs on its battery.
                powered: Timeline::new(bench.supply.is_none()),
                contacts: Timeline::new(Contacts::default()),
                tone: Timeline::new(None),
                connected: Timeline::new(Connected::Unit),
                damaged: None,
            }),
            unit,
        }
    }

    fn state(&self) -> MutexGuard<'_, State> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// What the unit can be tuned and set to.
    pub(crate) fn unit(&self) -> &Unit {
        &self.unit
    }

    /// The unit's tuning and power setting.
    pub(crate) fn setting(&self, at: Moment) -> Setting {
        *self.state().setting.at(at)
    }

    /// Tunes the unit.
    pub(crate) fn tune(&self, now: Moment, carrier: Hertz) {
        let mut state = self.state();
        let setting = Setting { carrier, ..*state.setting.at(now) };
        state.setting.set(now, setting);
    }

    /// Chooses one of the unit's power settings by its place in the list.
    pub(crate) fn choose_power(&self, now: Moment, power: usize) {
        let mut state = self.state();
        let setting = Setting { power, ..*state.setting.at(now) };
        state.setting.set(now, setting);
    }

    /// Closes or opens the contact on the key line; closed, it opens by itself after `opens_after`.
    pub(crate) fn set_key(&self, now: Moment, closed: bool, opens_after: Option<Seconds>) {
        let mut state = self.state();
        state.key.set(now, closed);
        if let (true, Some(span)) = (closed, opens_after) {
            state.key.set_later(now.after(span.duration()), false);
        }
    }

    /// Closes or opens a contact of the switch card.
    pub(crate) fn set_contact(&self, now: Moment, contact: u32, closed: bool, opens_after: Option<Seconds>) {
        let mut state = self.state();
        let contacts = *state.contacts.at(now);
        state.contacts.set(now, contacts.with(contact, closed));
        if let (true, Some(span)) = (closed, opens_after) {
            state.contacts.set_later(now.after(span.duration()), contacts.with(contact, false));
        }
    }

    /// Which contacts of the switch card are closed, what is connected, and what the generator gives.
    pub(crate) fn contacts(&self, at: Moment) -> Contacts {
        let state = self.state();
        Contacts { connected: *state.connected.at(at), tone: *state.tone.at(at), ..*state.contacts.at(at) }
    }

    /// Has the generator give a line, or none.
    pub(crate) fn set_tone(&self, now: Moment, tone: Option<Tone>) {
        self.state().tone.set(now, tone);
    }

    /// Connects something where the unit's connector is.
    pub(crate) fn connect(&self, now: Moment, connected: Connected) {
        self.state().connected.set(now, connected);
    }

    /// Tells the unit what its supply gives.
    pub(crate) fn set_supply(&self, now: Moment, voltage: Volts, limit: Amperes) {
        let powered = voltage >= self.unit.truth.works_from && limit.get() >= DRAW_KEYED;
        self.state().powered.set(now, powered);
    }

    /// The current that the unit draws from a supply that is on.
    pub(crate) fn draw(&self, at: Moment) -> Amperes {
        let share = self.emission(at).map_or(0.0, |emission| emission.share);
        let power = self.setting(at).power;
        let of_full = self.unit.power(power) / self.unit.highest_power();
        Amperes::new(DRAW_RECEIVING + (DRAW_KEYED - DRAW_RECEIVING) * (share * of_full).sqrt())
    }

    /// What the unit emits at a moment; nothing while it does not transmit.
    pub(crate) fn emission(&self, at: Moment) -> Option<Emission> {
        let state = self.state();
        if !*state.key.at(at) || !*state.powered.at(at) {
            return None;
        }
        let since = state.key.since(at).max(state.powered.since(at))?;
        Some(Emission { setting: *state.setting.at(at), share: self.unit.share(at.since(since)) })
    }

    /// The lines that reach a port: the unit's through the path as it is switched, and at the analyser the ambient
    /// ones.
    pub(crate) fn lines(&self, port: Port, emission: Option<Emission>, contacts: Contacts) -> Vec<Line> {
        let (way, ambient) = match port {
            Port::Analyser => (&self.to_analyser, self.ambient.as_slice()),
            Port::PowerMeter => (&self.to_power_meter, [].as_slice()),
        };
        let arrives = if contacts.connected == Connected::Generator { None } else { emission };
        let emitted = arrives.map_or_else(Vec::new, |emission| self.unit.lines(emission));
        let unit_loss = self.unit_loss(contacts);
        let carrier = emission.map(|emission| emission.setting.carrier);
        let arriving = emitted.into_iter().map(|line| {
            let source = self.unit.source(line.frequency, carrier == Some(line.frequency));
            Line { power: line.power * (way.transfer(line.frequency, source, contacts) * unit_loss), ..line }
        });
        let known = self.known_lines(way, contacts);
        arriving.chain(known).chain(ambient.iter().copied()).collect()
    }

    /// What a combiner leaves of the unit's power.
    fn unit_loss(&self, contacts: Contacts) -> f64 {
        let combiner = self.generator.as_ref().filter(|_| contacts.connected == Connected::Both);
        combiner.map_or(1.0, |generator| (-generator.unit_loss).amplitude_ratio().powi(2))
    }

    /// The generator's lines through what lies before the path, and through the path.
    fn known_lines(&self, way: &Way, contacts: Contacts) -> Vec<Line> {
        let giving = self.generator.as_ref().zip(contacts.tone);
        let Some((generator, tone)) = giving.filter(|_| contacts.connected != Connected::Unit) else {
            return Vec::new();
        };
        let arriving = generator.lines(tone).map(|line| {
            let source = generator.source(line.frequency);
            let share = way.transfer_behind(&generator.through, line.frequency, source, contacts);
            Line { power: line.power * share, ..line }
        });
        arriving.collect()
    }

    /// Every moment after `from` and up to `to` at which the unit's emission or the path may have changed.
    pub(crate) fn changes(&self, from: Moment, to: Moment) -> Vec<Moment> {
        let State { key, setting, powered, contacts, tone, connected, .. } = &*self.state();
        let unit = key.changes(from, to).chain(setting.changes(from, to)).chain(powered.changes(from, to));
        let known = tone.changes(from, to).chain(connected.changes(from, to));
        let all = unit.chain(contacts.changes(from, to)).chain(known);
        let mut moments: Vec<Moment> = all.collect();
        moments.sort_unstable();
        moments
    }

    /// Whether the analyser's input was broken at a moment.
    pub(crate) fn is_damaged(&self, at: Moment) -> bool {
        self.state().damaged.is_some_and(|since| since <= at)
    }

    /// Remembers that the analyser's input broke.
    pub(crate) fn damage(&self, at: Moment) {
        self.state().damaged.get_or_insert(at);
    }

    /// What happened so far.
    pub(crate) fn observed(&self, now: Moment) -> Observations {
        let state = self.state();
        let key = state.key.history(now).map(|(at, closed)| (at.since(self.started), closed)).collect();
        let damaged = state.damaged.map(|at| at.since(self.started));
        let keyed = *state.key.at(now);
        drop(state);
        let transmitting = self.emission(now).is_some();
        Observations::new(now.since(self.started), key, keyed, transmitting, damaged)
    }
}

impl Way {
    fn transfer(&self, frequency: Hertz, source: Complex64, contacts: Contacts) -> f64 {
        self.transfer_behind(&[], frequency, source, contacts)
    }

    /// The same for a source with parts of its own before the first of the path.
    fn transfer_behind(
        &self,
        before: &[Part],
        frequency: Hertz,
        source: Complex64,
        contacts: Contacts,
    ) -> f64 {
        let switched =
            self.parts.iter().filter(|part| part.contact().is_none_or(|contact| contacts.closed(contact)));
        let whole = before
            .iter()
            .chain(switched)
            .fold(TwoPort::THROUGH, |chain, part| chain.then(&part.at(frequency)));
        whole.transfer(source, self.load.at(frequency))
    }
}

#[cfg(test)]
mod tests;
