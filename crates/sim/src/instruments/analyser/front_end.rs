//! From the input connector to the filter: attenuator, preamplifier, mixer, and the errors of all of them.

use spurline_units::{Db, Dbm, Hertz, Watts};

use crate::bench::AnalyserTruth;
use crate::draw::Seed;
use crate::physics::detector::Line;
use crate::physics::filter::Gaussian;
use crate::physics::mixer::Mixer;
use crate::physics::response::Response;
use num_complex::Complex64;

/// The analog part of an analyser with its errors drawn.
#[derive(Debug)]
pub(super) struct FrontEnd {
    mixer: Mixer,
    noise: Dbm,
    damage: Dbm,
    feed_through: Dbm,
    level_error: Db,
    response: Response,
    attenuator_spread: Db,
    phases: Vec<(u32, f64)>,
    seed: Seed,
}

/// How the front end is set.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Gains {
    pub(super) attenuation: Db,
    pub(super) preamplifier: bool,
}

/// What the filter meets, scaled to what is displayed.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Scene {
    pub(super) lines: Vec<Line>,
    pub(super) overloaded: bool,
}

/// Gain of the preamplifier.
const PREAMPLIFIER_DB: f64 = 20.0;
/// How much lower the noise is with it, referred to the input.
const PREAMPLIFIER_BENEFIT_DB: f64 = 14.0;
/// Levels are adjusted at the calibrator's frequency.
const CALIBRATOR_MHZ: f64 = 50.0;
/// Lines closer than this are one and add as voltages, in hertz.
const SAME_LINE: f64 = 0.5;

impl FrontEnd {
    pub(super) fn new(truth: &AnalyserTruth, seed: Seed) -> Self {
        let drawn = || truth.level_spread * seed.normal("analyser level");
        Self {
            mixer: Mixer {
                second_intercept: truth.second_intercept,
                third_intercept: truth.third_intercept,
                compression: truth.compression,
            },
            noise: truth.noise,
            damage: truth.damage,
            feed_through: truth.feed_through,
            level_error: truth.level_error.unwrap_or_else(drawn),
            response: Response::draw(
                seed,
                "analyser response",
                truth.response_spread,
                Hertz::from_mhz(CALIBRATOR_MHZ),
            ),
            attenuator_spread: truth.attenuator_spread,
            phases: truth.distortion_phase.clone(),
            seed,
        }
    }

    /// Whether this power breaks the input.
    pub(super) fn breaks_at(&self, total: Watts) -> bool {
        total > self.damage.to_watts()
    }

    /// The error of an attenuator position; levels are adjusted at 10 dB.
    fn attenuator_error(&self, attenuation: Db) -> Db {
        if attenuation == Db::new(10.0) {
            return Db::new(0.0);
        }
        self.attenuator_spread * self.seed.normal(&format!("analyser attenuator {attenuation:.0}"))
    }

    /// Nominal gain from the input to the mixer.
    fn to_mixer(gains: Gains) -> Db {
        let preamplifier = if gains.preamplifier { PREAMPLIFIER_DB } else { 0.0 };
        Db::new(preamplifier) - gains.attenuation
    }

    /// By how much a displayed level is too high at a frequency.
    fn display_error(&self, frequency: Hertz) -> Db {
        self.level_error + self.response.at(frequency)
    }

    /// The noise behind the filter as it is displayed, as mean power.
    pub(super) fn noise(&self, gains: Gains, bandwidth: Hertz, frequency: Hertz) -> Watts {
        let width = Gaussian::new(bandwidth).noise_bandwidth();
        let benefit = if gains.preamplifier { PREAMPLIFIER_BENEFIT_DB } else { 0.0 };
        let density = self.noise + gains.attenuation - Db::new(benefit) + self.display_error(frequency);
        density.to_watts() * width.get()
    }

