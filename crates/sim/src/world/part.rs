//! One part of the path as a complex two-port over frequency.

use std::f64::consts::TAU;

use num_complex::Complex64;
use spurline_units::{Db, Hertz};

use crate::bench::{PartKind, PartTruth};
use crate::draw::Seed;
use crate::physics::reflection::Reflection;
use crate::physics::two_port::TwoPort;

/// A part with its reflections drawn.
#[derive(Clone, Debug)]
pub(crate) struct Part {
    truth: PartTruth,
    input: Reflection,
    output: Reflection,
    /// Time that a wave takes through it, in seconds.
    delay: f64,
}

/// Speed of a wave in a cable: seven tenths of that of light, as in common foam and solid dielectrics.
const METRES_PER_SECOND: f64 = 0.7 * 299_792_458.0;

impl Part {
    /// Draws what the truth leaves open.
    pub(crate) fn build(seed: Seed, truth: &PartTruth) -> Self {
        let name = &truth.name;
        let delay = match truth.kind {
            PartKind::Pad { .. } | PartKind::Notch { .. } => {
                seed.between(&format!("part {name} delay"), 0.1e-9, 0.5e-9)
            }
            PartKind::Cable { metres, .. } => metres / METRES_PER_SECOND,
        };
        Self {
            input: Reflection::draw(seed, &format!("part {name} input"), truth.vswr),
            output: Reflection::draw(seed, &format!("part {name} output"), truth.vswr),
            delay,
            truth: truth.clone(),
        }
    }

    /// Its name.
    pub(crate) fn name(&self) -> &str {
        &self.truth.name
    }

    /// The loss between matched ends.
    fn loss(&self, frequency: Hertz) -> Db {
        match self.truth.kind {
            PartKind::Pad { loss, slope } => loss + slope * (frequency.get() / 1e9),
            PartKind::Cable { loss, at, .. } => loss * (frequency / at).sqrt(),
            PartKind::Notch { loss, .. } => loss,
        }
    }

    /// The two-port at a frequency.
    pub(crate) fn at(&self, frequency: Hertz) -> TwoPort {
        // Nothing passive gives out more than comes in: what is reflected cannot pass as well.
        let reflected = self.input.magnitude().max(self.output.magnitude());
        let passes = (-self.loss(frequency)).amplitude_ratio().min((1.0 - reflected * reflected).sqrt());
        let through = Complex64::from_polar(passes, -TAU * frequency.get() * self.delay);
        let line = TwoPort {
            s11: self.input.at(frequency),
            s21: through,
            s12: through,
            s22: self.output.at(frequency),
        };
        match self.truth.kind {
            PartKind::Notch { depth, at, quality, .. } => {
                resonator(depth, at, quality, frequency).then(&line)
            }
            PartKind::Pad { .. } | PartKind::Cable { .. } => line,
        }
    }

    /// The one frequency that it takes out, if it does.
    pub(crate) fn centre(&self) -> Option<Hertz> {
        match self.truth.kind {
            PartKind::Notch { at, .. } => Some(at),
            PartKind::Pad { .. } | PartKind::Cable { .. } => None,
        }
    }

    /// The contact of the switch card that brings it in, if it is not always in.
    pub(crate) fn contact(&self) -> Option<u32> {
        self.truth.contact
    }

    /// The error that a laboratory would make when it measures the loss: the same at all frequencies.
    pub(crate) fn calibration_error(&self, seed: Seed) -> Db {
        self.truth.calibrated_within * (seed.normal(&format!("part {} calibration", self.truth.name)) / 2.0)
    }

    /// The expanded uncertainty (k = 2) of such a measurement.
    pub(crate) fn calibrated_within(&self) -> Db {
        self.truth.calibrated_within
    }
}

