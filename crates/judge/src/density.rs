//! How the true level is spread about a reading: the distribution of the sum of a budget's lines.
//!
//! Lines that are normal, or too small to show that they are not, are one normal distribution of the sum of their
//! variances. The others are put on a common grid in dB and convolved with each other. What comes of it is a row
//! of normal distributions, one at every point of the grid, and no figure is read off the grid itself.
//!
//! A deviation is true level minus reading. After JCGM 101:2008, 6.4.9, a normal line with degrees of freedom is
//! Student's t and thus wider than its standard uncertainty says.

mod line;

use spurline_units::Db;

use crate::budget::Budget;
use crate::normal::normal_cdf;
use line::Line;

/// How far, in standard uncertainties, quantiles may be moved by lines that are taken for normal though they are not.
const LUMPED: f64 = 2e-4;
/// How much of the variance the grid may add to a budget without a normal line to take it from, before the whole is
/// made narrower again by as much.
const ADDED: f64 = 5e-3;
/// The normal distributions stand closer than this in units of their standard deviation: their sum has no ripple.
const RIPPLE_FREE: f64 = 0.6;
/// Steps of the grid per combined standard uncertainty, at least and at most.
const STEPS: (f64, f64) = (6.0, 1024.0);
/// As many do for a Student line, which has no edges.
const STUDENT_STEPS: f64 = 48.0;
/// Beyond this many standard deviations a normal distribution has nothing left that a sum would show.
const REACH: f64 = 8.3;
/// Probabilities closer to 0 or 1 are taken for this one.
const SMALLEST: f64 = 1e-9;

/// The distribution of true level minus reading.
#[derive(Clone, Debug, PartialEq)]
pub struct Density {
    /// Where the first normal distribution stands, in dB.
    first: f64,
    /// From one to the next, in dB.
    step: f64,
    /// The share of each.
    masses: Vec<f64>,
    /// The sum of the shares up to but without each, and of all.
    sums: Vec<f64>,
    /// The standard deviation of every one of them; zero only for a budget without uncertainty.
    kernel: f64,
}

impl Budget {
    /// The distribution of true level minus reading that the lines make together.
    ///
    /// # Panics
    ///
    /// If the coverage factor of a normal distribution is zero.
    #[must_use]
    pub fn density(&self) -> Density {
        Density::of(self.lines.iter().map(Line::of).filter(|line| line.variance() > 0.0).collect())
    }
}

impl Density {
    /// The normal distribution of a standard deviation.
    pub(crate) fn normal(standard: Db) -> Self {
        Self::new(0.0, 1.0, vec![1.0], standard.get())
    }

    fn of(mut lines: Vec<Line>) -> Self {
        let variance: f64 = lines.iter().map(Line::variance).sum();
        let combined = variance.sqrt();
        // An edge that dominates shows the shape of what smooths it, though that is small against the whole.
        let widest = lines.iter().filter(|line| line.has_edges()).map(Line::variance).fold(0.0, f64::max);
        let rest = (variance - widest).max(0.0).sqrt();
        let moved = |line: &Line| {
            let locally = if line.variance() < widest { line.shows(rest) * rest / combined } else { 0.0 };
            line.shows(combined).max(locally)
        };
        lines.sort_by(|one, other| moved(one).total_cmp(&moved(other)));
        let mut sum = 0.0;
        let lumped = lines.iter().take_while(|line| {
            sum += moved(line);
            sum <= LUMPED
        });
        let normal = lumped.count();
        let mut smooth: f64 = lines[..normal].iter().map(Line::variance).sum();
        let lines = &lines[normal..];
        if lines.is_empty() {
            return Self::new(0.0, 1.0, vec![1.0], smooth.sqrt());
        }

        // Every line on the grid adds a sixth of a square step to the variance, and the normal distributions must
        // not become too narrow for the grid when that is taken from them.
        let per_square = lines.len() as f64 / 6.0 + RIPPLE_FREE * RIPPLE_FREE;
        let by_variance = (smooth.max(ADDED * variance) / per_square).sqrt();
        // What is fine in a line shows unless the others smooth it.
        let by_edges = lines.iter().map(|line| {
            let others = (variance - line.variance()).max(0.0).sqrt();
            (0.2 * others).max(combined / if line.has_edges() { STEPS.1 } else { STUDENT_STEPS })
        });
        let by_edges = by_edges.fold(f64::INFINITY, f64::min);
        let step = by_variance.min(by_edges).min(combined / STEPS.0);

        let mut on_grid: Vec<_> = lines.iter().map(|line| line.on_grid(step, combined)).collect();
        on_grid.sort_by_key(|line| line.masses.len());
        let mut first = 0;
        let mut masses = vec![1.0];
        for line in on_grid {
            smooth -= line.added;
            first += line.first;
            masses = convolved(&masses, &line.masses);
        }
        let least = (RIPPLE_FREE * step).powi(2);
        // What the grid has added and could not take from the normal distribution, the whole is made narrower by.
        let narrower = (variance / (variance + (least - smooth).max(0.0))).sqrt();
        let kernel = smooth.max(least).sqrt() * narrower;
        Self::new(first as f64 * step * narrower, step * narrower, masses, kernel)
    }

