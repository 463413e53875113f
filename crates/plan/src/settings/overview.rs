//! Looks for a carrier that nobody has named: all that can be seen first, then nearer and nearer.

use spurline_profile::AnalyserProfile;
use spurline_record::AnalyserSettings;
use spurline_units::{Dbm, Hertz, Range};

use super::front_end::least_attenuation;
use super::wide::wide_looks;
use super::{Look, VIDEO, carrier_look, rbw, sweep_time};

/// Wide enough that all of it is swept in a fraction of a second, narrow enough that a carrier stands out of the noise.
const OVERVIEW_RBW: f64 = 300e3;
const NEARER_SPAN: f64 = 3e6;
const NEARER_RBW: f64 = 30e3;
const NEAREST_SPAN: f64 = 100e3;
const NEAREST_RBW: f64 = 3e3;
const TIME: f64 = 0.05;

/// The sweeps that show a range once, with attenuation for the strongest that may come.
#[must_use]
pub fn overview_looks(profile: &AnalyserProfile, range: Range<Hertz>, at_input: Dbm) -> Vec<Look> {
    let attenuation = least_attenuation(profile, at_input);
    wide_looks(profile, range, rbw(profile, OVERVIEW_RBW), attenuation, at_input, 1)
}

/// Two looks about a line that an overview showed, the second about what the first has found.
#[must_use]
pub fn nearer_looks(profile: &AnalyserProfile, about: Hertz, at_input: Dbm) -> [Look; 2] {
    [(NEARER_SPAN, NEARER_RBW), (NEAREST_SPAN, NEAREST_RBW)].map(|(span, bandwidth)| {
        let (span, rbw) = (Hertz::new(span), rbw(profile, bandwidth));
        let settings = AnalyserSettings {
            span,
            rbw,
            vbw: rbw * VIDEO,
            sweep_time: sweep_time(profile, span, rbw, TIME),
            ..carrier_look(profile, about, at_input).settings
        };
        Look { settings, sweeps: 1 }
    })
}
