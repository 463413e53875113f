//! What can be seen of the bench at a moment: the unit's emission, the lines at a port, the supply's terminals.

use std::sync::Arc;

use spurline_clock::Moment;
use spurline_units::Hertz;

use super::feed::Terminals;
use super::generator::{Connected, End};
use super::microphone::Voice;
use super::spectrum::Side;
use super::surroundings::Contacts;
use super::unit::{Emission, Ray};
use super::way::Way;
use super::{Port, State, World};
use crate::physics::envelope::Envelope;
use crate::physics::line::Line;

const HOUR: f64 = 3600.0;

impl World {
    /// How everything around the unit stands: the closed contacts of the switch card, the warmth of the path, what
    /// is connected, and who else is on the air.
    pub(crate) fn contacts(&self, at: Moment) -> Contacts {
        let state = self.state();
        let (connected, tone) = (*state.connected.at(at), *state.tone.at(at));
        let mut contacts = Contacts::with(connected, tone);
        for contact in &self.used {
            if *state.contacts[*contact as usize - 1].at(at) {
                contacts.close(*contact);
            }
        }
        if self.heats {
            contacts.warm(state.log.worn(at, &self.laws).path);
        }
        if let Some(generator) = self.generator.as_ref().filter(|_| tone.is_some()) {
            contacts.drifted = generator.drifted(at.since(self.started).as_secs_f64() / HOUR);
        }
        self.others.mark(&mut contacts, at.since(self.started), *state.key.at(at));
        contacts
    }

    /// What is there at the supply's terminals; nothing if there is none.
    pub(crate) fn terminals(&self, at: Moment) -> Option<Terminals> {
        let circuit = self.circuit.as_ref()?;
        let (emission, contacts) = (self.emission(at), self.contacts(at));
        let state = self.state();
        let (feed, setting) = (*state.feed.at(at), *state.setting.at(at));
        let tries = *state.key.at(at) && self.unit.may_transmit(setting);
        drop(state);
        let part = self.unit.load(setting) * self.unit.let_through(setting);
        Some(match emission.filter(Emission::is_transmitting) {
            Some(emission) => {
                let folded = self.folded(emission.setting.carrier, contacts);
                circuit.transmitting(feed, part * emission.share * folded)
            }
            None if tries && circuit.drive(feed, part).is_none() => circuit.transmitting(feed, part),
            None => circuit.resting(feed),
        })
    }

    /// What leaves the unit's connector at a moment.
    pub(crate) fn emission(&self, at: Moment) -> Option<Emission> {
        let state = self.state();
        let (setting, feed) = (*state.setting.at(at), *state.feed.at(at));
        let Some(since) = state.log.transmitting_since(at) else {
            let works = self.circuit.as_ref().is_none_or(|circuit| circuit.works(feed));
            let receives = works && !*state.key.at(at) && !self.unit.truth.receiver.is_empty();
            return receives.then(|| Emission::receiving(setting));
        };
        let worn = state.log.worn(at, &self.laws);
        let voice = self.unit.voice(*state.audio.at(at));
        drop(state);
        let share = self.unit.share(at.since(since), worn, self.circuit.is_none())?;
        let drive = self.drive(feed, setting)?;
        Some(Emission::transmitting(self.unit.transmits_by(setting), drive, share).speaking(voice))
    }

    /// How the unit's power goes up and down with its modulation in voltage, and the key down from which that counts.
    pub(crate) fn envelope(&self, at: Moment) -> Option<(Envelope, Moment)> {
        let (since, audio) = {
            let state = self.state();
            (state.log.transmitting_since(at)?, *state.audio.at(at))
        };
        Some((self.unit.envelope(self.unit.voice(audio))?, since))
    }

    /// The lines of an oscillation of the unit that swings so many times as far as its carrier: their distances from
    /// its centre, and their shares of its power without modulation; `voice` is what is spoken meanwhile.
    pub(crate) fn sides(&self, voice: Option<Voice>, swings: f64) -> Arc<[Side]> {
        self.unit.spectrum(voice, swings)
    }

