//! What must hold, and whether it does.

use serde::Serialize;

use super::{Share, Summary};

/// One thing that must hold.
#[derive(Clone, Debug, Serialize)]
pub struct Target {
    /// What.
    pub what: &'static str,
    /// What must be, in words.
    pub wanted: &'static str,
    /// What is, in words.
    pub found: String,
    /// Whether it holds.
    pub kept: bool,
}

/// The largest share of wrong outcomes among readings within their uncertainty of the limit: the risk of a guard band
/// as wide as U (ILAC-G8:09/2019, below 2.5 %).
const RISK: f64 = 0.025;
const MOST_UNDECIDED: f64 = 0.05;
const MOST_DEVIATION: f64 = 3.0;
/// What an interval is to hold, and the product that a range is wide by need not be there in full.
const LEAST_RANGES: f64 = 0.95;
const COVERAGE: [f64; 2] = [0.93, 0.97];

pub(super) fn of(summary: &Summary) -> Vec<Target> {
    let Summary { broken, outcomes, undecided, coverage, .. } = summary;
    let covered = |share: &Share| (COVERAGE[0]..=COVERAGE[1]).contains(&share.get());
    vec![
        Target {
            what: "runs that broke off",
            wanted: "0",
            found: broken.len().to_string(),
            kept: broken.is_empty(),
        },
        Target {
            what: "complies, though more than U beyond the limit",
            wanted: "0",
            found: outcomes.complies_beyond.to_string(),
            kept: outcomes.complies_beyond == 0,
        },
        Target {
            what: "exceeds, though more than U inside the limit",
            wanted: "0",
            found: outcomes.exceeds_beyond.to_string(),
            kept: outcomes.exceeds_beyond == 0,
        },
        Target {
            what: "wrong, of readings within U of the limit",
            wanted: "at most 2.5 %",
            found: share(&outcomes.within),
            kept: outcomes.within.get() <= RISK,
        },
        Target {
            what: "undecided, of readings beyond 2 U that were called able",
            wanted: "at most 5 %",
            found: share(&undecided.far),
            kept: undecided.far.get() <= MOST_UNDECIDED,
        },
        Target {
            what: "undecided within 2 U, found less predicted",
            wanted: "within 3 standard deviations",
            found: format!(
                "{}, {:.2} % predicted: {:+.1} standard deviations",
                share(&undecided.near),
                100.0 * undecided.near_predicted / undecided.near.of.max(1) as f64,
                undecided.near_deviation
            ),
            kept: undecided.near_deviation.abs() <= MOST_DEVIATION,
        },
        Target {
            what: "intervals of carriers that hold the truth",
            wanted: "95 % within 2 %",
            found: share(&coverage.carrier),
            kept: covered(&coverage.carrier),
        },
        Target {
            what: "intervals of harmonics that hold the truth",
            wanted: "95 % within 2 %",
            found: share(&coverage.harmonic),
            kept: covered(&coverage.harmonic),
        },
        Target {
            what: "ranges, widened by U, that hold the truth",
            wanted: "at least 95 %",
            found: share(&coverage.range),
            kept: coverage.range.of == 0 || coverage.range.get() >= LEAST_RANGES,
        },
        Target {
            what: "bounds that the truth exceeds by more than U",
            wanted: "at most 2.5 %",
            found: share(&coverage.bound_far_below_truth),
            kept: coverage.bound_far_below_truth.get() <= RISK,
        },
    ]
}

/// A share as people read it, with its standard error.
pub(super) fn share(share: &Share) -> String {
    format!(
        "{:.2} % ± {:.2} % ({} of {})",
        100.0 * share.get(),
        100.0 * share.standard_error,
        share.hits,
        share.of
    )
}
