//! Looks at the carrier: against time, at its level, at its width.

use spurline_profile::AnalyserProfile;
use spurline_record::{AnalyserSettings, Detector, Preamplifier};
use spurline_units::{Dbm, Hertz, Seconds};

use super::front_end::least_attenuation;
use super::{Look, VIDEO, rbw, reference, sweep_time};

const ZERO_SPAN_RBW: f64 = 300e3;
const ZERO_SPAN_TIME: f64 = 0.2;
/// A point every 0.2 ms: fast enough to see a tone of speech as what it is.
const ZERO_SPAN_POINTS: u32 = 1001;
/// How wide the sweep over a carrier is: all of it must lie within the analyser's range.
pub(crate) const CARRIER_SPAN: Hertz = Hertz::new(1e6);
const CARRIER_RBW: f64 = 100e3;
const CARRIER_TIME: f64 = 0.02;
const CARRIER_SWEEPS: u32 = 3;
const POINTS: u32 = 401;
/// Narrow enough to see a tone below speech, wide enough for 5 kHz of deviation to both sides several times over.
const WIDTH_RBW: f64 = 1e3;
const WIDTH_SPAN: f64 = 50e3;
const WIDTH_TIME: f64 = 0.125;

/// Power against time at the carrier: single samples, in which nothing is averaged away.
#[must_use]
pub fn zero_span_look(profile: &AnalyserProfile, carrier: Hertz, at_input: Dbm) -> Look {
    let settings = AnalyserSettings {
        centre: carrier,
        span: Hertz::new(0.0),
        rbw: rbw(profile, ZERO_SPAN_RBW),
        vbw: rbw(profile, ZERO_SPAN_RBW * VIDEO),
        points: ZERO_SPAN_POINTS.min(profile.ranges.most_points),
        sweep_time: Seconds::new(ZERO_SPAN_TIME),
        detector: Detector::Sample,
        ..carrier_look(profile, carrier, at_input).settings
    };
    Look { settings, sweeps: 1 }
}

/// The carrier.
#[must_use]
pub fn carrier_look(profile: &AnalyserProfile, carrier: Hertz, at_input: Dbm) -> Look {
    let rbw = rbw(profile, CARRIER_RBW);
    let span = CARRIER_SPAN;
    let settings = AnalyserSettings {
        centre: carrier,
        span,
        rbw,
        vbw: Hertz::new(rbw.get() * VIDEO),
        points: POINTS.min(profile.ranges.most_points),
        sweep_time: sweep_time(profile, span, rbw, CARRIER_TIME),
        detector: Detector::Peak,
        attenuation: least_attenuation(profile, at_input),
        preamplifier: Preamplifier::Off,
        reference_level: reference(at_input),
    };
    Look { settings, sweeps: CARRIER_SWEEPS }
}

/// How wide the carrier is, and where: a modulation that nobody spoke of shows here.
#[must_use]
pub fn width_look(profile: &AnalyserProfile, carrier: Hertz, at_input: Dbm) -> Look {
    let rbw = rbw(profile, WIDTH_RBW);
    let span = Hertz::new(WIDTH_SPAN);
    let settings = AnalyserSettings {
        span,
        rbw,
        vbw: Hertz::new(rbw.get() * VIDEO),
        sweep_time: sweep_time(profile, span, rbw, WIDTH_TIME),
        ..carrier_look(profile, carrier, at_input).settings
    };
    Look { settings, sweeps: 1 }
}
