//! From a tone at the microphone input to what it makes of the carrier: sensitivity, audio response, limiter.

use spurline_units::{Hertz, Volts};

use crate::bench::{Depth, Makes, MicrophoneTruth, Swing};
use crate::draw::Seed;

/// A tone at the microphone input, r.m.s.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Audio {
    pub(crate) frequency: Hertz,
    pub(crate) level: Volts,
}

/// What a tone makes of the carrier.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Voice {
    Fm(Swing),
    Am(Depth),
}

/// A modulator with its sensitivity drawn.
#[derive(Clone, Debug)]
pub(crate) struct Microphone {
    truth: MicrophoneTruth,
    /// What the drawn error makes of a level.
    gain: f64,
}

/// The quality of the hump that its response is: half an octave beside the maximum it is about 1 dB down.
const QUALITY: f64 = 0.75;
/// An index beyond that of the files' own modulations has more lines than anybody looks at.
const MOST_INDEX: f64 = 50.0;
/// Less than this is no modulation.
const NOTHING: f64 = 1e-6;

impl Microphone {
    pub(crate) fn new(truth: &MicrophoneTruth, seed: Seed, serial: &str) -> Self {
        let error = truth.spread * seed.normal(&format!("unit {serial} microphone"));
        Self { truth: truth.clone(), gain: error.amplitude_ratio() }
    }

    /// What a tone makes of the carrier; `None` if that is nothing to speak of.
    pub(crate) fn voice(&self, audio: Audio) -> Option<Voice> {
        let tone = audio.frequency;
        let drive = audio.level / self.truth.at * self.gain * self.response(tone);
        match self.truth.makes {
            Makes::Deviation { deviation, at_most } => {
                // Behind the limiter a low-pass leaves the tone alone of what clipping makes.
                let deviation = (deviation * drive).min(at_most).min(tone * MOST_INDEX);
                let swing = Swing { deviation, tone };
                (swing.index() > NOTHING).then_some(Voice::Fm(swing))
            }
            Makes::Depth { depth, at_most } => {
                let depth = (depth * drive).min(at_most);
                (depth > NOTHING).then_some(Voice::Am(Depth { depth, tone }))
            }
        }
    }

    /// Over that at its maximum: a hump of one resonance.
    fn response(&self, tone: Hertz) -> f64 {
        let apart = tone / self.truth.maximum_response - self.truth.maximum_response / tone;
        (1.0 + (QUALITY * apart).powi(2)).sqrt().recip()
    }
}

impl Voice {
    /// By frequency, if it is so.
    pub(super) fn swing(self) -> Option<Swing> {
        if let Self::Fm(swing) = self { Some(swing) } else { None }
    }

    /// By voltage, if it is so.
    pub(super) fn depth(self) -> Option<Depth> {
        if let Self::Am(depth) = self { Some(depth) } else { None }
    }
}

#[cfg(test)]
mod tests {
    use spurline_units::Db;

    use super::*;

    fn microphone(makes: Makes, spread: f64, seed: u64) -> Microphone {
        let truth = MicrophoneTruth {
            makes,
            at: Volts::new(0.01),
            spread: Db::new(spread),
            maximum_response: Hertz::new(2500.0),
        };
        Microphone::new(&truth, Seed(seed), "U")
    }

    fn deviation(microphone: &Microphone, hertz: f64, volts: f64) -> f64 {
        let audio = Audio { frequency: Hertz::new(hertz), level: Volts::new(volts) };
        microphone.voice(audio).and_then(Voice::swing).map_or(0.0, |swing| swing.deviation.get())
    }

    /// Twice the level is twice the deviation, up to the limiter; half an octave beside the maximum of the response is
    /// weaker by the formula of a resonance: 1 / sqrt(1 + (0.75 (sqrt 2 - 1 / sqrt 2))²).
    #[test]
    fn deviation_goes_with_the_level_until_the_limiter_holds_it() {
        let fm = Makes::Deviation { deviation: Hertz::new(2000.0), at_most: Hertz::new(4800.0) };
        let unit = microphone(fm, 0.0, 1);
        for (volts, expected) in [(0.005, 1000.0), (0.01, 2000.0), (0.02, 4000.0), (0.1, 4800.0)] {
            assert!((deviation(&unit, 2500.0, volts) - expected).abs() < 1e-9);
        }
        let beside = deviation(&unit, 2500.0 * 2f64.sqrt(), 0.01);
        assert!((beside - 2000.0 / (1.0f64 + 0.5625 * 0.5).sqrt()).abs() < 1e-6, "{beside}");
        assert!(unit.voice(Audio { frequency: Hertz::new(1e3), level: Volts::new(0.0) }).is_none());
        let drawn: Vec<f64> =
            (1..4).map(|seed| deviation(&microphone(fm, 2.0, seed), 2500.0, 0.01)).collect();
        assert!(drawn[0] != drawn[1] && drawn[1] != drawn[2], "{drawn:?}");
    }

    #[test]
    fn amplitude_clips() {
        let unit = microphone(Makes::Depth { depth: 0.3, at_most: 0.9 }, 0.0, 1);
        let depth = |volts| {
            let audio = Audio { frequency: Hertz::new(2500.0), level: Volts::new(volts) };
            unit.voice(audio).and_then(Voice::depth).unwrap().depth
        };
        assert!((depth(0.02) - 0.6).abs() < 1e-12 && (depth(1.0) - 0.9).abs() < 1e-12);
    }
}
