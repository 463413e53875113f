//! A carrier above its window drives the analyser harder than the plan foresaw.

use super::{Scene, Sweep, blind};

/// How far above the upper end of the window, dB.
const EXCESS: f64 = 3.0;

pub(super) fn scenes(sweep: Sweep) -> Vec<Scene> {
    blind::all(blind::Steps::of(sweep), 0.0, EXCESS)
}
