//! What is true on the bench at every moment: one timeline of key, tuning, power setting and supply, and what
//! follows from it at each instrument's port.
//!
//! Instruments change it and look at it; it knows neither SCPI nor sockets.

mod feed;
mod generator;
mod key;
mod leak;
mod log;
mod microphone;
mod part;
mod spectrum;
mod surroundings;
mod timeline;
mod unit;
mod view;
mod way;

use std::sync::{Mutex, MutexGuard, PoisonError};

use spurline_clock::Moment;
use spurline_units::{Amperes, Hertz, Seconds, Volts};

pub(crate) use feed::Terminals;
pub(crate) use generator::Tone;
pub use generator::{Connected, End, Section};
pub(crate) use key::KeyChange;
pub(crate) use microphone::{Audio, Voice};
pub(crate) use part::Part;
pub(crate) use spectrum::Side;
pub(crate) use surroundings::Contacts;
pub(crate) use unit::{Emission, Setting};

use crate::bench::{PartTruth, SimulatedBench};
use crate::draw::Seed;
use crate::observed::Observations;
use crate::physics::reflection::Reflection;
use feed::{Circuit, Feed};
use generator::Generator;
use leak::Leak;
use log::{Laws, Log};
use surroundings::Others;
use timeline::Timeline;
use unit::Unit;
use way::Way;

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
    of_visit: Seed,
    unit: Unit,
    laws: Laws,
    /// What feeds the unit; without it, its battery does.
    circuit: Option<Circuit>,
    to_analyser: Way,
    to_power_meter: Way,
    /// The contacts of the switch card that bring a part in.
    used: Vec<u32>,
    /// Whether a part loses more when it is warm.
    heats: bool,
    /// Lines at the analyser's input that the unit has nothing to do with.
    others: Others,
    leak: Option<Leak>,
    generator: Option<Generator>,
    state: Mutex<State>,
}

#[derive(Debug)]
struct State {
    /// Whether the contact on the unit's key line is closed.
    key: Timeline<bool>,
    /// Who is told of its changes.
    teller: key::Teller,
    setting: Timeline<Setting>,
    feed: Timeline<Feed>,
    /// Whether the unit would transmit if it were keyed.
    ready: Timeline<bool>,
    log: Log,
    /// Each contact of the switch card, the first one first: one that opens by itself leaves the others alone.
    contacts: Vec<Timeline<bool>>,
    /// The line that the generator gives, while its output is on.
    tone: Timeline<Option<Tone>>,
    /// What is where the unit's connector is, and how often something was connected there.
    connected: Timeline<(Connected, u32)>,
    /// The tone at the unit's microphone input.
    audio: Timeline<Option<Audio>>,
    damaged: Option<Moment>,
}

/// As many contacts as a switch card may have.
const MOST_CONTACTS: usize = 64;

impl World {
    /// The bench at `now`: key up, tuned to the lower end of its range, at its first power setting. A supply that keys the
    /// unit does not feed it.
    pub(crate) fn new(bench: &SimulatedBench, supply_keys: bool, now: Moment) -> Self {
        let seed = bench.seed;
        let way = |branch: &[PartTruth], name: &str, vswr: f64| {
            let parts = bench.path.common.iter().chain(branch);
            let parts = parts.map(|part| Part::build(seed, part).reconnected(bench.of_visit)).collect();
            Way::new(parts, Reflection::draw(seed, &format!("{name} input"), vswr))
        };
        let analyser_vswr = bench.analyser.as_ref().map_or(1.0, |a| a.vswr);
        let meter_vswr = bench.power_meter.as_ref().map_or(1.0, |p| p.vswr);
        let to_analyser = way(&bench.path.analyser, "analyser", analyser_vswr);
        let to_power_meter = way(&bench.path.power_meter, "power meter", meter_vswr);
        let parts = || to_analyser.parts().iter().chain(to_power_meter.parts());
        let mut used: Vec<u32> = parts().filter_map(Part::contact).collect();
        used.sort_unstable();
        used.dedup();
        let unit = Unit::new(bench.first_unit().clone(), seed);
        let truth = &unit.truth;
        let circuit = bench.supply.as_ref().filter(|_| !supply_keys).map(|supply| {
            Circuit::new(supply, &truth.behaviour, truth.works_from.get(), unit.highest_power().get())
        });
        let ready = circuit.is_none() && unit.may_transmit(unit.initial_setting());
        Self {
            started: now,
            of_visit: bench.of_visit,
            laws: unit.laws(),
            circuit,
            heats: parts().any(Part::heats),
            to_analyser,
            to_power_meter,
            used,
            others: Others::new(bench.ambient.clone()),
            leak: bench.leak.clone().map(|leak| Leak::new(leak, seed)),
            generator: bench.generator.as_ref().map(|truth| Generator::new(truth, seed)),
            state: Mutex::new(State {
                key: Timeline::new(false),
                teller: key::Teller::default(),
                setting: Timeline::new(unit.initial_setting()),
                feed: Timeline::new(Feed { volts: 0.0, limit: 0.0 }),
                ready: Timeline::new(ready),
                log: Log::default(),
                contacts: vec![Timeline::new(false); MOST_CONTACTS],
                tone: Timeline::new(None),
                connected: Timeline::new((Connected::Unit, 0)),
                audio: Timeline::new(None),
                damaged: None,
            }),
            unit,
        }
    }

