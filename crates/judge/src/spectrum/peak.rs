//! Where a line stands, and how high, between the points of a trace.

use spurline_units::{Dbm, Hertz};

use super::Trace;

/// A line by the points about its top.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LinePeak {
    /// The highest point.
    pub point: usize,
    /// Where the line stands.
    pub frequency: Hertz,
    /// Its level.
    pub level: Dbm,
}

/// The top of the parabola through the highest point and its two neighbours. A Gaussian filter is a parabola in
/// decibels, so that the line behind it is found exactly; behind another filter, and with a detector that makes flat
/// tops, it is near.
///
/// `None` if the highest point stands at an end of the trace: then the line may lie beyond.
#[must_use]
pub fn line_peak(trace: &Trace<'_>) -> Option<LinePeak> {
    let (point, _) = trace.highest()?;
    let [before, top, behind] =
        [point.checked_sub(1)?, point, point + 1].map(|at| trace.levels.get(at).copied());
    let (before, top, behind) = (before?, top?, behind?);
    let bend = before - 2.0 * top + behind;
    // Three points of one level have their top in the middle.
    let share = if bend < 0.0 { 0.5 * (before - behind) / bend } else { 0.0 };
    Some(LinePeak {
        point,
        frequency: trace.frequency(point) + trace.spacing * share,
        level: Dbm::new(top - 0.25 * (before - behind) * share),
    })
}
