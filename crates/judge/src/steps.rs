//! One line by several settings of the input attenuator: what it can be, if the analyser adds a product of its own.
//!
//! A line keeps its level when the attenuation is changed, for the analyser counts it back; its own product of order
//! `n` falls by `n - 1` decibels for each decibel. Both have one frequency and an unknown phase, so that what is read is
//! `T |1 + q r e^(j phi)|` with T the line, r the product over it at the least attenuation, and q what the steps have
//! taken off. One step can be fooled: at some phases the sum does not move though both readings are wrong. All T that
//! some r and phi explain, within what each reading is uncertain by, are the answer.

use spurline_units::{Db, Dbm};

/// A line as one setting of the attenuator shows it, at the connector and without the noise.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StepReading {
    /// The input attenuation.
    pub attenuation: Db,
    /// The level that was read.
    pub level: Dbm,
    /// By how much it may be off against the other readings, either way.
    pub within: Db,
}

/// The least and the most that a line can be by its steps; `None` for an end that they do not bound.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StepRange {
    /// The least; `None` if the analyser's own product may be all that was read.
    pub lowest: Option<Dbm>,
    /// The most; `None` if the readings contradict each other whatever the product is.
    pub highest: Option<Dbm>,
}

/// Sizes of the own product over the line, in dB: from one that moves nothing to one that is nearly all.
const SMALLEST_DB: f64 = -50.0;
const LARGEST_DB: f64 = 30.0;
/// The first cells of size and cosine, and how often one that explains the readings is halved both ways.
const CELLS: [u32; 2] = [20, 8];
const HALVINGS: u32 = 6;

/// What a line of a harmonic's `order` can be; `None` with fewer than two different attenuations.
///
/// No line that the readings allow is left out; the ends may be farther out than need be by some hundredths of a
/// decibel.
#[must_use]
pub fn range_by_steps(readings: &[StepReading], order: u32) -> Option<StepRange> {
    let least = readings.iter().map(|reading| reading.attenuation).reduce(Db::min)?;
    if readings.iter().all(|reading| reading.attenuation == least) {
        return None;
    }
    let falls = f64::from(order.max(2) - 1);
    let shares: Vec<f64> =
        readings.iter().map(|reading| (-(reading.attenuation - least) * falls).amplitude_ratio()).collect();
    let mut search = Search {
        readings,
        shares: &shares,
        lowest: f64::INFINITY,
        highest: f64::NEG_INFINITY,
        is_all: false,
    };
    let edge = |low: f64, high: f64, count: u32, place: u32| {
        low + (high - low) * f64::from(place) / f64::from(count)
    };
    for size in 0..CELLS[0] {
        for angle in 0..CELLS[1] {
            let decibels = [size, size + 1].map(|place| edge(SMALLEST_DB, LARGEST_DB, CELLS[0], place));
            let cosines = [angle, angle + 1].map(|place| edge(-1.0, 1.0, CELLS[1], place));
            search.cell(decibels, cosines, HALVINGS);
        }
    }
    let is_explained = search.highest >= search.lowest;
    Some(StepRange {
        lowest: (is_explained && !search.is_all).then(|| Dbm::new(search.lowest)),
        highest: is_explained.then(|| Dbm::new(search.highest)),
    })
}

/// Looks through sizes and cosines, and keeps the least and the most that the line can be.
struct Search<'a> {
    readings: &'a [StepReading],
    shares: &'a [f64],
    lowest: f64,
    highest: f64,
    /// Whether the largest size explains the readings: then the product may be all of them.
    is_all: bool,
}

impl Search<'_> {
    fn cell(&mut self, decibels: [f64; 2], cosines: [f64; 2], halvings: u32) {
        let Some((low, high)) = self.explained(decibels, cosines) else { return };
        if low >= self.lowest && high <= self.highest && !(decibels[1] >= LARGEST_DB && !self.is_all) {
            return;
        }
        if halvings == 0 {
            (self.lowest, self.highest) = (self.lowest.min(low), self.highest.max(high));
            self.is_all |= decibels[1] >= LARGEST_DB;
            return;
        }
        let halves = |[one, other]: [f64; 2]| {
            let middle = f64::midpoint(one, other);
            [[one, middle], [middle, other]]
        };
        for decibels in halves(decibels) {
            for cosines in halves(cosines) {
                self.cell(decibels, cosines, halvings - 1);
            }
        }
    }

    /// The least and the most of the lines that some product of the cell may explain all readings with.
    fn explained(&self, decibels: [f64; 2], cosines: [f64; 2]) -> Option<(f64, f64)> {
        let (mut low, mut high) = (f64::NEG_INFINITY, f64::INFINITY);
        for (reading, share) in self.readings.iter().zip(self.shares) {
            let products = decibels.map(|decibels| share * 10f64.powf(decibels / 20.0));
            let (least, most) = squares(products, cosines);
            let level = reading.level.get();
            low = low.max(level - 10.0 * most.log10() - reading.within.get());
            high = high.min(level - 10.0 * least.max(1e-30).log10() + reading.within.get());
            if low > high {
                return None;
            }
        }
        Some((low, high))
    }
}

/// The least and the most of 1 + p² + 2 p c over the products p and the cosines c.
fn squares(products: [f64; 2], cosines: [f64; 2]) -> (f64, f64) {
    let at = |product: f64, cosine: f64| 1.0 + product * (product + 2.0 * cosine);
    let most = at(products[0], cosines[1]).max(at(products[1], cosines[1]));
    // For one cosine the least is where p = -c, if the cell has that.
    let turning = (-cosines[0]).clamp(products[0], products[1]);
    (at(turning, cosines[0]).max(0.0), most)
}

