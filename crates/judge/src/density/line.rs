//! One line of a budget as a distribution about zero, and how it is put on a grid.
//!
//! The share of a line between two points of the grid goes to both in such parts that its mean stays what it is. The
//! shares are integrated and not sampled, so that the poles of an arcsine do no harm.

use std::f64::consts::{LN_10, PI};

use crate::budget::{Contribution, Distribution};
use crate::phasor;
use crate::student::{student_cdf_to_decimals, student_pdf};

/// An echo that cancels a level by more than this has done so with a probability that no grid shows.
const DEEPEST_DB: f64 = -80.0;
/// A Student line is cut off at this many combined standard uncertainties, or where less than this is beyond.
const CUT: (f64, f64) = (40.0, 1e-7);
/// How much wider than its standard uncertainty a Student line without variance counts when a step is chosen.
const WIDEST: f64 = 3.0;

/// What a line does, with its scale in dB.
pub(super) enum Line {
    /// Standard uncertainty.
    Normal(f64),
    /// Standard uncertainty and degrees of freedom.
    Student(f64, f64),
    /// Half-width.
    Rectangular(f64),
    /// Half-width.
    Triangular(f64),
    /// Half-width.
    UShaped(f64),
    /// How far the shape is stretched, and the product of the two magnitudes.
    Mismatch(f64, f64),
}

/// A line on a grid.
pub(super) struct OnGrid {
    /// Which point of the grid the first share belongs to; zero is point 0.
    pub(super) first: isize,
    /// The shares.
    pub(super) masses: Vec<f64>,
    /// By how much their variance is above that of the line.
    pub(super) added: f64,
}

impl Line {
    pub(super) fn of(line: &Contribution) -> Self {
        let half = line.value.get().abs();
        let standard = line.standard().get().abs();
        match line.distribution {
            Distribution::Normal { .. } | Distribution::Standard => {
                match line.freedom.filter(|freedom| *freedom > 0.0 && freedom.is_finite()) {
                    Some(freedom) => Self::Student(standard, freedom),
                    None => Self::Normal(standard),
                }
            }
            Distribution::Rectangular => Self::Rectangular(half),
            Distribution::Triangular => Self::Triangular(half),
            Distribution::UShaped => Self::UShaped(half),
            Distribution::Mismatch { product } => match phasor::clamped(product) {
                // So small that it is a sine.
                r if r < 1e-4 => Self::UShaped(half),
                r => Self::Mismatch(half / phasor::above(r), r),
            },
        }
    }

    /// The variance; for a Student line that has none, or hardly any, a figure that does for choosing a step.
    pub(super) fn variance(&self) -> f64 {
        match self {
            Self::Normal(u) => u * u,
            Self::Student(u, freedom) if *freedom > 2.0 => u * u * (freedom / (freedom - 2.0)).min(WIDEST),
            Self::Student(u, _) => u * u * WIDEST,
            Self::Rectangular(a) => a * a / 3.0,
            Self::Triangular(a) => a * a / 6.0,
            Self::UShaped(a) => a * a / 2.0,
            Self::Mismatch(stretch, r) => (stretch * phasor::standard(*r)).powi(2),
        }
    }

    /// Whether its density ends or has poles somewhere.
    pub(super) fn has_edges(&self) -> bool {
        !matches!(self, Self::Normal(_) | Self::Student(..))
    }

    /// By how many combined standard uncertainties a quantile at about 95 % would move if the line were taken for
    /// normal: the terms in skewness and excess kurtosis of the expansion of Cornish and Fisher at z = 2.
    pub(super) fn shows(&self, combined: f64) -> f64 {
        let (skewness, excess) = match self {
            Self::Normal(_) => (0.0, 0.0),
            Self::Student(_, freedom) if *freedom > 4.5 => (0.0, 6.0 / (freedom - 4.0)),
            Self::Student(..) => return f64::INFINITY,
            Self::Rectangular(_) => (0.0, 1.2),
            Self::Triangular(_) => (0.0, 0.6),
            Self::UShaped(_) => (0.0, 1.5),
            // Both from above for all r: -1.06 r and -1.5 for small r, -1.54 and about 4 for r = 1.
            Self::Mismatch(_, r) => (1.6 * r, 1.5 + 3.0 * r),
        };
        let share = self.variance().sqrt() / combined;
        0.5 * skewness * share.powi(3) + 0.08 * excess * share.powi(4)
    }

