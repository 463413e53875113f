//! Power in a channel, and that beside it.

use spurline_units::{Db, Dbm, Hertz};

use super::{Trace, level};

/// The power of a trace from `low` to `high`, whose filter passes noise like a rectangle of `noise_bandwidth`; a stretch
/// that lies in the channel in part counts in part. `None` where the trace does not reach so far, or has no power there.
///
/// A line comes to its own level if the points stand no farther apart than half the filter's bandwidth.
#[must_use]
pub fn channel_power(trace: &Trace<'_>, low: Hertz, high: Hertz, noise_bandwidth: Hertz) -> Option<Dbm> {
    let (spacing, count) = (trace.spacing.get(), trace.levels.len());
    if spacing <= 0.0 || count == 0 || low > high || noise_bandwidth.get() <= 0.0 {
        return None;
    }
    // Frequencies are large against a stretch: what rounding moves an edge by is not missing.
    let slack = trace.spacing * 1e-6;
    if low < trace.edge(0.0) - slack || high > trace.edge(count as f64) + slack {
        return None;
    }
    let place = |at: Hertz| (at - trace.edge(0.0)).get() / spacing;
    let (from, to) = (place(low).max(0.0), place(high).min(count as f64));
    let first = from.floor() as usize;
    let last = (to.ceil() as usize).min(count);
    let power: f64 = (first..last)
        .zip(trace.powers().skip(first))
        .map(|(point, power)| {
            power * ((point as f64 + 1.0).min(to) - (point as f64).max(from)).clamp(0.0, 1.0)
        })
        .sum();
    level(power * spacing / noise_bandwidth.get())
}

/// The power in an adjacent channel over that in the emission's own, in decibels: below zero where it is less.
#[must_use]
pub fn adjacent_ratio(adjacent: Dbm, own: Dbm) -> Db {
    adjacent - own
}
