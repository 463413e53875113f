//! An emission against a limit that goes by the place.

use spurline_units::{Db, Dbm, Hertz};

use super::{Trace, channel_power};
use crate::decision::Verdict;

/// What is demanded at one place.
#[derive(Clone, Debug, PartialEq)]
pub struct MaskLimit {
    /// The highest levels that comply, one for each branch of the rule that is possible: at least one.
    pub levels: Vec<Dbm>,
    /// The bandwidth that they are meant in; `None` where the rule states none.
    pub bandwidth: Option<Hertz>,
}

/// What stands at one place, in the bandwidth of its limit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MaskLevel {
    /// The level.
    pub level: Dbm,
    /// The bandwidth that it was taken in: the limit's, or that of the filter.
    pub bandwidth: Hertz,
    /// Whether the filter is wider than the limit's bandwidth, so that the true level may be lower.
    pub bound: bool,
}

/// One place of a trace against its limit.
#[derive(Clone, Debug, PartialEq)]
pub struct MaskPlace {
    /// The point.
    pub point: usize,
    /// Its frequency.
    pub frequency: Hertz,
    /// What stands there.
    pub level: MaskLevel,
    /// The limit there.
    pub limit: MaskLimit,
    /// The strictest limit minus the level.
    pub margin: Db,
}

/// The worst place of a trace under a mask.
#[derive(Clone, Debug, PartialEq)]
pub struct MaskWorst {
    /// Where it is.
    pub place: MaskPlace,
    /// How many points have a limit that could be compared.
    pub judged: usize,
    /// How many have one for which the trace is too short.
    pub beyond: usize,
}

/// The filter and the limit's bandwidth are the same if they differ by no more than this factor.
const SAME_BANDWIDTH: f64 = 1.1;

/// The level at a point in a bandwidth: added up over that bandwidth where it is wider than the filter, else as the
/// filter shows it. A level is never scaled from one bandwidth to another: noise goes with the bandwidth, a line does
/// not. `None` where the trace does not reach so far.
#[must_use]
pub fn level_within(
    trace: &Trace<'_>,
    point: usize,
    filter: Hertz,
    noise_bandwidth: Hertz,
    wanted: Option<Hertz>,
) -> Option<MaskLevel> {
    let shown = Dbm::new(*trace.levels.get(point)?);
    match wanted {
        Some(wanted) if wanted > filter * SAME_BANDWIDTH => {
            let (at, half) = (trace.frequency(point), wanted / 2.0);
            let level = channel_power(trace, at - half, at + half, noise_bandwidth)?;
            Some(MaskLevel { level, bandwidth: wanted, bound: false })
        }
        Some(wanted) => {
            Some(MaskLevel { level: shown, bandwidth: filter, bound: wanted * SAME_BANDWIDTH < filter })
        }
        None => Some(MaskLevel { level: shown, bandwidth: filter, bound: false }),
    }
}

/// Holds every point of a trace that is seen through a `filter` against its limit, and returns the worst: one that
/// exceeds before one that is undecided before one that complies, and of like ones that with the least margin.
/// `correction` is added to what the trace shows, such as the loss of a path; `limit` is asked at each frequency and
/// gives `None` where nothing is demanded; `judged` gives the verdict on a place, by whatever its level may be made of.
/// `None` if no point could be compared.
#[must_use]
pub fn emission_mask(
    trace: &Trace<'_>,
    filter: Hertz,
    noise_bandwidth: Hertz,
    correction: Db,
    mut limit: impl FnMut(Hertz) -> Option<MaskLimit>,
    mut judged: impl FnMut(&MaskPlace) -> Verdict,
) -> Option<MaskWorst> {
    let (mut compared, mut beyond) = (0, 0);
    let mut worst: Option<(MaskPlace, u8)> = None;
    for point in 0..trace.levels.len() {
        let frequency = trace.frequency(point);
        let Some(limit) = limit(frequency) else { continue };
        let Some(strictest) = limit.levels.iter().copied().reduce(Dbm::min) else { continue };
        let Some(level) = level_within(trace, point, filter, noise_bandwidth, limit.bandwidth) else {
            beyond += 1;
            continue;
        };
        compared += 1;
        let level = MaskLevel { level: level.level + correction, ..level };
        let place = MaskPlace { point, frequency, level, limit, margin: strictest - level.level };
        let gravity = match judged(&place) {
            Verdict::Exceeds => 2,
            Verdict::Undecided => 1,
            Verdict::Complies => 0,
        };
        let is_worse = worst
            .as_ref()
            .is_none_or(|(known, most)| gravity > *most || (gravity == *most && place.margin < known.margin));
        if is_worse {
            worst = Some((place, gravity));
        }
    }
    worst.map(|(place, _)| MaskWorst { place, judged: compared, beyond })
}