    /// The line on a grid of this step.
    pub(super) fn on_grid(&self, step: f64, combined: f64) -> OnGrid {
        let (low, high) = self.ends(combined);
        let first = (low / step).floor() as isize;
        let last = (high / step).ceil() as isize;
        let mut masses = vec![0.0; (last - first + 1) as usize];
        let mut variance = 0.0;
        let mut left = self.up_to(low);
        for index in first..last {
            let (from, to) = (index as f64 * step, (index + 1) as f64 * step);
            let right = self.up_to(to.min(high));
            let share = right.below - left.below;
            let moment = self.moment(&left, &right);
            left = right;
            let to_right = (moment - from * share) / step;
            let at = (index - first) as usize;
            masses[at] += share - to_right;
            masses[at + 1] += to_right;
            variance += (share - to_right) * from * from + to_right * to * to;
        }
        // What lies beyond the ends.
        let (before, after) = (self.up_to(low).below, 1.0 - left.below);
        masses[0] += before;
        variance += before * (first as f64 * step).powi(2);
        *masses.last_mut().expect("a line has a width") += after;
        let added = match self {
            Self::Student(..) => step * step / 6.0,
            // Below zero only where an echo was cut off; nothing may be added to the others for that.
            _ => (variance - self.variance()).max(0.0),
        };
        OnGrid { first, masses, added }
    }

    fn ends(&self, combined: f64) -> (f64, f64) {
        match self {
            Self::Normal(_) => (-CUT.0 * combined, CUT.0 * combined),
            Self::Student(u, freedom) => {
                // The tail falls as t^-freedom.
                let cut = (u * freedom.sqrt() * CUT.1.powf(-1.0 / freedom)).min(CUT.0 * combined);
                (-cut, cut)
            }
            Self::Rectangular(a) | Self::Triangular(a) | Self::UShaped(a) => (-a, *a),
            Self::Mismatch(stretch, r) => {
                let deepest = if *r < 1.0 { 20.0 / LN_10 * (-r).ln_1p() } else { f64::NEG_INFINITY };
                (stretch * deepest.max(DEEPEST_DB), stretch * phasor::above(*r))
            }
        }
    }

    fn up_to(&self, x: f64) -> UpTo {
        let (below, moment, phase) = match self {
            Self::Normal(u) => {
                let z = x / u;
                (crate::normal::normal_cdf(z), -u * (-0.5 * z * z).exp() / (2.0 * PI).sqrt(), 0.0)
            }
            Self::Student(u, freedom) => {
                let t = x / u;
                let moment = if (freedom - 1.0).abs() < 1e-6 {
                    0.5 * (t * t).ln_1p() / PI
                } else {
                    -(freedom + t * t) / (freedom - 1.0) * student_pdf(t, *freedom)
                };
                (student_cdf_to_decimals(t, *freedom), u * moment, 0.0)
            }
            Self::Rectangular(a) => (0.5 * (x + a) / a, 0.25 * (x * x - a * a) / a, 0.0),
            Self::Triangular(a) => {
                let (size, far) = (x.abs(), a - x.abs());
                let tail = 0.5 * far * far / (a * a);
                let moment = (0.5 * a * x * x - size.powi(3) / 3.0 - a.powi(3) / 6.0) / (a * a);
                (if x < 0.0 { tail } else { 1.0 - tail }, moment, 0.0)
            }
            Self::UShaped(a) => {
                let sine = (x / a).clamp(-1.0, 1.0);
                (0.5 + sine.asin() / PI, -a * (1.0 - sine * sine).sqrt() / PI, 0.0)
            }
            Self::Mismatch(stretch, r) => {
                let power = (x / stretch * LN_10 / 10.0).exp();
                let phase = ((power - 1.0 - r * r) / (2.0 * r)).clamp(-1.0, 1.0).acos();
                (1.0 - phase / PI, 0.0, phase)
            }
        };
        UpTo { below, moment, phase }
    }

    /// The integral of x times the density between two points.
    fn moment(&self, left: &UpTo, right: &UpTo) -> f64 {
        let Self::Mismatch(stretch, r) = self else {
            return right.moment - left.moment;
        };
        // Over the phase, in which the level is smooth: three points after Gauss.
        let (middle, half) = (0.5 * (left.phase + right.phase), 0.5 * (left.phase - right.phase));
        let level = |phase: f64| stretch * 10.0 / LN_10 * (1.0 + r * r + 2.0 * r * phase.cos()).ln();
        let far = half * 0.6f64.sqrt();
        half / PI * (8.0 * level(middle) + 5.0 * (level(middle - far) + level(middle + far))) / 9.0
    }
}

/// A line up to some point.
struct UpTo {
    /// The probability below the point.
    below: f64,
    /// The integral of x times the density up to the point, but for a constant.
    moment: f64,
    /// The phase at which an echo leads to the point.
    phase: f64,
}
