//! The parts from the unit to one instrument, and what becomes of the unit's lines on them.

use std::sync::{Mutex, PoisonError};

use num_complex::Complex64;
use spurline_units::Hertz;

use super::part::Part;
use super::surroundings::Contacts;
use super::unit::Emission;
use crate::physics::line::Line;
use crate::physics::reflection::Reflection;
use crate::physics::two_port::TwoPort;

/// The parts to one port and the match of the instrument there.
#[derive(Debug)]
pub(super) struct Way {
    parts: Vec<Part>,
    load: Reflection,
    /// What arrived last, at full power: a modulated carrier has many lines, and they are asked for again and again.
    known: Mutex<Option<(Emission, Contacts, Vec<Line>)>>,
}

impl Way {
    pub(super) fn new(parts: Vec<Part>, load: Reflection) -> Self {
        Self { parts, load, known: Mutex::new(None) }
    }

    pub(super) fn parts(&self) -> &[Part] {
        &self.parts
    }

    /// Power of the wave that runs into the instrument, over the power that the source gives into 50 ohm.
    pub(super) fn transfer(&self, frequency: Hertz, source: Complex64, contacts: Contacts) -> f64 {
        self.transfer_behind(&[], frequency, source, contacts)
    }

    /// The same for a source with parts of its own before the first of the path.
    pub(super) fn transfer_behind(
        &self,
        before: &[Part],
        frequency: Hertz,
        source: Complex64,
        contacts: Contacts,
    ) -> f64 {
        let chain =
            before.iter().fold(TwoPort::THROUGH, |chain, part| chain.then(&part.in_place(frequency, 0.0)));
        chain.then(&self.whole(frequency, contacts)).transfer(source, self.load.at(frequency))
    }

    /// The parts from one place to another, as they stand one behind the other while the relays are as they are.
    pub(super) fn cut(&self, from: usize, to: usize, contacts: Contacts) -> Vec<&Part> {
        let to = to.max(from);
        self.present(contacts).skip(from).take(to - from).collect()
    }

    /// Power of the wave that runs into this way's instrument when a source goes there through other parts.
    pub(super) fn transfer_by(
        &self,
        before: &[Part],
        parts: &[&Part],
        frequency: Hertz,
        source: Complex64,
        contacts: Contacts,
    ) -> f64 {
        let chain =
            before.iter().fold(TwoPort::THROUGH, |chain, part| chain.then(&part.in_place(frequency, 0.0)));
        let heat = contacts.heat();
        let chain = parts.iter().fold(chain, |chain, part| chain.then(&part.in_place(frequency, heat)));
        chain.transfer(source, self.load.at(frequency))
    }

    fn present(&self, contacts: Contacts) -> impl Iterator<Item = &Part> {
        let is_in = move |part: &&Part| part.contact().is_none_or(|contact| contacts.closed(contact));
        self.parts.iter().filter(is_in)
    }

    /// What the unit sees: the reflection of parts and instrument together.
    pub(super) fn seen(&self, frequency: Hertz, contacts: Contacts) -> Complex64 {
        let (whole, load) = (self.whole(frequency, contacts), self.load.at(frequency));
        whole.s11 + whole.s12 * whole.s21 * load / (Complex64::new(1.0, 0.0) - whole.s22 * load)
    }

    fn whole(&self, frequency: Hertz, contacts: Contacts) -> TwoPort {
        self.present(contacts)
            .fold(TwoPort::THROUGH, |chain, part| chain.then(&part.in_place(frequency, contacts.heat())))
    }

    /// The lines of an emission, as `arriving` works them out for its full power.
    pub(super) fn lines(
        &self,
        emission: Emission,
        contacts: Contacts,
        arriving: impl FnOnce(Emission) -> Vec<Line>,
    ) -> Vec<Line> {
        let (full, contacts) = (emission.at_full_power(), contacts.without_others());
        let mut known = self.known.lock().unwrap_or_else(PoisonError::into_inner);
        let fits = known.as_ref().is_some_and(|(one, other, _)| (*one, *other) == (full, contacts));
        if !fits {
            *known = Some((full, contacts, arriving(full)));
        }
        let lines = known.iter().flat_map(|(_, _, lines)| lines);
        lines.map(|line| Line { power: line.power * emission.share, ..*line }).collect()
    }
}
