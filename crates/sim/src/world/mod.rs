//! What is true on the bench at every moment: one timeline of key, tuning, power setting and supply, and what
//! follows from it at each instrument's port.
//!
//! Instruments change it and look at it; it knows neither SCPI nor sockets.

mod part;
mod timeline;
mod unit;

use std::sync::{Mutex, MutexGuard, PoisonError};

use num_complex::Complex64;
use spurline_clock::Moment;
use spurline_units::{Amperes, Hertz, Seconds, Volts};

pub(crate) use part::Part;
pub(crate) use unit::{Emission, Setting};

use crate::bench::SimulatedBench;
use crate::observed::Observations;
use crate::physics::detector::Line;
use crate::physics::reflection::Reflection;
use crate::physics::two_port::TwoPort;
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
    damaged: Option<Moment>,
}

/// The closed contacts of the switch card, counted from 1.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) struct Contacts(u64);

impl Contacts {
    fn with(self, contact: u32, closed: bool) -> Self {
        let bit = 1u64 << (contact - 1);
        Self(if closed { self.0 | bit } else { self.0 & !bit })
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
            state: Mutex::new(State {
                key: Timeline::new(false),
                setting: Timeline::new(unit.initial_setting()),
                // Without a supply on the bench the unit runs on its battery.
                powered: Timeline::new(bench.supply.is_none()),
                contacts: Timeline::new(Contacts::default()),
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

    /// Which contacts of the switch card are closed.
    pub(crate) fn contacts(&self, at: Moment) -> Contacts {
        *self.state().contacts.at(at)
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
        let emitted = emission.map_or_else(Vec::new, |emission| self.unit.lines(emission));
        let carrier = emission.map(|emission| emission.setting.carrier);
        let arriving = emitted.into_iter().map(|line| {
            let source = self.unit.source(line.frequency, carrier == Some(line.frequency));
            Line { power: line.power * way.transfer(line.frequency, source, contacts), ..line }
        });
        arriving.chain(ambient.iter().copied()).collect()
    }

    /// Every moment after `from` and up to `to` at which the unit's emission or the path may have changed.
    pub(crate) fn changes(&self, from: Moment, to: Moment) -> Vec<Moment> {
        let State { key, setting, powered, contacts, .. } = &*self.state();
        let unit = key.changes(from, to).chain(setting.changes(from, to)).chain(powered.changes(from, to));
        let all = unit.chain(contacts.changes(from, to));
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
        let parts =
            self.parts.iter().filter(|part| part.contact().is_none_or(|contact| contacts.closed(contact)));
        let whole = parts.fold(TwoPort::THROUGH, |chain, part| chain.then(&part.at(frequency)));
        whole.transfer(source, self.load.at(frequency))
    }
}

#[cfg(test)]
mod tests;