    /// What the filter meets while these lines are at the input.
    pub(super) fn scene(&self, input: &[Line], gains: Gains) -> Scene {
        let gain = Self::to_mixer(gains);
        let at_mixer = gain + self.attenuator_error(gains.attenuation);
        let mut voltages: Vec<(Hertz, Complex64)> = input
            .iter()
            .filter(|line| line.power.get() > 0.0)
            .map(|line| (line.frequency, Complex64::from((line.power * at_mixer.power_ratio()).get().sqrt())))
            .collect();
        let incoming = voltages.clone();
        let total: f64 = incoming.iter().map(|(_, voltage)| voltage.norm_sqr()).sum();
        for (frequency, voltage) in &incoming {
            for order in [2, 3] {
                self.add_own(order, *frequency, *voltage, &mut voltages);
            }
        }
        let (compression, overloaded) = self.under_load(total);
        let shown = (compression - gain).power_ratio();
        let mut lines: Vec<Line> = voltages
            .into_iter()
            .map(|(frequency, voltage)| {
                let error = self.display_error(frequency).power_ratio();
                Line { frequency, power: Watts::new(voltage.norm_sqr() * shown * error) }
            })
            .collect();
        lines.push(Line { frequency: Hertz::new(0.0), power: (self.feed_through - gain).to_watts() });
        Scene { lines, overloaded }
    }

    /// Adds the mixer's own product of one line as a voltage to what is there at that frequency.
    fn add_own(&self, order: u32, line: Hertz, voltage: Complex64, voltages: &mut Vec<(Hertz, Complex64)>) {
        let level = Watts::new(voltage.norm_sqr().max(f64::MIN_POSITIVE)).to_dbm();
        let Some(product) = self.mixer.own_harmonic(order, level) else { return };
        let frequency = line.harmonic(order);
        let own = Complex64::from_polar(product.to_watts().get().sqrt(), self.phase(order, line));
        match voltages.iter_mut().find(|(there, _)| (*there - frequency).get().abs() < SAME_LINE) {
            Some((_, sum)) => *sum += own,
            None => voltages.push((frequency, own)),
        }
    }

    /// The angle between the mixer's own product of a line and what comes in at that frequency.
    fn phase(&self, order: u32, line: Hertz) -> f64 {
        let stated = self.phases.iter().find(|(known, _)| *known == order).map(|(_, phase)| *phase);
        let drawn = || self.seed.angle(&format!("analyser phase {order}"), line.get().round() as u64);
        stated.unwrap_or_else(drawn)
    }

