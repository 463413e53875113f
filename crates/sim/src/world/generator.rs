//! The signal generator at the connector: its line and its harmonics through what lies before the path.

use spurline_units::{Db, Dbm, Hertz};

use super::part::Part;
use super::surroundings::Contacts;
use super::way::Way;
use crate::bench::GeneratorTruth;
use crate::draw::Seed;
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
}

impl Generator {
    pub(crate) fn new(truth: &GeneratorTruth, seed: Seed) -> Self {
        let drawn = truth.level_spread * seed.normal("generator level");
        Self {
            level_error: truth.level_error.unwrap_or(drawn),
            harmonics: truth.harmonics.clone(),
            output: Reflection::draw(seed, "generator output", truth.vswr),
            through: truth.through.iter().map(|part| Part::build(seed, part)).collect(),
            unit_loss: truth.unit_loss,
        }
    }

    /// Its lines at the end of a way; none while it is not connected, or off.
    pub(super) fn arriving(&self, way: &Way, contacts: Contacts) -> Vec<Line> {
        let Some(tone) = contacts.tone.filter(|_| contacts.connected != Connected::Unit) else {
            return Vec::new();
        };
        let through = |line: Line| {
            let source = self.output.at(line.frequency);
            Line {
                power: line.power * way.transfer_behind(&self.through, line.frequency, source, contacts),
                ..line
            }
        };
        self.lines(tone).map(through).collect()
    }

    /// What a combiner leaves of the unit's power, as a ratio.
    pub(super) fn leaves(&self, contacts: Contacts) -> f64 {
        if contacts.connected == Connected::Both { (-self.unit_loss).amplitude_ratio().powi(2) } else { 1.0 }
    }

    /// The lines at its output into a matched load.
    fn lines(&self, tone: Tone) -> impl Iterator<Item = Line> + '_ {
        let level = tone.level + self.level_error;
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
        (World::new(&read(MATCHED).unwrap(), now), now)
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
