//! A share of readings, and how well it is known.

use serde::Serialize;

use super::Unit;
use crate::truth::held::Held;

/// So many of so many.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct Share {
    /// How many are meant.
    pub hits: usize,
    /// Of how many.
    pub of: usize,
    /// The standard error of the share. Readings of one unit share causes: it is reckoned from unit to unit.
    pub standard_error: f64,
}

impl Share {
    /// Counts those readings for which `counts` is true among those for which it is anything at all.
    pub(super) fn count(units: &[Unit<'_>], counts: impl Fn(&Held) -> Option<bool>) -> Self {
        let of_unit = |unit: &Unit<'_>| {
            let counted = unit.readings.iter().filter_map(&counts);
            counted.fold((0usize, 0usize), |(hits, of), hit| (hits + usize::from(hit), of + 1))
        };
        let counted: Vec<(usize, usize)> = units.iter().map(of_unit).collect();
        let (hits, of) = counted.iter().fold((0, 0), |sum, one| (sum.0 + one.0, sum.1 + one.1));
        let mut share = Self { hits, of, standard_error: 0.0 };
        let mean = share.get();
        let squares: f64 = counted.iter().map(|(hits, of)| (*hits as f64 - mean * *of as f64).powi(2)).sum();
        share.standard_error = squares.sqrt() / of.max(1) as f64;
        share
    }

    /// The share, 0 to 1; 0 of nothing.
    #[must_use]
    pub fn get(&self) -> f64 {
        self.hits as f64 / self.of.max(1) as f64
    }
}

#[cfg(test)]
mod tests {
    use spurline_record::Outcome;

    use super::*;
    use crate::truth::held::specimen;

    /// Ratio estimator, by hand: 3 of 4, two units with 2 of 2 and 1 of 2; residuals 2 - 1.5 and 1 - 1.5, so that the
    /// standard error is sqrt(0.5) / 4.
    #[test]
    fn scatter_goes_from_unit_to_unit() {
        let reading = |level| specimen(-20.0, level, Outcome::Complies);
        let (first, second) = ([reading(-20.0), reading(-20.0)], [reading(-20.0), reading(-15.0)]);
        let units = [Unit { name: "1", readings: &first }, Unit { name: "2", readings: &second }];
        let share = Share::count(&units, Held::holds);
        assert_eq!((share.hits, share.of), (3, 4));
        assert!((share.standard_error - 0.5f64.sqrt() / 4.0).abs() < 1e-12, "{share:?}");
    }
}
