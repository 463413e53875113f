//! The instruments of a drawn bench: what their profiles promise, and what they are.

use super::draws::Draws;
use super::stated::{Spread, Stated};

/// A spectrum analyser.
#[derive(Clone, Debug)]
pub(super) struct Analyser {
    /// Where its range ends, in Hz.
    pub(super) highest: f64,
    /// The most that its attenuator takes away, dB.
    pub(super) attenuation: f64,
    /// Noise in 1 Hz, dBm: as stated, and as it is.
    pub(super) noise: [f64; 2],
    /// Second harmonic intercept at the mixer, dBm: as guaranteed, and as it is.
    pub(super) second_intercept: [f64; 2],
    /// Third order intercept at the mixer, dBm: as guaranteed, and as it is.
    pub(super) third_intercept: [f64; 2],
    /// Of its input, as stated and as it is.
    pub(super) vswr: f64,
    pub(super) accuracy: Accuracy,
    /// Whether its errors are drawn from what it promises; else it has none.
    pub(super) errs: bool,
    /// An error of all levels instead of the one that is drawn, dB.
    pub(super) level_error: Option<f64>,
    /// The shape of its resolution filters, and their noise bandwidth over the nominal one.
    pub(super) filter: (&'static str, f64),
    /// Between its own products of order 2 and 3 and the line that comes in there, degrees.
    pub(super) phases: [f64; 2],
    /// More keys of its truth, each with a comma before it.
    pub(super) more: String,
}

/// Shapes of resolution filters, with their noise bandwidths over their half-power bandwidths: integrals of `2^-(2x)^2` and
/// of `(1 + (2x)^2 (2^(1/n) - 1))^-n` for n = 4 and 5 (scipy 1.17.1, `integrate.quad`).
const FILTERS: [(&str, f64); 3] = [("gaussian", 1.064), ("four-pole", 1.128), ("five-pole", 1.114)];

/// What a profile says of an analyser's levels.
#[derive(Clone, Copy, Debug)]
pub(super) struct Accuracy {
    pub(super) absolute: Stated,
    pub(super) response: Stated,
    pub(super) attenuator: Stated,
    pub(super) bandwidth: Stated,
    pub(super) scale: Stated,
}

/// A power meter.
#[derive(Clone, Debug)]
pub(super) struct Meter {
    pub(super) vswr: f64,
    pub(super) calibration_factor: Stated,
    pub(super) reference: Stated,
    pub(super) linearity: Stated,
    /// The error of all levels, dB.
    pub(super) level_error: f64,
}

/// What a power meter may show with nothing at the sensor, nW, anywhere within.
const ZERO: f64 = 50.0;

impl Analyser {
    /// One whose errors are drawn from what it promises.
    pub(super) fn draw(draws: &mut Draws) -> Self {
        const BOTH: [Spread; 2] = [Spread::Normal, Spread::Rectangular];
        let accuracy = Accuracy {
            absolute: Stated::new(draws.figure(0.3, 0.8), Spread::Normal),
            response: Stated::new(draws.figure(0.3, 1.0), draws.one_of(&BOTH)),
            attenuator: Stated::new(draws.figure(0.1, 0.3), draws.one_of(&BOTH)),
            bandwidth: Stated::new(draws.figure(0.05, 0.15), Spread::Rectangular),
            scale: Stated::new(draws.figure(0.1, 0.3), Spread::Rectangular),
        };
        let noise = draws.figure(-153.0, -140.0);
        let second = draws.figure(30.0, 60.0);
        let third = draws.figure(8.0, 20.0);
        Self {
            highest: draws.one_of(&[3e9, 3e9, 6e9]),
            attenuation: draws.one_of(&[30.0, 50.0, 50.0]),
            noise: [noise, noise - draws.between(0.0, 3.0)],
            second_intercept: [second, second + better(draws, 10.0)],
            third_intercept: [third, third + better(draws, 6.0)],
            vswr: draws.figure(1.2, 1.6),
            accuracy,
            errs: true,
            level_error: None,
            filter: draws.one_of(&FILTERS),
            phases: [draws.between(-180.0, 180.0), draws.between(-180.0, 180.0)],
            more: String::new(),
        }
    }

    /// One without any error.
    pub(super) fn exact() -> Self {
        let normal = |within| Stated::new(within, Spread::Normal);
        let within = |within| Stated::new(within, Spread::Rectangular);
        Self {
            highest: 3e9,
            attenuation: 50.0,
            noise: [-148.0, -150.0],
            second_intercept: [45.0, 45.0],
            third_intercept: [15.0, 15.0],
            vswr: 1.0,
            accuracy: Accuracy {
                absolute: normal(0.6),
                response: normal(0.6),
                attenuator: normal(0.2),
                bandwidth: within(0.1),
                scale: within(0.2),
            },
            errs: false,
            level_error: None,
            filter: FILTERS[0],
            phases: [0.0, 0.0],
            more: String::new(),
        }
    }

    /// Its profile.
    pub(super) fn profile(&self) -> String {
        const SHIPPED: &str = include_str!("../../../config/profiles/analyser-generic.yaml");
        let Accuracy { absolute, response, attenuator, bandwidth, scale } = self.accuracy;
        let figures = [
            ("frequency:", format!("9 kHz..{} GHz", self.highest / 1e9)),
            ("attenuation:", format!("0..{} dB", self.attenuation)),
            ("second_intercept:", format!("{} dBm", self.second_intercept[0])),
            ("third_intercept:", format!("{} dBm", self.third_intercept[0])),
            ("vswr:", self.vswr.to_string()),
            ("in_1_hz:", format!("{} dBm", self.noise[0])),
            ("bandwidth_over_rbw:", self.filter.1.to_string()),
            ("absolute_level:", absolute.text()),
            ("frequency_response:", response.text()),
            ("attenuator_switching:", attenuator.text()),
            ("bandwidth_switching:", bandwidth.text()),
            ("scale_fidelity:", scale.text()),
        ];
        with_figures(SHIPPED, &figures)
    }

