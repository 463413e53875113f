//! One part of the path as a complex two-port over frequency.

use std::f64::consts::TAU;

use num_complex::Complex64;
use spurline_units::{Db, Hertz};

use crate::bench::{Calibration, PartKind, PartTruth, Stated};
use crate::draw::Seed;
use crate::drawn::SmoothError;
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
    /// What its connectors lose more than at the laboratory.
    reconnection: Db,
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
            reconnection: truth.reconnection * seed.normal(&format!("part {name} reconnection")),
            truth: truth.clone(),
        }
    }

    /// The same with joints that were made anew.
    pub(crate) fn reconnected(mut self, of_visit: Seed) -> Self {
        let drawn = of_visit.normal(&format!("part {} reconnection", self.truth.name));
        self.reconnection = self.truth.reconnection * drawn;
        self
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

    /// The two-port at a frequency as a laboratory has it: cold, and with connectors of its own.
    pub(crate) fn at(&self, frequency: Hertz) -> TwoPort {
        self.losing_more(frequency, Db::new(0.0))
    }

    /// The two-port at a frequency as it sits in the path, from cold (`heat` 0) to as warm as it gets (1).
    pub(crate) fn in_place(&self, frequency: Hertz, heat: f64) -> TwoPort {
        self.losing_more(frequency, self.reconnection + self.truth.heats * heat)
    }

    fn losing_more(&self, frequency: Hertz, more: Db) -> TwoPort {
        let gain = (-(self.loss(frequency) + more)).amplitude_ratio();
        let turn = -TAU * frequency.get() * self.delay;
        let line = if self.truth.ripples {
            self.between_ends(gain.min(1.0), turn)
        } else {
            // Nothing passive gives out more than comes in: what is reflected cannot pass as well.
            let reflected = self.input.magnitude().max(self.output.magnitude());
            let passes = gain.min((1.0 - reflected * reflected).sqrt());
            let through = Complex64::from_polar(passes, turn);
            TwoPort {
                s11: self.input.at(frequency),
                s21: through,
                s12: through,
                s22: self.output.at(frequency),
            }
        };
        match self.truth.kind {
            PartKind::Notch { depth, at, quality, .. } => {
                resonator(depth, at, quality, frequency).then(&line)
            }
            PartKind::Pad { .. } | PartKind::Cable { .. } => line,
        }
    }

    /// A matched line between two steps of impedance: what the ends send back runs to and fro between them.
    fn between_ends(&self, gain: f64, turn: f64) -> TwoPort {
        let through = Complex64::from_polar(gain, turn);
        let zero = Complex64::new(0.0, 0.0);
        let line = TwoPort { s11: zero, s21: through, s12: through, s22: zero };
        step(self.input.magnitude()).then(&line).then(&step(-self.output.magnitude()))
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

    /// Whether it loses more when it is warm.
    pub(crate) fn heats(&self) -> bool {
        self.truth.heats != Db::new(0.0)
    }

    /// The error that a laboratory would make when it measures the loss at a frequency.
    pub(crate) fn calibration_error(&self, seed: Seed, frequency: Hertz) -> Db {
        let stated = Stated::normal(self.truth.calibrated_within / 2.0);
        let purpose = format!("part {} calibration", self.truth.name);
        match self.truth.calibration {
            Calibration::Flat => stated.at(seed.normal(&purpose)),
            Calibration::Smooth => SmoothError::draw(seed, &purpose, stated).at(frequency),
        }
    }

    /// The expanded uncertainty (k = 2) of such a measurement.
    pub(crate) fn calibrated_within(&self) -> Db {
        self.truth.calibrated_within
    }
}

/// A step of impedance without loss; `reflection` is what its first side sends back.
fn step(reflection: f64) -> TwoPort {
    let passes = Complex64::new((1.0 - reflection * reflection).sqrt(), 0.0);
    let reflection = Complex64::new(reflection, 0.0);
    TwoPort { s11: reflection, s21: passes, s12: passes, s22: -reflection }
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
        Part::build(Seed(1), &truth(kind, vswr))
    }

    fn truth(kind: PartKind, vswr: f64) -> PartTruth {
        PartTruth {
            name: "x".to_owned(),
            kind,
            vswr,
            calibrated_within: Db::new(0.1),
            calibration: Calibration::Flat,
            heats: Db::new(0.0),
            reconnection: Db::new(0.0),
            ripples: false,
            contact: None,
        }
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

    /// Closed form: between two reflections of 0.2 (VSWR 1.5) the loss goes from 0 dB to 20 log10(1.04 / 0.96),
    /// 0.69524 dB (numpy 2.4.6), and comes back every c · 0.7 / 2 l, 104.927 MHz for one metre.
    #[test]
    fn two_ends_make_a_ripple() {
        let kind = PartKind::Cable { loss: Db::new(0.0), at: Hertz::from_mhz(1000.0), metres: 1.0 };
        let rippling = Part::build(Seed(1), &PartTruth { ripples: true, ..truth(kind, 1.5) });
        let period = METRES_PER_SECOND / 2.0 / 1e6;
        assert!((period - 104.927_36).abs() < 1e-5);
        for turns in [1.0, 2.0, 5.0] {
            assert!(loss(&rippling, turns * period).abs() < 1e-9);
            let worst = loss(&rippling, (turns + 0.5) * period);
            assert!((worst - 0.695_24).abs() < 1e-5, "{worst}");
        }
        // A matched end sees the other one through the line: nothing is lost, so what does not pass comes back.
        let two_port = rippling.at(Hertz::from_mhz(1.5 * period));
        assert!((two_port.s11.norm_sqr() + two_port.s21.norm_sqr() - 1.0).abs() < 1e-12);
        // With 10 dB between them: (1 + 0.004) / (1 - 0.004), 0.06949 dB (numpy 2.4.6).
        let pad = PartTruth {
            ripples: true,
            ..truth(PartKind::Pad { loss: Db::new(10.0), slope: Db::new(0.0) }, 1.5)
        };
        let pad = Part::build(Seed(1), &pad);
        let losses = (0..20_000).map(|i| loss(&pad, 1.0 + f64::from(i) * 0.5));
        let (low, high) = losses.fold((f64::MAX, f64::MIN), |(low, high), l| (low.min(l), high.max(l)));
        assert!((high - low - 0.069_49).abs() < 1e-4, "{}", high - low);
    }

    /// What the laboratory did not see: warmth and other connectors.
    #[test]
    fn a_part_in_its_place_differs_from_its_certificate() {
        let kind = PartKind::Pad { loss: Db::new(30.0), slope: Db::new(0.0) };
        let in_place =
            |part: &Part, heat| -20.0 * part.in_place(Hertz::from_mhz(145.0), heat).s21.norm().log10();
        let warm = Part::build(Seed(1), &PartTruth { heats: Db::new(0.48), ..truth(kind, 1.1) });
        assert!(warm.heats() && (loss(&warm, 145.0) - 30.0).abs() < 1e-9);
        assert!((in_place(&warm, 0.25) - 30.12).abs() < 1e-9 && (in_place(&warm, 1.0) - 30.48).abs() < 1e-9);
        let spread = PartTruth { reconnection: Db::new(0.05), ..truth(kind, 1.1) };
        let error = |seed| in_place(&Part::build(Seed(seed), &spread), 0.0) - 30.0;
        assert!((error(1) - error(1)).abs() < 1e-12 && (error(1) - error(2)).abs() > 1e-6);
        // The mean square of 2000 normal draws is known to sqrt(2 / 2000), 3.2 %; four times that is allowed.
        let square = (0..2000).map(|seed| error(seed).powi(2)).sum::<f64>() / 2000.0;
        assert!((square / 0.05f64.powi(2) - 1.0).abs() < 0.13, "{square}");
    }

    /// Half of what is stated for k = 2, at every frequency, and another error at another one.
    #[test]
    fn a_smooth_calibration_is_as_wrong_everywhere() {
        let kind = PartKind::Pad { loss: Db::new(30.0), slope: Db::new(0.0) };
        let smooth = PartTruth { calibration: Calibration::Smooth, ..truth(kind, 1.1) };
        let error = |seed, mhz| {
            let part = Part::build(Seed(seed), &smooth);
            part.calibration_error(Seed(seed), Hertz::from_mhz(mhz)).get()
        };
        for mhz in [145.0, 725.0] {
            let square = (0..2000).map(|seed| error(seed, mhz).powi(2)).sum::<f64>() / 2000.0;
            assert!((square / 0.05f64.powi(2) - 1.0).abs() < 0.13, "{mhz}: {square}");
        }
        assert!((error(1, 145.0) - error(1, 1450.0)).abs() > 1e-6);
        let flat = part(kind, 1.1);
        let error = |mhz| flat.calibration_error(Seed(1), Hertz::from_mhz(mhz));
        assert_eq!(error(145.0), error(1450.0));
    }
}
