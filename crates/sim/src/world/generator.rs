//! The signal generator at the connector: its line and its harmonics through what lies before the path.

use std::sync::{Mutex, PoisonError};

use spurline_units::{Db, Dbm, Hertz};

use super::Port;
use super::part::Part;
use super::surroundings::Contacts;
use super::way::Way;
use crate::bench::{GeneratorTruth, Stated};
use crate::draw::Seed;
use crate::drawn::SmoothError;
use crate::physics::line::Line;
use crate::physics::reflection::Reflection;

/// What is connected where the unit's connector is.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Connected {
    /// The unit.
    #[default]
    Unit,
    /// The signal generator in the unit's place.
    Generator,
    /// Both, through one combiner.
    Both,
    /// Nothing is at the unit's connector: the generator goes through a section of the path, or through none of it, to
    /// an instrument that was put at its end.
    Section(Section),
}

/// A row of parts of the path between generator and instrument, as they stand one behind the other while the relays are
/// as they are.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Section {
    /// The instrument to which the path leads that the parts belong to.
    pub of: End,
    /// The place of the first part, from 0 at the unit's connector.
    pub from: usize,
    /// The place behind the last part; what is beyond the path's end is none. With `from` equal to it the generator goes
    /// straight into the instrument.
    pub to: usize,
    /// The instrument at the end of the section.
    pub read_by: End,
}

/// The instruments that can be at the end of a path.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum End {
    /// The analyser.
    Analyser,
    /// The power meter.
    PowerMeter,
}

impl End {
    pub(super) const fn port(self) -> Port {
        match self {
            Self::Analyser => Port::Analyser,
            Self::PowerMeter => Port::PowerMeter,
        }
    }
}

/// The line that a generator is told to give.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Tone {
    pub(crate) frequency: Hertz,
    pub(crate) level: Dbm,
}

/// A generator with its errors drawn.
#[derive(Debug)]
pub(crate) struct Generator {
    level_error: Db,
    harmonics: Vec<(u32, Db)>,
    output: Reflection,
    through: Vec<Part>,
    unit_loss: Db,
    /// Its level over frequency.
    response: SmoothError,
    /// The standard deviation of what a joint loses more or less each time that it is made.
    reconnection: Db,
    seed: Seed,
    /// The joints that were made last, and what they lose over frequency.
    joint: Mutex<Option<(u32, SmoothError)>>,
    /// In an hour.
    drift: Db,
}

/// A drift in thousandths of a dB: it is part of a state that is compared.
const DRIFT_STEPS: f64 = 1000.0;

impl Generator {
    pub(crate) fn new(truth: &GeneratorTruth, seed: Seed) -> Self {
        let drawn = truth.level_spread * seed.normal("generator level");
        Self {
            level_error: truth.level_error.unwrap_or(drawn),
            harmonics: truth.harmonics.clone(),
            output: Reflection::draw(seed, "generator output", truth.vswr),
            through: truth.through.iter().map(|part| Part::build(seed, part)).collect(),
            unit_loss: truth.unit_loss,
            response: SmoothError::draw(seed, "generator response", Stated::normal(truth.response_spread)),
            reconnection: truth.reconnection,
            seed,
            joint: Mutex::default(),
            drift: truth.drift,
        }
    }

    /// How far its level has moved when it has been on for so many hours, in steps.
    pub(super) fn drifted(&self, hours: f64) -> i32 {
        (self.drift.get() * hours * DRIFT_STEPS).round() as i32
    }

