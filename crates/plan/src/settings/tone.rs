//! Looks that tell the lines apart which a tone makes of a carrier.

use spurline_profile::AnalyserProfile;
use spurline_record::{AnalyserSettings, Detector};
use spurline_units::{Dbm, Hertz};

use super::{Look, VIDEO, carrier_look, sweep_time};
use crate::measure::SetUp;
use crate::model::Modulation;

/// A line ten bandwidths away is at least 70 dB down behind a filter of four synchronously tuned poles, and farther
/// behind any other that is in use.
const TONE_OVER_RBW: f64 = 10.0;
/// Points are so much closer than the bandwidth.
const POINTS_IN_RBW: f64 = 3.0;
/// Lines beyond the index that still count: the next one is 30 dB below the strongest at least.
const BEYOND_INDEX: f64 = 2.0;
/// A modulator that was not seen yet may make half as much again as it is expected to.
const UNKNOWN: f64 = 1.5;
/// A carrier may be so far off its channel: what the loosest tolerance for a handheld is, 5 ppm.
const OFF_CHANNEL: f64 = 5e-6;
/// Of amplitude modulation, the tone and what clipping adds.
const AM_LINES: u32 = 2;
const TIME: f64 = 0.1;

/// A look at a carrier with a tone, with `lines` lines to either side.
#[must_use]
pub fn tone_look(profile: &AnalyserProfile, carrier: Hertz, at_input: Dbm, tone: Hertz, lines: u32) -> Look {
    let rbw = below(profile, tone.get() / TONE_OVER_RBW);
    let half = tone * f64::from(lines) + tone * 0.5 + carrier * OFF_CHANNEL;
    let span = half * 2.0;
    let points = (span.get() / rbw.get() * POINTS_IN_RBW).ceil() + 1.0;
    let settings = AnalyserSettings {
        span,
        rbw,
        vbw: Hertz::new(rbw.get() * VIDEO),
        points: (points as u32).clamp(201, profile.ranges.most_points.max(201)),
        sweep_time: sweep_time(profile, span, rbw, TIME),
        detector: Detector::Peak,
        ..carrier_look(profile, carrier, at_input).settings
    };
    Look { settings, sweeps: 1 }
}

/// How many lines to either side a modulation has that are worth a look.
#[must_use]
pub fn lines_of(modulation: &Modulation) -> u32 {
    match modulation {
        Modulation::Tone { deviation, tone } => ((*deviation / *tone).ceil() + BEYOND_INDEX) as u32,
        Modulation::Am { .. } => AM_LINES,
        Modulation::None | Modulation::Burst { .. } => 0,
    }
}

/// The looks of a set-up, each with the lines to either side that it shows: one at the level that is searched for, and
/// one at what the carrier then carries.
#[must_use]
pub fn set_up_looks(
    profile: &AnalyserProfile,
    carrier: Hertz,
    at_input: Dbm,
    set_up: &SetUp,
) -> [(Look, u32); 2] {
    let (target, _) = set_up.target();
    let searched = match set_up.expected() {
        Modulation::Tone { .. } => {
            Modulation::Tone { deviation: Hertz::new(target * UNKNOWN), tone: set_up.searched_with() }
        }
        other => other,
    };
    [(searched, set_up.searched_with()), (set_up.expected(), set_up.tone)].map(|(modulation, tone)| {
        let lines = lines_of(&modulation);
        (tone_look(profile, carrier, at_input, tone, lines), lines)
    })
}

/// The widest of the steps 1, 3, 10 that is not above what is wanted.
fn below(profile: &AnalyserProfile, wanted: f64) -> Hertz {
    let decade = 10f64.powf(wanted.log10().floor());
    let step = if wanted / decade >= 3.0 { 3.0 } else { 1.0 };
    Hertz::new(decade * step).min(profile.ranges.rbw.high()).max(profile.ranges.rbw.low())
}