    fn new(first: f64, step: f64, masses: Vec<f64>, kernel: f64) -> Self {
        let mut sums = Vec::with_capacity(masses.len() + 1);
        let mut sum = 0.0;
        sums.push(sum);
        for mass in &masses {
            sum += mass;
            sums.push(sum);
        }
        Self { first, step, masses, sums, kernel }
    }

    /// The probability that true level minus reading is at most `deviation`.
    #[must_use]
    pub fn probability_below(&self, deviation: Db) -> f64 {
        if self.kernel > 0.0 {
            self.at(deviation.get()).0
        } else if deviation.get() >= 0.0 {
            1.0
        } else {
            0.0
        }
    }

    /// The deviation that true level minus reading stays below with probability `p`, taken within 1e-9 of 0 and 1.
    #[must_use]
    pub fn quantile(&self, p: f64) -> Db {
        if self.kernel == 0.0 {
            return Db::new(0.0);
        }
        let p = inside(p);
        let reach = REACH * self.kernel;
        let about = |index: usize| self.first + index as f64 * self.step;
        // The last normal distribution with all of the ones before it below `p`, and the first with all above.
        let last = self.masses.len() - 1;
        let mut low = about(self.sums.partition_point(|sum| *sum <= p).saturating_sub(1).min(last)) - reach;
        let mut high = about(self.sums.partition_point(|sum| *sum < p).saturating_sub(1).min(last)) + reach;
        let mut x = 0.5 * (low + high);
        for _ in 0..200 {
            let (below, density) = self.at(x);
            if below < p {
                low = x
            } else {
                high = x
            }
            let next = x - (below - p) / density;
            let next = if next > low && next < high { next } else { 0.5 * (low + high) };
            if (next - x).abs() < 1e-9 * self.kernel {
                break;
            }
            x = next;
        }
        Db::new(x)
    }

    /// The interval that holds true level minus reading with probability `p`, with as much beyond either end
    /// (JCGM 101:2008, 3.15: probabilistically symmetric).
    #[must_use]
    pub fn interval(&self, p: f64) -> (Db, Db) {
        let beyond = 0.5 * (1.0 - p);
        (self.quantile(beyond), self.quantile(1.0 - beyond))
    }

    /// Probability below `x` and density at `x`.
    fn at(&self, x: f64) -> (f64, f64) {
        let index = |x: f64| (((x - self.first) / self.step).ceil().max(0.0) as usize).min(self.masses.len());
        let reach = REACH * self.kernel;
        let (from, to) = (index(x - reach), index(x + reach));
        let (mut below, mut density) = (self.sums[from], 0.0);
        for (offset, mass) in self.masses[from..to].iter().enumerate() {
            let z = (x - self.first - (from + offset) as f64 * self.step) / self.kernel;
            below += mass * normal_cdf(z);
            density += mass * (-0.5 * z * z).exp();
        }
        (below, density / (self.kernel * (2.0 * std::f64::consts::PI).sqrt()))
    }
}

/// A probability that is not 0, 1, beyond, or no number.
pub(crate) fn inside(p: f64) -> f64 {
    if p.is_nan() { SMALLEST } else { p.clamp(SMALLEST, 1.0 - SMALLEST) }
}

fn convolved(one: &[f64], other: &[f64]) -> Vec<f64> {
    let (short, long) = if one.len() < other.len() { (one, other) } else { (other, one) };
    let mut sum = vec![0.0; one.len() + other.len() - 1];
    for (shift, share) in short.iter().enumerate() {
        for (sum, mass) in sum[shift..].iter_mut().zip(long) {
            *sum += share * mass;
        }
    }
    sum
}

#[cfg(test)]
mod tests;