/// The line, and the product over it at the first step, of three readings that are exact and equally far apart: the
/// powers are T + b q^i + c q^(2i), which is linear in all three. It magnifies every error: for looking, not for judging.
/// `None` for a step of nothing, or powers that no line makes.
#[must_use]
pub fn solved_by_steps(levels: [Dbm; 3], step: Db, order: u32) -> Option<(Dbm, f64)> {
    let q = (-step * f64::from(order.max(2) - 1)).amplitude_ratio();
    let [one, two, three] = levels.map(|level| level.to_watts().get());
    // Differences take T out; what is left is two equations in b (1 - q) and c (1 - q^2).
    let (first, second) = (one - two, two - three);
    let c = (second - q * first) / (q * q - q);
    let b = first - c;
    let line = one - b / (1.0 - q) - c / (1.0 - q * q);
    let square = c / (1.0 - q * q) / line;
    (q < 1.0 && line > 0.0 && square >= 0.0)
        .then(|| (spurline_units::Watts::new(line).to_dbm(), square.sqrt()))
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn readings(levels: &[f64], within: f64) -> Vec<StepReading> {
        let read = |(place, level): (usize, &f64)| StepReading {
            attenuation: Db::new(20.0 + 10.0 * place as f64),
            level: Dbm::new(*level),
            within: Db::new(within),
        };
        levels.iter().enumerate().map(read).collect()
    }

    fn summed(line: f64, ratio: f64, phase: f64, order: u32, step: usize) -> f64 {
        let product = ratio * 10f64.powf(-f64::from(order - 1) * 10.0 * step as f64 / 20.0);
        line + 10.0 * (1.0 + product * product + 2.0 * product * phase.cos()).max(1e-12).log10()
    }

    /// numpy 2.4.6: second harmonic, product of the line's size, cosine -0.658114: the readings at 0 and 10 dB more are
    /// the same, and both 1.65089 dB low.
    #[test]
    fn one_step_can_be_fooled() {
        let phase = (-0.658_114f64).acos();
        let levels = [summed(-60.0, 1.0, phase, 2, 0), summed(-60.0, 1.0, phase, 2, 1)];
        assert!((levels[0] - levels[1]).abs() < 1e-3 && (levels[0] + 61.650_89).abs() < 1e-3, "{levels:?}");
        let range = range_by_steps(&readings(&levels, 0.05), 2).unwrap();
        assert!(range.highest.unwrap().get() >= -60.0, "{range:?}");
    }

    /// A grid of numpy 2.4.6 over all ratios up to 3 and all phases: two readings that are the same within 0.1 dB may be
    /// 5.71 dB low; the last of three that are leaves 0.07 dB.
    #[test]
    fn what_equal_readings_leave() {
        let left = |levels: &[f64]| {
            range_by_steps(&readings(levels, 0.05), 2).unwrap().highest.unwrap().get() + 50.0
        };
        let one = left(&[-50.0, -50.0]);
        assert!((5.5..5.95).contains(&one), "{one}");
        let two = left(&[-50.0, -50.0, -50.0]);
        assert!((0.05..0.25).contains(&two), "{two}");
    }

    /// numpy 2.4.6: -61.24939, -60.62038 and -60.21135 dBm at steps of 10 dB are a line of -60 dBm and a product of
    /// half its voltage.
    #[test]
    fn three_exact_readings_are_solved() {
        let levels = [-61.249_39, -60.620_38, -60.211_35].map(Dbm::new);
        let (line, ratio) = solved_by_steps(levels, Db::new(10.0), 2).unwrap();
        assert!((line.get() + 60.0).abs() < 1e-3 && (ratio - 0.5).abs() < 1e-3, "{line} {ratio}");
    }

    #[test]
    fn one_setting_says_nothing() {
        assert_eq!(range_by_steps(&readings(&[-50.0], 0.1), 2), None);
        assert_eq!(range_by_steps(&[], 2), None);
    }

    /// What falls like a product and nothing else may be one.
    #[test]
    fn a_product_alone_has_no_least() {
        let range = range_by_steps(&readings(&[-40.0, -50.0, -60.0], 0.1), 2).unwrap();
        assert_eq!(range.lowest, None);
        assert!(range.highest.unwrap() < Dbm::new(-55.0), "{range:?}");
    }

    proptest! {
        #[test]
        fn the_line_is_in_the_range(
            ratio in 0.0..3.0f64, phase in 0.0..6.283f64, order in 2u32..5, steps in 2usize..5,
            errors in prop::array::uniform4(-1.0..1.0f64), within in 0.05..0.6f64,
        ) {
            let levels: Vec<f64> = (0..steps)
                .map(|step| summed(-50.0, ratio, phase, order, step) + errors[step] * within * 0.7)
                .collect();
            let range = range_by_steps(&readings(&levels, within), order).unwrap();
            prop_assert!(range.highest.unwrap().get() >= -50.0 - 0.02, "{range:?}");
            prop_assert!(range.lowest.is_none_or(|low| low.get() <= -50.0 + 0.02), "{range:?}");
        }

        #[test]
        fn the_solver_returns_the_line(ratio in 0.01..0.9f64, phase in 0.0..6.283f64, order in 2u32..4) {
            let levels = [0, 1, 2].map(|step| Dbm::new(summed(-50.0, ratio, phase, order, step)));
            let (line, found) = solved_by_steps(levels, Db::new(10.0), order).unwrap();
            prop_assert!((line.get() + 50.0).abs() < 1e-6 && (found - ratio).abs() < 1e-4, "{line} {found}");
        }
    }
}
