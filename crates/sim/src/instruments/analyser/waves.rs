//! Lines as voltages, because an analyser's own products add to what comes in there with a phase.

use num_complex::Complex64;
use spurline_units::{Db, Dbm, Hertz, Watts};

use crate::physics::detector::Line;
use crate::physics::products::{Distorting, Product, Tone};

/// Lines by their voltages; what comes in has no angle.
#[derive(Clone, Debug)]
pub(super) struct Waves {
    /// Frequency and voltage, whose square is a power in watts.
    all: Vec<(Hertz, Complex64)>,
}

/// Lines as near as this, in hertz, are one.
const SAME_LINE: f64 = 1.0;
/// Products below this level are none, in dBm.
const NOTHING: f64 = -220.0;

impl Waves {
    pub(super) fn new(lines: &[Line]) -> Self {
        let present = lines.iter().filter(|line| line.power.get() > 0.0);
        let wave = |line: &Line| (line.frequency, Complex64::from(line.power.get().sqrt()));
        Self { all: present.map(wave).collect() }
    }

    /// Adds the products of something that the two strongest lines meet `gain` higher than they come in, at angles by
    /// order and frequency.
    pub(super) fn distort(&mut self, distorting: &Distorting, gain: Db, angle: impl Fn(u32, Hertz) -> f64) {
        let (Some(one), other) = self.strongest() else { return };
        let tone = |line: Line| Tone { frequency: line.frequency, level: line.power.to_dbm() + gain };
        for Product { order, tone } in distorting.products(tone(one), other.map(tone)) {
            let level = tone.level - gain;
            if level > Dbm::new(NOTHING) {
                let voltage = level.to_watts().get().sqrt();
                self.add(tone.frequency, Complex64::from_polar(voltage, angle(order, tone.frequency)));
            }
        }
    }

    /// The strongest line and the next one.
    fn strongest(&self) -> (Option<Line>, Option<Line>) {
        let (mut first, mut second): (Option<Line>, Option<Line>) = (None, None);
        for line in self.all.iter().map(line).filter(|line| line.power.get() > 0.0) {
            if first.is_none_or(|most| line.power > most.power) {
                second = first.replace(line);
            } else if second.is_none_or(|more| line.power > more.power) {
                second = Some(line);
            }
        }
        (first, second)
    }

    fn add(&mut self, frequency: Hertz, voltage: Complex64) {
        let known = self.all.iter_mut().find(|(known, _)| (*known - frequency).get().abs() < SAME_LINE);
        match known {
            Some((_, sum)) => *sum += voltage,
            None => self.all.push((frequency, voltage)),
        }
    }

    /// The lines that they are.
    pub(super) fn lines(&self) -> Vec<Line> {
        self.all.iter().map(line).filter(|line| line.power.get() > 0.0).collect()
    }
}

fn line((frequency, voltage): &(Hertz, Complex64)) -> Line {
    Line { frequency: *frequency, power: Watts::new(voltage.norm_sqr()) }
}