    /// What it is, as keys of a simulated bench.
    pub(super) fn truth(&self) -> String {
        let level = self.level_error.map_or(String::new(), |level| format!("level_error: {level:.6} dB, "));
        format!(
            "{{ range: 9 kHz..{} GHz, noise: {:.4} dBm, second_intercept: {:.6} dBm, third_intercept: {:.6} dBm, \
             {level}vswr: {}, filter: {}, distortion_phase: {{ 2: {:.4} deg, 3: {:.4} deg }}, {}{} }}",
            self.highest / 1e9,
            self.noise[1],
            self.second_intercept[1],
            self.third_intercept[1],
            self.vswr,
            self.filter.0,
            self.phases[0],
            self.phases[1],
            self.errors(),
            self.more,
        )
    }

    /// The simulator draws them from the seed of the bench, spread as the profile states them.
    fn errors(&self) -> String {
        if !self.errs {
            return "level_spread: 0 dB, response_spread: 0 dB, attenuator_spread: 0 dB".to_owned();
        }
        let Accuracy { absolute, response, attenuator, bandwidth, scale } = self.accuracy;
        format!(
            "errors: {{ absolute_level: {}, frequency_response: {}, attenuator_switching: {}, bandwidth_switching: {}, \
             scale_fidelity: {} }}",
            absolute.text(),
            response.text(),
            attenuator.text(),
            bandwidth.text(),
            scale.text()
        )
    }
}

/// By how much an instrument is better than it is guaranteed to be, up to `most`; some are no better.
fn better(draws: &mut Draws, most: f64) -> f64 {
    if draws.chance(0.2) { 0.0 } else { draws.between(0.0, most) }
}

impl Meter {
    /// One whose errors are drawn from what it promises.
    pub(super) fn draw(draws: &mut Draws) -> Self {
        let calibration_factor = Stated::new(draws.figure(0.05, 0.15), Spread::Normal);
        let reference = Stated::new(draws.figure(0.03, 0.06), Spread::Rectangular);
        let linearity = Stated::new(draws.figure(0.02, 0.06), Spread::Rectangular);
        Self {
            vswr: draws.figure(1.05, 1.2),
            level_error: calibration_factor.error(draws) + reference.error(draws) + linearity.error(draws),
            calibration_factor,
            reference,
            linearity,
        }
    }

    /// One without any error.
    pub(super) fn exact() -> Self {
        Self {
            vswr: 1.0,
            calibration_factor: Stated::new(0.07, Spread::Normal),
            reference: Stated::new(0.04, Spread::Rectangular),
            linearity: Stated::new(0.03, Spread::Rectangular),
            level_error: 0.0,
        }
    }

    /// Its profile.
    pub(super) fn profile(&self) -> String {
        const SHIPPED: &str = include_str!("../../../config/profiles/power-meter-generic.yaml");
        let figures = [
            ("zero:", format!("{ZERO} nW")),
            ("vswr:", self.vswr.to_string()),
            ("calibration_factor:", self.calibration_factor.text()),
            ("reference:", self.reference.text()),
            ("linearity:", self.linearity.text()),
        ];
        with_figures(SHIPPED, &figures)
    }

    /// What it is, as keys of a simulated bench.
    pub(super) fn truth(&self) -> String {
        let zero = Stated::new(ZERO, Spread::Rectangular).standard();
        format!("{{ level_error: {:.6} dB, vswr: {}, zero: {zero:.4} nW }}", self.level_error, self.vswr)
    }
}

/// A shipped profile with other figures: each key stands on a line of its own, once with a figure.
fn with_figures(shipped: &str, figures: &[(&str, String)]) -> String {
    let mut put = vec![false; figures.len()];
    let lines: Vec<String> = shipped
        .lines()
        .map(|line| {
            let text = line.trim_start();
            let figure = figures.iter().position(|(key, _)| {
                // A command is a text in quotes, never a figure.
                text.strip_prefix(key).is_some_and(|rest| !rest.trim_start().starts_with('"'))
            });
            match figure {
                Some(place) if !put[place] => {
                    put[place] = true;
                    let (key, figure) = &figures[place];
                    format!("{}{key} {figure}", &line[..line.len() - text.len()])
                }
                Some(_) | None => line.to_owned(),
            }
        })
        .collect();
    let missing = put.iter().position(|put| !put).map(|place| figures[place].0);
    assert_eq!(missing, None, "the shipped profile has every figure that is drawn");
    lines.join("\n") + "\n"
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_take_the_place_of_those_that_are_shipped() {
        let analyser = Analyser { noise: [-151.5, -152.0], ..Analyser::exact() };
        let profile = analyser.profile();
        assert!(profile.contains("in_1_hz: -151.5 dBm\n") && !profile.contains("-148 dBm"), "{profile}");
        let meter = Meter { vswr: 1.07, ..Meter::exact() }.profile();
        assert!(meter.contains("vswr: 1.07\n") && meter.contains("frequency: \"FREQ {}\""), "{meter}");
    }

    #[test]
    #[should_panic(expected = "every figure that is drawn")]
    fn a_figure_without_its_place_is_found_out() {
        with_figures("a: 1\n", &[("b:", "2".to_owned())]);
    }
}