    /// Whether the unit transmits in bursts.
    pub(crate) fn comes_and_goes(&self) -> bool {
        self.unit.truth.modulation.burst.is_some()
    }

    /// The lines that reach a port: the unit's and the generator's, as they are connected, through the path as it is
    /// switched, and at the analyser what the unit radiates and the signals of others.
    pub(crate) fn lines(&self, port: Port, emission: Option<Emission>, contacts: Contacts) -> Vec<Line> {
        let way = self.way(port);
        let arriving = |full| self.arriving(port, way, full, contacts);
        let is_there = matches!(contacts.connected, Connected::Unit | Connected::Both);
        let arrives = emission.filter(|_| is_there);
        let mut lines = arrives.map_or_else(Vec::new, |emission| way.lines(emission, contacts, arriving));
        if let Some(generator) = &self.generator {
            let section = |end: End| self.way(end.port());
            lines.extend(generator.arriving(port, way, section, contacts));
        }
        if port == Port::Analyser {
            lines.extend(self.others.lines(contacts));
        }
        lines
    }

    fn way(&self, port: Port) -> &Way {
        match port {
            Port::Analyser => &self.to_analyser,
            Port::PowerMeter => &self.to_power_meter,
        }
    }

    fn arriving(&self, port: Port, way: &Way, emission: Emission, contacts: Contacts) -> Vec<Line> {
        let setting = emission.setting;
        let folded = if emission.is_transmitting() { self.folded(setting.carrier, contacts) } else { 1.0 };
        let emission = emission.times(folded);
        let mut rays = self.unit.rays(emission, &self.unit.harmonics(setting));
        let combined = self.generator.as_ref().map_or(1.0, |generator| generator.leaves(contacts));
        for ray in &mut rays {
            let source = self.unit.source(ray);
            ray.power = ray.power * (way.transfer(ray.frequency, source, contacts) * combined);
        }
        if let Some(leak) =
            self.leak.as_ref().filter(|_| port == Port::Analyser && emission.is_transmitting())
        {
            rays = leak.add(rays, &self.unit, emission);
        }
        let line = |ray: Ray| Line { frequency: ray.frequency, power: ray.power, of: ray.of };
        rays.into_iter().map(line).collect()
    }

    /// What a unit that protects itself leaves of its power: it sees the worse of both ways.
    fn folded(&self, carrier: Hertz, contacts: Contacts) -> f64 {
        if self.unit.truth.behaviour.folds_back_beyond.is_none() {
            return 1.0;
        }
        let seen = [&self.to_analyser, &self.to_power_meter].map(|way| way.seen(carrier, contacts).norm());
        self.unit.folded(seen[0].max(seen[1]))
    }

    /// Every moment after `from` and up to `to` at which the lines at a port may have become stronger.
    pub(crate) fn changes(&self, from: Moment, to: Moment) -> Vec<Moment> {
        let State { key, setting, feed, ready, contacts, log, tone, connected, audio, .. } = &*self.state();
        let unit = key.changes(from, to).chain(setting.changes(from, to)).chain(ready.changes(from, to));
        let used = self.used.iter().map(|contact| &contacts[*contact as usize - 1]);
        let path = used.flat_map(|contact| contact.changes(from, to));
        let others = self.others.changes().map(|age| self.started.after(age));
        let others = others.filter(|at| from < *at && *at <= to);
        let known = tone.changes(from, to).chain(connected.changes(from, to)).chain(audio.changes(from, to));
        let all = unit.chain(feed.changes(from, to)).chain(path).chain(others).chain(known);
        let mut moments: Vec<Moment> = all.collect();
        // What happens between two bursts shows in the next one.
        let bursts = |at: &Moment| {
            let since = log.transmitting_since(*at)?;
            self.unit.next_burst(at.since(since)).map(|span| since.after(span)).filter(|next| *next <= to)
        };
        let next: Vec<Moment> = moments.iter().chain([&from]).filter_map(bursts).collect();
        moments.extend(next);
        moments.sort_unstable();
        moments.dedup();
        moments
    }
}
