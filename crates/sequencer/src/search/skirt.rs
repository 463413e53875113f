//! What a sweep shows at its end of a line that stands beyond it: the skirt of the line in this sweep's filter. The line
//! belongs to the sweep that has it in view, which may be one with a much narrower filter.

use spurline_record::Acquisition;
use spurline_units::{Db, Hertz};

use super::peaks;

/// By how many decibels a Gaussian filter is down at half its bandwidth.
const HALF_POWER_DB: f64 = 3.010_3;
/// A skirt is followed so many bandwidths far: a Gaussian filter is 75 dB down there.
const REACH: f64 = 2.5;
/// A filter's skirt is known this well.
const SKIRT_DB: f64 = 6.0;

/// What stands out of each of the sweeps, without the skirts of what stands out of the others.
pub(super) fn peaks_in_view(looks: &[&Acquisition], excursion: Db, holds: u32) -> Vec<Vec<usize>> {
    let all: Vec<Vec<usize>> = looks.iter().map(|look| peaks::of(look, excursion, holds)).collect();
    let lines: Vec<Line> = looks
        .iter()
        .zip(&all)
        .flat_map(|(look, points)| points.iter().map(|point| Line::shown(look, *point)))
        .collect();
    let in_view = |look: &Acquisition, points: &[usize]| {
        let threshold = peaks::threshold(look, excursion, holds);
        let stays = |point: &&usize| !lines.iter().any(|line| is_skirt_of(look, **point, line, &threshold));
        points.iter().filter(stays).copied().collect()
    };
    looks.iter().zip(&all).map(|(look, points)| in_view(look, points)).collect()
}

/// Whether a frequency is in view of one of the sweeps that shows a line as near as a filter's skirt reaches.
pub(super) fn is_in_view_of_another<'a>(
    at: Hertz,
    rbw: Hertz,
    mut others: impl Iterator<Item = &'a Acquisition>,
    (excursion, holds): (Db, u32),
) -> bool {
    others.any(|look| {
        let near =
            |point: &usize| (look.settings.frequency_of(*point) - at).get().abs() <= (rbw * REACH).get();
        super::sort::point_of(look, at).is_some() && peaks::of(look, excursion, holds).iter().any(near)
    })
}

/// A line as a sweep shows it.
struct Line {
    at: Hertz,
    /// It stands no farther than this from there.
    within: Hertz,
    level: f64,
}

impl Line {
    fn shown(look: &Acquisition, point: usize) -> Self {
        Self {
            at: look.settings.frequency_of(point),
            within: look.settings.spacing() / 2.0,
            level: peaks::highest_near(look, point, 0),
        }
    }
}

/// Whether a point at the end of a sweep shows no more than a line beyond that end makes there, and the point beside it
/// neither.
fn is_skirt_of(look: &Acquisition, point: usize, line: &Line, threshold: &[f64]) -> bool {
    let settings = &look.settings;
    let last = settings.points as usize - 1;
    let (beyond, inwards) = match point {
        0 => (settings.frequency_of(0) - line.at, 1),
        end if end == last => (line.at - settings.frequency_of(last), last.saturating_sub(1)),
        _ => return false,
    };
    if beyond <= line.within || beyond > settings.rbw * REACH {
        return false;
    }
    let at_most = |point: usize| {
        let apart = (settings.frequency_of(point) - line.at).get().abs() - line.within.get();
        line.level - HALF_POWER_DB * (2.0 * apart / settings.rbw.get()).powi(2) + SKIRT_DB
    };
    let shown = |point: usize| peaks::highest_near(look, point, 0);
    shown(point) <= at_most(point)
        && shown(inwards) <= at_most(inwards).max(threshold[inwards / peaks::BLOCK])
}

#[cfg(test)]
mod tests {
    use spurline_record::{Detector, Sweep, SweepFlags};
    use spurline_units::Seconds;

    use super::*;
    use crate::trace::specimen;

    /// A held sweep of a filter over -90 dBm of noise with lines, by the Gaussian shape itself.
    fn look(first: f64, spacing: f64, rbw: f64, lines: &[(f64, f64)]) -> Acquisition {
        let points = 401;
        let mut settings = specimen(points, spacing * f64::from(points - 1), rbw);
        settings.centre = Hertz::new(first + spacing * f64::from(points - 1) / 2.0);
        settings.detector = Detector::Peak;
        settings.sweep_time = Seconds::new(2.5 * f64::from(points) / rbw);
        let shown = |at: f64| {
            let of = |(line, level): &(f64, f64)| {
                10f64.powf((level - 12.0412 * ((at - line) / rbw).powi(2)) / 10.0)
            };
            10.0 * (1e-9 + lines.iter().map(of).sum::<f64>()).log10()
        };
        let levels =
            (0..points as usize).map(|point| shown(settings.frequency_of(point).get()) as f32).collect();
        Acquisition {
            purpose: "search".to_owned(),
            at: jiff::Timestamp::UNIX_EPOCH,
            keyed: true,
            settings,
            sweeps: vec![Sweep { levels }],
            marker: None,
            flags: SweepFlags::default(),
        }
    }

    /// 1 kHz up to 150 kHz and 10 kHz from there on; the places at which each sweep shows something.
    fn shown(lines: &[(f64, f64)]) -> [Vec<f64>; 2] {
        let below = look(150e3 - 400.0 * 500.0, 500.0, 1e3, lines);
        let above = look(150e3, 5e3, 10e3, lines);
        let found = peaks_in_view(&[&below, &above], Db::new(6.0), 3);
        let place = |look: &Acquisition, points: &[usize]| {
            points.iter().map(|point| look.settings.frequency_of(*point).get().round()).collect()
        };
        [place(&below, &found[0]), place(&above, &found[1])]
    }

    #[test]
    fn a_wide_filter_shows_a_line_beyond_its_end_and_finds_none() {
        // 14 kHz away a Gaussian filter of 10 kHz is 23.6 dB down.
        assert_eq!(shown(&[(136e3, -30.0)]), [vec![136e3], vec![]]);
        assert_eq!(shown(&[(149e3, -60.0)]), [vec![149e3], vec![]]);
    }

    #[test]
    fn a_line_in_view_stays_whatever_stands_beyond() {
        // The skirt is higher at the end, 54 dB below 0 dBm; what stands beside it is none.
        assert_eq!(shown(&[(136e3, -30.0), (153e3, -60.0)]), [vec![136e3], vec![150e3]]);
        // At the common edge both show it, and neither is the other's skirt.
        assert_eq!(shown(&[(150e3, -60.0)]), [vec![150e3], vec![150e3]]);
        assert_eq!(shown(&[(152e3, -60.0)]), [vec![], vec![150e3]]);
        // 20 dB more than a skirt.
        assert_eq!(shown(&[(130e3, -30.0), (151e3, -60.0)])[1], vec![150e3]);
    }
}