    /// Its lines at a port, to which `way` leads; none while it is not connected there, or off. `section` is the way
    /// that a section of the path belongs to.
    pub(super) fn arriving<'w>(
        &self,
        port: Port,
        way: &Way,
        section: impl Fn(End) -> &'w Way,
        contacts: Contacts,
    ) -> Vec<Line> {
        let Some(tone) = contacts.tone else { return Vec::new() };
        let transfer = |frequency: Hertz| {
            let source = self.output.at(frequency);
            Some(match contacts.connected {
                Connected::Unit => return None,
                Connected::Generator | Connected::Both => {
                    way.transfer_behind(&self.through, frequency, source, contacts)
                }
                Connected::Section(Section { read_by, .. }) if read_by.port() != port => return None,
                Connected::Section(cut) => {
                    let parts = section(cut.of).cut(cut.from, cut.to, contacts);
                    let transfer = way.transfer_by(&self.through, &parts, frequency, source, contacts);
                    transfer * self.joint_at(frequency, parts.is_empty(), contacts).power_ratio()
                }
            })
        };
        let through = |line: Line| Some(Line { power: line.power * transfer(line.frequency)?, ..line });
        self.lines(tone, contacts.drifted).filter_map(through).collect()
    }

    /// What the joints that were made last pass more than they should: straight there is one, with something between
    /// there are two.
    fn joint_at(&self, frequency: Hertz, is_straight: bool, contacts: Contacts) -> Db {
        if self.reconnection == Db::new(0.0) {
            return self.reconnection;
        }
        let spread = if is_straight { self.reconnection } else { self.reconnection * 2f64.sqrt() };
        let mut joint = self.joint.lock().unwrap_or_else(PoisonError::into_inner);
        if joint.as_ref().is_none_or(|(made, _)| *made != contacts.made) {
            let purpose = format!("joint {}", contacts.made);
            *joint = Some((contacts.made, SmoothError::draw(self.seed, &purpose, Stated::normal(spread))));
        }
        joint.as_ref().map_or_else(Db::default, |(_, error)| error.at(frequency))
    }

    /// What a combiner leaves of the unit's power, as a ratio.
    pub(super) fn leaves(&self, contacts: Contacts) -> f64 {
        if contacts.connected == Connected::Both { (-self.unit_loss).amplitude_ratio().powi(2) } else { 1.0 }
    }

    /// The lines at its output into a matched load.
    fn lines(&self, tone: Tone, drifted: i32) -> impl Iterator<Item = Line> + '_ {
        let moved = Db::new(f64::from(drifted) / DRIFT_STEPS);
        let level = tone.level + self.level_error + self.response.at(tone.frequency) + moved;
        let orders = std::iter::once((1, Db::new(0.0))).chain(self.harmonics.iter().copied());
        orders
            .map(move |(order, below)| Line::bare(tone.frequency.harmonic(order), (level - below).to_watts()))
    }
}

#[cfg(test)]
mod tests {
    use std::time::Duration;

    use spurline_clock::Moment;

    use super::*;
    use crate::bench::tests::read;
    use crate::world::{Emission, Port, World};

    /// Everything is matched, so that losses in decibels add up.
    const MATCHED: &str = "\
simulated:
  units: [ { serial: U, model: M, firmware: F, range: 130..500 MHz, powers: { high: 4 W }, vswr: 1, vswr_off_carrier: 1 } ]
  analyser: { vswr: 1 }
  generator: { level_error: 0.3 dB, harmonics: { 2: 35 dB }, vswr: 1, unit_loss: 6 dB, through: [ { name: arm, pad: 16 dB } ] }
  path: { common: [ { name: pad, pad: 30 dB } ] }
";

    fn world() -> (World, Moment) {
        let now =
            spurline_clock::run(spurline_clock::Pace::Fast, |clock| async move { clock.now() }).unwrap();
        (World::new(&read(MATCHED).unwrap(), false, now), now)
    }

    fn levels(world: &World, at: Moment, keyed: bool) -> Vec<(f64, f64)> {
        let emission = keyed.then(|| Emission::transmitting(world.setting(at), 1.0, 1.0));
        let lines = world.lines(Port::Analyser, emission, world.contacts(at));
        lines.iter().map(|line| (line.frequency.mhz(), line.power.to_dbm().get())).collect()
    }

    fn close(found: &[(f64, f64)], expected: &[(f64, f64)]) {
        assert_eq!(found.len(), expected.len(), "{found:?}");
        for ((mhz, level), (at, dbm)) in found.iter().zip(expected) {
            assert!((mhz - at).abs() < 1e-9 && (level - dbm).abs() < 1e-9, "{found:?}");
        }
    }

    /// -4 dBm and 0.3 dB of error through 16 dB and 30 dB; 4 W are 36.0206 dBm (10 log10 4000), less 30 dB, and less
    /// 6 dB behind a combiner.
    #[test]
    fn its_lines_come_in_only_where_it_is_connected() {
        let (world, now) = world();
        let unit = 10.0 * 4000f64.log10() - 30.0;
        let known = [(100.0, -49.7), (200.0, -84.7)];
        world.set_tone(now, Some(Tone { frequency: Hertz::from_mhz(100.0), level: Dbm::new(-4.0) }));
        close(&levels(&world, now, false), &[]);
        close(&levels(&world, now, true), &[(130.0, unit)]);
        world.connect(now, Connected::Generator);
        close(&levels(&world, now, true), &known);
        world.connect(now, Connected::Both);
        close(&levels(&world, now, true), &[(130.0, unit - 6.0), known[0], known[1]]);
        world.set_tone(now, None);
        close(&levels(&world, now, false), &[]);
    }

    /// What looks at the bench over time must know when it may look different.
    #[test]
    fn its_changes_are_told() {
        let (world, now) = world();
        let at = |ms| now.after(Duration::from_millis(ms));
        world.connect(at(5), Connected::Generator);
        world.set_tone(at(10), Some(Tone { frequency: Hertz::from_mhz(100.0), level: Dbm::new(-4.0) }));
        world.set_tone(at(20), None);
        assert_eq!(world.changes(at(0), at(30)), [at(5), at(10), at(20)]);
    }
}
