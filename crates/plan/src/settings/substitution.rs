//! Looks at a generator's line, straight and through a path: with the same settings, so that what is wrong with them
//! cancels.

use spurline_profile::AnalyserProfile;
use spurline_record::{AnalyserSettings, Detector, Preamplifier};
use spurline_units::{Dbm, Hertz};

use super::front_end::least_attenuation;
use super::{Look, VIDEO, rbw, reference, sweep_time};

/// The span of such a look.
pub(crate) const SUBSTITUTION_SPAN: f64 = 50e3;
const RBW: f64 = 3e3;
const POINTS: u32 = 401;
const TIME: f64 = 0.05;
const SWEEPS: u32 = 3;

/// The look at a line that is `straight` at the analyser's input before the path is put in.
#[must_use]
pub fn substitution_look(profile: &AnalyserProfile, frequency: Hertz, straight: Dbm) -> Look {
    let rbw = rbw(profile, RBW);
    let span = Hertz::new(SUBSTITUTION_SPAN);
    let settings = AnalyserSettings {
        centre: frequency,
        span,
        rbw,
        vbw: Hertz::new(rbw.get() * VIDEO),
        points: POINTS.min(profile.ranges.most_points),
        sweep_time: sweep_time(profile, span, rbw, TIME),
        detector: Detector::Rms,
        attenuation: least_attenuation(profile, straight),
        preamplifier: Preamplifier::Off,
        reference_level: reference(straight),
    };
    Look { settings, sweeps: SWEEPS }
}
