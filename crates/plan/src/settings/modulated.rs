//! What modulation asks of a look: every point must see what it is to show.

use spurline_record::Detector;
use spurline_units::{Hertz, Seconds};

use super::Look;
use crate::model::Modulation;

/// Enough for the floor beside a line, and not more: each point takes a whole period.
const BURST_POINTS: u32 = 101;
/// With that many points over the span of a line, a narrower one would pass between two bursts.
pub(crate) const NARROWEST_OF_BURSTS: Hertz = Hertz::new(10e3);
/// A point must see a period whole, wherever it begins.
const WHOLE: f64 = 1.05;

/// The look as a carrier with this modulation needs it.
///
/// A burst is caught by the peak detector with a whole period for each point; a mean takes a whole period of the tone.
#[must_use]
pub fn suited(look: Look, modulation: &Modulation) -> Look {
    let mut settings = look.settings;
    let at_least = |period: Seconds, points: u32| period * (WHOLE * f64::from(points));
    match modulation {
        Modulation::None => return look,
        Modulation::Burst { period, .. } => {
            if settings.span.get() > 0.0 {
                settings.points = settings.points.min(BURST_POINTS);
                settings.sweep_time = settings.sweep_time.max(at_least(*period, settings.points));
                settings.detector = Detector::Peak;
                return Look { settings, sweeps: 1 };
            }
            // Whole periods, so that the share of time is what it is.
            let periods = (settings.sweep_time / *period).ceil().max(3.0);
            settings.sweep_time = *period * periods;
        }
        Modulation::Tone { tone, .. } | Modulation::Am { tone, .. } => {
            if settings.span > Hertz::new(0.0) {
                let period = Seconds::new(1.0 / tone.get());
                settings.sweep_time = settings.sweep_time.max(at_least(period, settings.points));
                settings.detector = Detector::Rms;
            }
        }
    }
    Look { settings, ..look }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::settings::specimen as look;

    /// 101 points of a frame of 60 ms take 6.06 s, 401 points of a tone of 1 kHz 0.401 s; 5 % more is allowed for.
    #[test]
    fn every_point_sees_a_period() {
        let burst = Modulation::Burst { on: Seconds::new(0.03), period: Seconds::new(0.06) };
        let found = suited(look(), &burst);
        assert!((found.settings.sweep_time.get() - 6.363).abs() < 1e-9 && found.sweeps == 1);
        assert_eq!(found.settings.detector, Detector::Peak);
        let am = Modulation::Am { depth: 0.3, tone: Hertz::new(1e3) };
        assert!((suited(look(), &am).settings.sweep_time.get() - 0.421_05).abs() < 1e-9);
        assert_eq!(suited(look(), &Modulation::None), look());
    }
}
