//! A loss table: dB at frequencies, a straight line between them, nothing beyond them.

use spurline_units::{Db, Hertz, Range};
use thiserror::Error;

use crate::curve::Curve;

/// The most by which a passive part may seem to amplify: errors of calibration on a part that loses next to
/// nothing, not gain.
pub(crate) const LARGEST_GAIN_DB: f64 = 0.1;

/// Loss in dB, a positive number, against frequency, and with it, where it was measured so, how uncertain it is.
#[derive(Clone, Debug, PartialEq)]
pub struct LossTable {
    losses: Curve,
    uncertainties: Option<Curve>,
}

/// Why points are not a loss table. The second line of a message is advice.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum TableError {
    /// There is no point in it.
    #[error("a loss table without points\nwrite at least one pair of frequency and loss")]
    Empty,
    /// A frequency is not above the one before it.
    #[error("{found} stands behind {previous}\nwrite the table with ascending frequencies, each once")]
    NotAscending {
        /// Which point, from 0.
        index: usize,
        /// The frequency of the point before it.
        previous: Hertz,
        /// Its own frequency.
        found: Hertz,
    },
    /// A loss is so far below zero that the part amplifies.
    #[error(
        "expected a loss, found a gain of {gain} at {frequency}\nwrite a loss as a positive number of dB; an amplifier is no part of a path"
    )]
    Gain {
        /// Which point, from 0.
        index: usize,
        /// Where.
        frequency: Hertz,
        /// How much.
        gain: Db,
    },
}

impl TableError {
    /// Which point is wrong, from 0; `None` if it is the whole table.
    #[must_use]
    pub const fn index(&self) -> Option<usize> {
        match self {
            Self::Empty => None,
            Self::NotAscending { index, .. } | Self::Gain { index, .. } => Some(*index),
        }
    }
}

impl LossTable {
    /// A table from its points.
    ///
    /// # Errors
    ///
    /// If there are none, the frequencies do not ascend, or a loss is a gain.
    pub fn new(points: &[(Hertz, Db)]) -> Result<Self, TableError> {
        if points.is_empty() {
            return Err(TableError::Empty);
        }
        for (index, pair) in points.windows(2).enumerate() {
            let (previous, found) = (pair[0].0, pair[1].0);
            if found <= previous {
                return Err(TableError::NotAscending { index: index + 1, previous, found });
            }
        }
        if let Some(index) = points.iter().position(|(_, loss)| loss.get() < -LARGEST_GAIN_DB) {
            let (frequency, loss) = points[index];
            return Err(TableError::Gain { index, frequency, gain: -loss });
        }
        let losses =
            Curve::new(points.iter().map(|(frequency, loss)| (frequency.get(), loss.get())).collect());
        Ok(Self { losses, uncertainties: None })
    }

    /// A table whose points have an uncertainty each, expanded for k = 2.
    ///
    /// # Errors
    ///
    /// As for [`LossTable::new`].
    pub fn with_uncertainties(points: &[(Hertz, Db, Db)]) -> Result<Self, TableError> {
        let losses: Vec<_> = points.iter().map(|(frequency, loss, _)| (*frequency, *loss)).collect();
        let table = Self::new(&losses)?;
        let uncertainties = points.iter().map(|(frequency, _, within)| (frequency.get(), within.get()));
        Ok(Self { uncertainties: Some(Curve::new(uncertainties.collect())), ..table })
    }

    /// The loss at a frequency; `None` beyond the table, for nothing is extrapolated.
    #[must_use]
    pub fn at(&self, frequency: Hertz) -> Option<Db> {
        self.losses.at(frequency.get()).map(Db::new)
    }

    /// The expanded uncertainty at a frequency; `None` beyond the table, or if its points have none of their own.
    #[must_use]
    pub fn uncertainty_at(&self, frequency: Hertz) -> Option<Db> {
        self.uncertainties.as_ref()?.at(frequency.get()).map(Db::new)
    }

    /// The largest uncertainty of its points, if they have their own.
    #[must_use]
    pub fn largest_uncertainty(&self) -> Option<Db> {
        self.uncertainties.as_ref().map(|curve| Db::new(curve.highest()))
    }

    /// From the first to the last frequency.
    #[must_use]
    pub fn covered(&self) -> Range<Hertz> {
        let (low, high) = self.losses.ends();
        Range::new(Hertz::new(low), Hertz::new(high)).expect("frequencies of a curve ascend")
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn table(points: &[(f64, f64)]) -> Result<LossTable, TableError> {
        let points: Vec<_> = points.iter().map(|(mhz, db)| (Hertz::from_mhz(*mhz), Db::new(*db))).collect();
        LossTable::new(&points)
    }

    /// numpy 2.4.6: `interp` of this table.
    #[test]
    fn interpolates_along_a_straight_line() {
        let table = table(&[(100.0, 40.2), (200.0, 40.5), (500.0, 41.1), (1000.0, 42.0)]).unwrap();
        for (mhz, loss) in [
            (100.0, 40.2),
            (145.0, 40.335),
            (290.0, 40.680),
            (435.0, 40.970),
            (500.0, 41.1),
            (580.0, 41.244),
            (725.0, 41.505),
            (870.0, 41.766),
            (1000.0, 42.0),
        ] {
            let found = table.at(Hertz::from_mhz(mhz)).unwrap().get();
            assert!((found - loss).abs() < 1e-9, "{mhz} MHz: {found}");
        }
        for mhz in [50.0, 99.999, 1000.001, 1200.0] {
            assert_eq!(table.at(Hertz::from_mhz(mhz)), None, "{mhz} MHz");
        }
        assert_eq!(table.covered().to_string(), "100 MHz..1 GHz");
    }

    #[test]
    fn one_point_covers_one_frequency() {
        let table = table(&[(100.0, 3.0)]).unwrap();
        assert_eq!(table.at(Hertz::from_mhz(100.0)), Some(Db::new(3.0)));
        assert_eq!(table.at(Hertz::from_mhz(100.1)), None);
    }

    #[test]
    fn slips_are_named() {
        let message = |points: &[(f64, f64)]| {
            let error = table(points).unwrap_err();
            (error.index(), error.to_string().lines().next().unwrap().to_owned())
        };
        assert_eq!(message(&[]), (None, "a loss table without points".to_owned()));
        assert_eq!(
            message(&[(1.0, 1.0), (2.0, 1.0), (2.0, 1.0)]),
            (Some(2), "2 MHz stands behind 2 MHz".to_owned())
        );
        assert_eq!(
            message(&[(1.0, 1.0), (2.0, -15.0)]),
            (Some(1), "expected a loss, found a gain of 15.00 dB at 2 MHz".to_owned())
        );
        assert!(table(&[(1.0, -0.05)]).is_ok());
    }

    proptest! {
        #[test]
        fn a_loss_lies_between_its_neighbours(
            steps in prop::collection::vec((0.1..100.0f64, 0.0..60.0f64), 2..10), share in 0.0..=1.0f64
        ) {
            let mut mhz = 0.0;
            let points: Vec<_> = steps.iter().map(|(step, loss)| { mhz += step; (mhz, *loss) }).collect();
            let table = table(&points).unwrap();
            for pair in points.windows(2) {
                let at = Hertz::from_mhz((pair[0].0 * (1.0 - share) + pair[1].0 * share).clamp(pair[0].0, pair[1].0));
                let found = table.at(at).unwrap().get();
                prop_assert!(found >= pair[0].1.min(pair[1].1) - 1e-9);
                prop_assert!(found <= pair[0].1.max(pair[1].1) + 1e-9);
            }
        }
    }
}
