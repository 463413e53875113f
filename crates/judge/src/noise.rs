//! A line near the noise floor: whether it can be told from it, and what it is without it.
//!
//! Reading and floor are averages of power taken with the same bandwidth, detector and averaging.

use spurline_units::{Db, Dbm};

/// How far a reading must stand above the floor before the floor may be subtracted, in dB.
///
/// A constant of the method: at 3 dB signal and noise are equal and an error of either counts twice; below it the
/// correction grows without bound, while the uncorrected reading can only overstate the line.
pub const RESOLVED_DB: f64 = 3.0;

/// What a reading at some distance from the floor is worth.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Regime {
    /// The line is not told from the floor: the reading is an upper bound.
    Bound,
    /// The floor can be taken out of the reading.
    Resolved,
}

/// What a reading is worth when it stands `distance` above the floor.
#[must_use]
pub fn regime(distance: Db) -> Regime {
    if distance.get() < RESOLVED_DB { Regime::Bound } else { Regime::Resolved }
}

/// A reading with the noise taken out.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Corrected {
    /// The level of the line alone.
    pub level: Dbm,
    /// What was taken off the reading; never below zero.
    pub removed: Db,
    /// By how much the level moves per dB of the reading: a plain number, 1 or more.
    pub by_reading: f64,
    /// By how much the level moves per dB of the floor: a plain number, 0 or less.
    pub by_floor: f64,
}

impl Corrected {
    /// The standard uncertainty of the level from those of reading and floor, all in dB.
    #[must_use]
    pub fn uncertainty(&self, reading: Db, floor: Db) -> Db {
        Db::new((self.by_reading * reading.get()).hypot(self.by_floor * floor.get()))
    }
}

/// The line in `reading` without the noise of `floor`; `None` where the reading is only a bound.
#[must_use]
pub fn correct(reading: Dbm, floor: Dbm) -> Option<Corrected> {
    let distance = reading - floor;
    match regime(distance) {
        Regime::Bound => None,
        Regime::Resolved => {
            let noise_share = (-distance).power_ratio();
            let line_share = 1.0 - noise_share;
            let removed = Db::new(-10.0 * line_share.log10());
            Some(Corrected {
                level: reading - removed,
                removed,
                by_reading: 1.0 / line_share,
                by_floor: -noise_share / line_share,
            })
        }
    }
}

/// By how much a line reads high when it stands `signal_to_noise` above the noise that is added to it in power.
#[must_use]
pub fn reading_error(signal_to_noise: Db) -> Db {
    Db::new(10.0 * (-signal_to_noise).power_ratio().ln_1p() / std::f64::consts::LN_10)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn close(found: f64, expected: f64, tolerance: f64) {
        assert!((found - expected).abs() < tolerance, "found {found}, expected {expected}");
    }

    /// 10 log10(1 + 10^(-SNR/10)) by numpy 2.4.6; the trade's rule of thumb is 3, 1.2 and 0.4 dB.
    #[test]
    fn noise_lifts_a_reading() {
        for (snr, error) in [(0.0, 3.010_3), (5.0, 1.193_3), (10.0, 0.413_9), (20.0, 0.043_2)] {
            close(reading_error(Db::new(snr)).get(), error, 1e-4);
        }
    }

    /// 10 log10(1 - 10^(-D/10)) by numpy 2.4.6.
    #[test]
    fn corrections() {
        for (distance, removed) in
            [(3.0, 3.020_624), (6.0, 1.256_276), (10.0, 0.457_575), (15.0, 0.139_554), (20.0, 0.043_648)]
        {
            let corrected = correct(Dbm::new(-60.0 + distance), Dbm::new(-60.0)).unwrap();
            close(corrected.removed.get(), removed, 1e-6);
            close(corrected.level.get(), -60.0 + distance - removed, 1e-6);
        }
    }

    /// First-order propagation by uncertainties 3.2.3, digits by numpy 2.4.6: 0.3 dB in reading and floor.
    #[test]
    fn uncertainty_grows_towards_the_floor() {
        for (distance, u) in [(3.0, 0.672_737), (6.0, 0.413_081), (10.0, 0.334_996)] {
            let corrected = correct(Dbm::new(-60.0 + distance), Dbm::new(-60.0)).unwrap();
            close(corrected.uncertainty(Db::new(0.3), Db::new(0.3)).get(), u, 1e-6);
        }
    }

    #[test]
    fn below_three_db_the_reading_is_a_bound() {
        assert_eq!(correct(Dbm::new(-57.1), Dbm::new(-60.0)), None);
        assert_eq!(regime(Db::new(2.9)), Regime::Bound);
        assert_eq!(regime(Db::new(-1.0)), Regime::Bound);
        assert_eq!(regime(Db::new(3.0)), Regime::Resolved);
    }

    proptest! {
        #[test]
        fn correction_undoes_the_sum(line in -150.0..20.0f64, snr in 0.1..60.0f64) {
            let (line, floor) = (Dbm::new(line), Dbm::new(line - snr));
            let reading = (line.to_watts() + floor.to_watts()).to_dbm();
            let corrected = correct(reading, floor).unwrap();
            prop_assert!((corrected.level - line).abs().get() < 1e-9);
            prop_assert!((reading - line - reading_error(Db::new(snr))).abs().get() < 1e-9);
        }

        #[test]
        fn sensitivities_are_slopes(distance in 3.5..40.0f64) {
            let level = |reading: f64, floor: f64| {
                correct(Dbm::new(reading), Dbm::new(floor)).unwrap().level.get()
            };
            let (m, h) = (distance, 1e-5);
            let corrected = correct(Dbm::new(m), Dbm::new(0.0)).unwrap();
            let by_reading = (level(m + h, 0.0) - level(m - h, 0.0)) / (2.0 * h);
            let by_floor = (level(m, h) - level(m, -h)) / (2.0 * h);
            prop_assert!((by_reading - corrected.by_reading).abs() < 1e-6);
            prop_assert!((by_floor - corrected.by_floor).abs() < 1e-6);
        }
    }
}
