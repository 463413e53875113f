//! Oscillations as voltages, because an analyser's own products add to what comes in there with a phase.

use std::ops::Range;
use std::sync::Arc;

use num_complex::Complex64;
use spurline_units::{Db, Dbm, Hertz, Watts};

use crate::physics::line::{Line, Oscillation};
use crate::physics::products::{Distorting, Product, Tone};
use crate::world::Side;

/// What comes in, and what is made of it; what comes in has no angle.
#[derive(Clone, Debug)]
pub(super) struct Waves<'a> {
    arriving: &'a [Line],
    all: Vec<Wave>,
}

/// An oscillation with all its lines.
#[derive(Clone, Debug)]
struct Wave {
    of: Oscillation,
    /// Its square is the power of all lines in watts.
    voltage: Complex64,
    /// Its lines among those that come in, and their power; nothing for one that is a product.
    arrived: Option<(Range<usize>, f64)>,
}

/// Products below this level are none, in dBm.
const NOTHING: f64 = -220.0;

impl<'a> Waves<'a> {
    /// Of lines, those of one oscillation next to each other.
    pub(super) fn new(arriving: &'a [Line]) -> Self {
        let mut all = Vec::with_capacity(arriving.len().min(64));
        let mut first = 0;
        for lines in arriving.chunk_by(|one, next| one.of.is_modulated() && one.of == next.of) {
            let power: f64 = lines.iter().map(|line| line.power.get()).sum();
            let end = first + lines.len();
            if power > 0.0 {
                let voltage = Complex64::from(power.sqrt());
                all.push(Wave { of: lines[0].of, voltage, arrived: Some((first..end, power)) });
            }
            first = end;
        }
        Self { arriving, all }
    }

    /// Adds the products of something that the two strongest oscillations meet `gain` higher than they come in, at
    /// angles by order and frequency.
    pub(super) fn distort(&mut self, distorting: &Distorting, gain: Db, angle: impl Fn(u32, Hertz) -> f64) {
        let (Some(one), other) = self.strongest(gain) else { return };
        for Product { order, tone: Tone { of, level } } in distorting.products(one, other) {
            let level = level - gain;
            if level > Dbm::new(NOTHING) {
                let voltage = level.to_watts().get().sqrt();
                self.add(of, Complex64::from_polar(voltage, angle(order, of.centre)));
            }
        }
    }

    /// The strongest oscillation and the next one, `gain` higher.
    fn strongest(&self, gain: Db) -> (Option<Tone>, Option<Tone>) {
        let (mut first, mut second): (Option<&Wave>, Option<&Wave>) = (None, None);
        for wave in self.all.iter().filter(|wave| wave.power() > 0.0) {
            if first.is_none_or(|most| wave.power() > most.power()) {
                second = first.replace(wave);
            } else if second.is_none_or(|more| wave.power() > more.power()) {
                second = Some(wave);
            }
        }
        let tone = |wave: &Wave| Tone { of: wave.of, level: Watts::new(wave.power()).to_dbm() + gain };
        (first.map(tone), second.map(tone))
    }

    fn add(&mut self, of: Oscillation, voltage: Complex64) {
        match self.all.iter_mut().find(|wave| wave.of.is(&of)) {
            Some(wave) => wave.voltage += voltage,
            None => self.all.push(Wave { of, voltage, arrived: None }),
        }
    }

    /// Their lines; `sides` tells those of a product by how it swings.
    pub(super) fn lines(&self, sides: impl Fn(f64) -> Arc<[Side]>) -> Vec<Line> {
        let mut lines = Vec::with_capacity(self.arriving.len() + 2 * self.all.len());
        for wave in &self.all {
            let (of, power) = (&wave.of, wave.power());
            match (&wave.arrived, of.swings) {
                (Some((range, before)), _) => {
                    let factor = power / before;
                    let arrived = self.arriving[range.clone()].iter();
                    lines.extend(arrived.map(|line| Line { power: line.power * factor, ..*line }));
                }
                (None, Some(swings)) => {
                    let sides = sides(swings);
                    let all: f64 = sides.iter().map(|side| side.share).sum();
                    lines.extend(sides.iter().map(|side| Line {
                        frequency: Hertz::new((of.centre.get() + side.offset).abs()),
                        power: Watts::new(power * side.share / all),
                        of: *of,
                    }));
                }
                (None, None) => lines.push(Line::bare(of.centre, Watts::new(power))),
            }
        }
        lines.retain(|line| line.power.get() > 0.0);
        lines
    }
}

impl Wave {
    /// Of all its lines, in watts.
    fn power(&self) -> f64 {
        self.voltage.norm_sqr()
    }
}