/// A series resonator from the line to ground. Across 50 ohm its impedance Z gives S21 = 2Z / (2Z + 50 ohm) and
/// S11 = S21 - 1; with x the detuning times the loaded quality, and d what passes at the centre, that is
/// (d + jx) / (1 + jx).
fn resonator(depth: Db, at: Hertz, quality: f64, frequency: Hertz) -> TwoPort {
    let ratio = frequency / at;
    let detuning = if ratio > 0.0 { quality * (ratio - 1.0 / ratio) } else { -1e12 };
    let passes = Complex64::new((-depth).amplitude_ratio(), detuning) / Complex64::new(1.0, detuning);
    let reflects = passes - Complex64::new(1.0, 0.0);
    TwoPort { s11: reflects, s21: passes, s12: passes, s22: reflects }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn part(kind: PartKind, vswr: f64) -> Part {
        let name = "x".to_owned();
        Part::build(Seed(1), &PartTruth { name, kind, vswr, calibrated_within: Db::new(0.1), contact: None })
    }

    fn loss(part: &Part, mhz: f64) -> f64 {
        -20.0 * part.at(Hertz::from_mhz(mhz)).s21.norm().log10()
    }

    /// Closed forms: a pad is flat but for its slope, conductor loss grows with the root of the frequency.
    #[test]
    fn losses_follow_frequency() {
        let pad = part(PartKind::Pad { loss: Db::new(30.0), slope: Db::new(0.2) }, 1.1);
        assert!((loss(&pad, 1500.0) - 30.3).abs() < 1e-9);
        let cable =
            part(PartKind::Cable { loss: Db::new(0.8), at: Hertz::from_mhz(1000.0), metres: 1.0 }, 1.0);
        assert!((loss(&cable, 250.0) - 0.4).abs() < 1e-9);
    }

    /// scikit-rf 2.2.0: a series R-L-C across 50 ohm, `shunt(resistor ** inductor ** capacitor ** short)`, with
    /// R = 25 / 99 ohm and f0 = 146 MHz, loaded quality 10.
    #[test]
    fn a_notch_takes_out_one_frequency() {
        let at = Hertz::from_mhz(146.0);
        let notch =
            part(PartKind::Notch { depth: Db::new(40.0), at, quality: 10.0, loss: Db::new(0.0) }, 1.0);
        for (mhz, expected) in
            [(140.0, 3.835_418_9), (146.0, 40.0), (150.0, 6.453_965_3), (292.0, 0.019_257_3)]
        {
            assert!((loss(&notch, mhz) - expected).abs() < 1e-6, "{mhz}: {}", loss(&notch, mhz));
        }
        for mhz in [1.0, 140.0, 146.0, 150.0, 292.0] {
            let two_port = notch.at(Hertz::from_mhz(mhz));
            assert!(two_port.s11.norm_sqr() + two_port.s21.norm_sqr() <= 1.0 + 1e-12, "{mhz}");
        }
    }

    /// A lossless two-port with reflection G passes sqrt(1 - G²): closed form, VSWR 3 is 1.2494 dB (numpy 2.4.6).
    #[test]
    fn a_part_is_passive() {
        let cable =
            part(PartKind::Cable { loss: Db::new(0.0), at: Hertz::from_mhz(1000.0), metres: 1.0 }, 3.0);
        assert!((loss(&cable, 145.0) - 1.249_39).abs() < 1e-5);
    }

    /// One metre at seven tenths of the speed of light: 4.7650 ns, 360 degrees at 209.855 MHz.
    #[test]
    fn a_cable_has_its_length() {
        let cable =
            part(PartKind::Cable { loss: Db::new(0.1), at: Hertz::from_mhz(1000.0), metres: 1.0 }, 1.0);
        assert!(cable.at(Hertz::new(209_854_720.6)).s21.arg().abs() < 1e-6);
        // A quarter of a wave lags by a quarter of a turn.
        assert!((cable.at(Hertz::new(52_463_680.15)).s21.arg() + TAU / 4.0).abs() < 1e-6);
    }
}