    fn under_load(&self, total: f64) -> (Db, bool) {
        if total <= 0.0 {
            return (Db::new(0.0), false);
        }
        let total = Watts::new(total).to_dbm();
        (self.mixer.compression_gain(total), self.mixer.is_overloaded(total))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bench::tests::{WHOLE, read};

    /// The front end of the test bench without errors of its own, with the second order at this angle.
    fn exact(phase: f64) -> FrontEnd {
        let mut truth = read(WHOLE).unwrap().analyser.unwrap();
        truth.level_error = Some(Db::new(0.0));
        (truth.response_spread, truth.attenuator_spread) = (Db::new(0.0), Db::new(0.0));
        truth.distortion_phase = vec![(2, phase), (3, 0.0)];
        FrontEnd::new(&truth, Seed(1))
    }

    fn gains(attenuation: f64) -> Gains {
        Gains { attenuation: Db::new(attenuation), preamplifier: false }
    }

    fn line(mhz: f64, dbm: f64) -> Line {
        Line { frequency: Hertz::from_mhz(mhz), power: Dbm::new(dbm).to_watts() }
    }

    #[track_caller]
    fn shown(scene: &Scene, mhz: f64) -> f64 {
        let found = scene.lines.iter().find(|l| (l.frequency.mhz() - mhz).abs() < 1e-6);
        found.unwrap().power.to_dbm().get()
    }

    /// numpy 2.4.6: -150 dBm in 1 Hz, Gaussian 100 kHz, 20 dB of attenuation; 40 dB of path loss before it give
    /// -39.7287 dBm at the connector.
    #[test]
    fn noise_rises_with_bandwidth_and_attenuation() {
        let front_end = exact(0.0);
        let noise = |attenuation, rbw| {
            front_end.noise(gains(attenuation), Hertz::new(rbw), Hertz::from_mhz(290.0)).to_dbm().get()
        };
        assert!((noise(20.0, 100e3) + 40.0 - -39.728_7).abs() < 1e-3);
        assert!((-36.0 - (noise(20.0, 10e3) + 40.0) - 13.728_7).abs() < 1e-3);
        assert!((noise(30.0, 10e3) - noise(20.0, 10e3) - 10.0).abs() < 1e-9);
    }

    /// Second harmonic 2 P - SHI, third 3 P - 2 TOI - 9.54 dB, P = -10 dBm at the mixer; an external line does not
    /// move with the attenuator, an own one falls by 10 or 20 dB a step.
    #[test]
    fn own_harmonics_move_with_the_attenuator() {
        let front_end = exact(0.0);
        let carrier = [line(145.0, 0.0)];
        let low = front_end.scene(&carrier, gains(10.0));
        // Compression at 15 dB below the 1 dB point: 20 log10(1 - 0.10875 · 10^-1.5), numpy 2.4.6.
        let squeezed = -0.029_92;
        assert!((shown(&low, 290.0) - (-55.0 + squeezed)).abs() < 1e-3, "{}", shown(&low, 290.0));
        assert!((shown(&low, 435.0) - (-59.542_4 + squeezed)).abs() < 1e-3);
        let high = front_end.scene(&carrier, gains(20.0));
        let compression = |scene| shown(scene, 145.0);
        let drop = |mhz| (shown(&low, mhz) - compression(&low)) - (shown(&high, mhz) - compression(&high));
        assert!((drop(290.0) - 10.0).abs() < 1e-9 && (drop(435.0) - 20.0).abs() < 1e-9);
    }

    /// numpy 2.4.6: a product 18 dB below a line reads 1.02994 dB high or 1.16870 dB low.
    #[test]
    fn own_products_add_as_voltages() {
        for (phase, error) in [(0.0, 1.029_94), (std::f64::consts::PI, -1.168_70)] {
            // -40 dBm at the mixer makes -125 dBm there, which is -115 dBm at the input.
            let lines = [line(145.0, -30.0), line(290.0, -115.0 + 18.0)];
            let scene = exact(phase).scene(&lines, gains(10.0));
            assert!((shown(&scene, 290.0) - (-97.0 + error)).abs() < 1e-4, "{}", shown(&scene, 290.0));
        }
    }

    /// numpy 2.4.6: with cos φ = -0.658114 and own and external line alike, a step of 10 dB moves nothing although the
    /// reading is 1.65089 dB low.
    #[test]
    fn one_step_can_be_fooled() {
        let front_end = exact((-0.658_114f64).acos());
        let lines = [line(145.0, -30.0), line(290.0, -115.0)];
        let at = |attenuation| shown(&front_end.scene(&lines, gains(attenuation)), 290.0);
        assert!((at(10.0) - -116.650_89).abs() < 1e-3, "{}", at(10.0));
        assert!((at(20.0) - at(10.0)).abs() < 1e-3);
    }

    #[test]
    fn too_much_at_the_mixer_raises_the_flag() {
        let front_end = exact(0.0);
        assert!(front_end.scene(&[line(145.0, 10.5)], gains(10.0)).overloaded);
        assert!(!front_end.scene(&[line(145.0, 10.5)], gains(20.0)).overloaded);
        assert!(!front_end.scene(&[], gains(0.0)).overloaded);
        assert!(front_end.breaks_at(Watts::new(1.1)) && !front_end.breaks_at(Watts::new(0.9)));
    }
}