    fn state(&self) -> MutexGuard<'_, State> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// When the bench started.
    pub(crate) fn started(&self) -> Moment {
        self.started
    }

    /// The seed of what noise does at this visit to the bench.
    pub(crate) fn of_visit(&self) -> Seed {
        self.of_visit
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
        self.change(now, |state| {
            let setting = self.unit.tuned(*state.setting.at(now), carrier);
            state.setting.set(now, setting);
        });
    }

    /// Chooses one of the unit's power settings by its place in the list.
    pub(crate) fn choose_power(&self, now: Moment, power: usize) {
        self.change(now, |state| {
            let setting = Setting { power, ..*state.setting.at(now) };
            state.setting.set(now, setting);
        });
    }

    /// Tells the unit what its supply gives.
    pub(crate) fn set_supply(&self, now: Moment, voltage: Volts, limit: Amperes) {
        let feed = Feed { volts: voltage.get(), limit: limit.get() };
        self.change(now, |state| state.feed.set(now, feed));
    }

    /// Changes what the unit's transmissions follow from.
    fn change(&self, now: Moment, change: impl FnOnce(&mut State)) {
        let mut state = self.state();
        change(&mut state);
        let (setting, feed) = (*state.setting.at(now), *state.feed.at(now));
        let ready = self.unit.may_transmit(setting) && self.drive(feed, setting).is_some();
        state.ready.set(now, ready);
        let State { key, ready, setting, log, .. } = &mut *state;
        log.follow(now, key, ready, setting, &self.laws, |setting| self.unit.load(setting));
    }

    /// What the supply and an inhibit make of the setting's power; nothing if the unit cannot transmit on it.
    fn drive(&self, feed: Feed, setting: Setting) -> Option<f64> {
        let through = self.unit.let_through(setting);
        let part = self.unit.load(setting) * through;
        let drive = self.circuit.as_ref().map_or(Some(1.0), |circuit| circuit.drive(feed, part))?;
        Some(drive * through)
    }

    /// Closes or opens a contact of the switch card.
    pub(crate) fn set_contact(&self, now: Moment, contact: u32, closed: bool, opens_after: Option<Seconds>) {
        let mut state = self.state();
        if let Some(timeline) = state.contacts.get_mut(contact as usize - 1) {
            close(timeline, now, closed, opens_after);
        }
    }

    /// Has the generator give a line, or none.
    pub(crate) fn set_tone(&self, now: Moment, tone: Option<Tone>) {
        self.state().tone.set(now, tone);
    }

    /// Gives a tone to the unit's microphone input, or none.
    pub(crate) fn speak(&self, now: Moment, audio: Option<Audio>) {
        self.state().audio.set(now, audio);
    }

    /// Connects something where the unit's connector is.
    pub(crate) fn connect(&self, now: Moment, connected: Connected) {
        let mut state = self.state();
        let made = state.connected.at(now).1 + 1;
        state.connected.set(now, (connected, made));
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
        let transmitting = self.emission(now).is_some_and(|emission| emission.is_transmitting());
        Observations::new(now.since(self.started), key, keyed, transmitting, damaged)
    }
}

/// Closes or opens a contact; closed, it opens by itself after `opens_after`.
fn close(contact: &mut Timeline<bool>, now: Moment, closed: bool, opens_after: Option<Seconds>) {
    contact.set(now, closed);
    if let (true, Some(span)) = (closed, opens_after) {
        contact.set_later(now.after(span.duration()), false);
    }
}

#[cfg(test)]
mod tests;
