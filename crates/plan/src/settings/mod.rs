//! Which settings a look with the analyser takes, chosen before anything is keyed.

mod carrier;
mod front_end;
mod line;
mod modulated;
mod noise;
mod overview;
mod spectrum;
mod substitution;
mod tone;
mod wide;

use std::time::Duration;

use spurline_profile::AnalyserProfile;
use spurline_record::AnalyserSettings;
use spurline_units::{Dbm, Hertz, Seconds};

pub(crate) use carrier::CARRIER_SPAN;
pub use carrier::{carrier_look, width_look, zero_span_look};
pub use front_end::own_product_at_input;
pub(crate) use front_end::{least_attenuation, steps};
pub use line::{CARRIER_ERROR, Hindrance, LineTask, first_look, next_look};
pub(crate) use line::{LINE_SPAN, Rooms, rooms, span_of, usual_reference};
pub(crate) use modulated::NARROWEST_OF_BURSTS;
pub use modulated::suited;
pub(crate) use noise::noise_height;
pub use noise::{noise_at_input, reach};
pub use overview::{nearer_looks, overview_looks};
pub(crate) use spectrum::Seen;
pub(crate) use substitution::SUBSTITUTION_SPAN;
pub use substitution::substitution_look;
pub use tone::{lines_of, set_up_looks, tone_look};
pub(crate) use wide::bandwidths;
pub use wide::{peak_height, wide_looks};

/// One look with the analyser.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Look {
    /// The settings.
    pub settings: AnalyserSettings,
    /// How many sweeps are taken and kept.
    pub sweeps: u32,
}

impl Look {
    /// How long all its sweeps take.
    #[must_use]
    pub fn time(&self) -> Seconds {
        self.settings.sweep_time * f64::from(self.sweeps)
    }

    /// The same with the round trips that it takes.
    #[must_use]
    pub fn time_on_the_wire(&self) -> Seconds {
        self.time() + Seconds::new(ROUND_TRIPS)
    }
}

/// After key down: amplifier ramp, synthesiser, sensor.
pub const SETTLE: Duration = Duration::from_millis(500);
/// After a new tone: the unit's audio path, a limiter's time constants among it (common practice: well within 0.2 s).
pub const TONE_SETTLE: Duration = Duration::from_millis(200);
/// A search for a level that has not found it after so many looks does not find it: a modulator in line takes three.
pub const MOST_SET_UP_LOOKS: u32 = 12;
/// After a relay of the path has moved: a coaxial relay has settled within 20 ms (common practice).
pub const SWITCH_SETTLE: Duration = Duration::from_millis(50);
/// A carrier that varies more in zero span, or from the beginning of a key-down to its end, is not constant.
pub const CARRIER_CHANGE_DB: f64 = 0.5;
/// Meter and analyser may differ by this many standard uncertainties of their difference: twice would reject
/// one good channel in twenty.
pub const CROSS_CHECK_FACTOR: f64 = 3.0;

/// What a look takes beside its sweeps.
const ROUND_TRIPS: f64 = 0.06;

/// Video bandwidth over RBW: wide enough not to smooth in dB.
pub(crate) const VIDEO: f64 = 3.0;
/// No reference level is above this, in dBm.
pub(crate) const HIGHEST_REFERENCE: f64 = 30.0;
/// Headroom of the reference level over what is expected.
const HEADROOM: f64 = 10.0;

/// Bandwidths come in steps of 1, 3, 10: the nearest one within the analyser's range.
fn rbw(profile: &AnalyserProfile, wanted: f64) -> Hertz {
    let decade = 10f64.powf(wanted.log10().floor());
    let ratio = wanted / decade;
    let step = if ratio < 1.7 {
        1.0
    } else if ratio < 5.5 {
        3.0
    } else {
        10.0
    };
    Hertz::new(decade * step).min(profile.ranges.rbw.high()).max(profile.ranges.rbw.low())
}

fn sweep_time(profile: &AnalyserProfile, span: Hertz, rbw: Hertz, wanted: f64) -> Seconds {
    Seconds::new(wanted.max(profile.ranges.sweep_factor * span.get() / (rbw.get() * rbw.get())))
}

pub(crate) fn reference(expected: Dbm) -> Dbm {
    Dbm::new((expected.get() + HEADROOM).ceil().clamp(-80.0, HIGHEST_REFERENCE))
}

/// A look as tests need one.
#[cfg(test)]
fn specimen() -> Look {
    use spurline_record::{Detector, Preamplifier};
    use spurline_units::Db;

    let settings = AnalyserSettings {
        centre: Hertz::from_mhz(288.4),
        span: Hertz::new(300e3),
        rbw: Hertz::new(30e3),
        vbw: Hertz::new(90e3),
        points: 401,
        sweep_time: Seconds::new(0.05),
        detector: Detector::Rms,
        attenuation: Db::new(20.0),
        preamplifier: Preamplifier::Off,
        reference_level: Dbm::new(0.0),
    };
    Look { settings, sweeps: 5 }
}
