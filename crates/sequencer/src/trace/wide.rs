//! Power over a width: what a line carries that is wider than the filter it is read through.

use spurline_judge::{Trace, channel_power, occupied};
use spurline_record::AnalyserSettings;
use spurline_units::{Dbm, Hertz};

/// A trace with its frequencies.
pub(crate) fn placed<'a>(levels: &'a [f64], settings: &AnalyserSettings) -> Trace<'a> {
    Trace { first: settings.frequency_of(0), spacing: settings.spacing(), levels }
}

/// The power within `width` around `centre`, of a trace of mean powers, whose filter passes noise like a rectangle of
/// `noise_bandwidth`; `None` where the trace does not reach so far.
pub(crate) fn integrated(
    levels: &[f64],
    settings: &AnalyserSettings,
    centre: Hertz,
    width: Hertz,
    noise_bandwidth: Hertz,
) -> Option<Dbm> {
    let half = width / 2.0;
    channel_power(&placed(levels, settings), centre - half, centre + half, noise_bandwidth)
}

/// The width that holds `share` of the power of a trace, as much being left out below it as above.
pub(crate) fn width_of(levels: &[f64], settings: &AnalyserSettings, share: f64) -> Option<Hertz> {
    if settings.spacing().get() <= 0.0 {
        return None;
    }
    occupied(&placed(levels, settings), share).map(|edges| edges.width())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::trace::specimen as settings;

    /// numpy 2.4.6: noise of -100 dBm in a Gaussian bandwidth of 10 kHz over 25 kHz is -96.2919 dBm; eleven points
    /// one unit apart at -60 dBm, a noise bandwidth of 1.5 units and a width from 2.25 to 7.75 give -54.3573 dBm.
    #[test]
    fn power_over_a_width() {
        let flat = settings(1001, 100e3, 10e3);
        let noise = Hertz::new(1.064_467 * 10e3);
        let found = integrated(&[-100.0; 1001], &flat, flat.centre, Hertz::new(25e3), noise).unwrap();
        assert!((found.get() - -96.291_9).abs() < 1e-3, "{found}");
        let coarse = settings(11, 10e3, 1e3);
        let unit = Hertz::new(1.5e3);
        let found = integrated(&[-60.0; 11], &coarse, coarse.centre, Hertz::new(5.5e3), unit).unwrap();
        assert!((found.get() - -54.357_3).abs() < 1e-3, "{found}");
        assert_eq!(integrated(&[-60.0; 11], &coarse, coarse.centre, Hertz::new(12e3), unit), None);
    }

    /// numpy 2.4.6: a line through a Gaussian filter, points half a bandwidth apart, comes to itself within 6e-6 dB.
    #[test]
    fn a_line_integrates_to_itself() {
        let settings = settings(201, 100e3, 1e3);
        let levels: Vec<f64> = (0..201)
            .map(|point| {
                let offset = (settings.frequency_of(point) - settings.centre).get() + 130.0;
                -20.0 - 3.010_3 * (2.0 * offset / 1e3).powi(2)
            })
            .collect();
        let noise = Hertz::new(1.064_467 * 1e3);
        let found = integrated(&levels, &settings, settings.centre, Hertz::new(20e3), noise).unwrap();
        assert!((found.get() - -20.0).abs() < 1e-4, "{found}");
    }

    /// scipy 1.17.1: 99 % of a line lie within 2187.7 Hz behind a Gaussian filter of 1 kHz. By hand: of 0.01, 0.04,
    /// 0.9, 0.04 and 0.01, 99 % lie within four points, 90 % within one.
    #[test]
    fn width_of_a_share() {
        let fine = settings(4001, 20e3, 1e3);
        let levels: Vec<f64> = (0..4001)
            .map(|point| -3.010_3 * (2.0 * (fine.frequency_of(point) - fine.centre).get() / 1e3).powi(2))
            .collect();
        let width = width_of(&levels, &fine, 0.99).unwrap().get();
        assert!((width - 2187.7).abs() < 5.0, "{width}");
        let five = settings(5, 4.0, 1.0);
        let levels: Vec<f64> = [0.01f64, 0.04, 0.9, 0.04, 0.01].map(|power| 10.0 * power.log10()).to_vec();
        assert!((width_of(&levels, &five, 0.99).unwrap().get() - 4.0).abs() < 1e-6);
        assert!((width_of(&levels, &five, 0.90).unwrap().get() - 1.0).abs() < 1e-6);
    }
}
