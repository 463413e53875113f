//! Noise behind a peak detector: how high it stands above its mean power, and how high the highest of it may.
//!
//! The power of noise behind a filter is exponential about its mean. The highest of so many independent looks, which
//! need not be a whole number, has the distribution (1 - e^-x)^m.

use spurline_units::Db;

/// Looks in a second and a hertz of bandwidth: a continuous envelope behind a Gaussian filter peaks as the highest of
/// 3.2 looks for each unit of bandwidth and time does (numpy 2.4.6, simulation of 2^22 samples).
const LOOKS: f64 = 3.2;

/// How many independent looks a peak detector has in `time` seconds at a bandwidth of `bandwidth` hertz, at least one.
#[must_use]
pub fn peak_looks(bandwidth: f64, time: f64) -> f64 {
    (LOOKS * bandwidth * time).max(1.0)
}

/// The mean power of the highest of so many looks, above the mean power of the noise: the harmonic number.
#[must_use]
pub fn mean_peak(looks: f64) -> Db {
    Db::new(10.0 * harmonic_number(looks.max(1.0)).log10())
}

/// The highest of so many looks is as often above this as below, above the mean power of the noise.
#[must_use]
pub fn median_peak(looks: f64) -> Db {
    highest_of_noise(looks, 0.5)
}

/// What the highest of so many looks is above with this chance, above the mean power of the noise.
#[must_use]
pub fn highest_of_noise(looks: f64, chance: f64) -> Db {
    // 1 - (1 - chance)^(1 / looks), without the loss of digits for many looks.
    let each = -((-chance).ln_1p() / looks.max(1.0)).exp_m1();
    Db::new(10.0 * (-each.ln()).log10())
}

/// The harmonic number of a real argument from 1 on: its asymptotic series (Euler and Maclaurin), begun at 8.
fn harmonic_number(looks: f64) -> f64 {
    const EULER: f64 = 0.577_215_664_901_532_9;
    let (mut n, mut less) = (looks, 0.0);
    while n < 8.0 {
        n += 1.0;
        less += 1.0 / n;
    }
    let square = n * n;
    n.ln() + EULER + 0.5 / n - 1.0 / (12.0 * square) + 1.0 / (120.0 * square * square) - less
}

#[cfg(test)]
mod tests {
    use super::*;

    fn close(found: Db, expected: f64) {
        assert!((found.get() - expected).abs() < 1e-3, "found {found:?}, expected {expected}");
    }

    /// scipy 1.17.1, numerical integration of the highest of M exponential looks: 10 log10 of its mean.
    #[test]
    fn mean_of_the_highest_look() {
        for (looks, expected) in [
            (1.0, 0.0),
            (2.0, 1.761),
            (5.0, 3.586),
            (10.0, 4.6671),
            (100.0, 7.1495),
            (1e3, 8.742),
            (1e4, 9.907),
        ] {
            close(mean_peak(looks), expected);
        }
    }

    /// scipy 1.17.1: 99 % point of the highest of M looks.
    #[test]
    fn one_in_a_hundred_is_higher() {
        for (looks, expected) in
            [(1.0, 6.632), (2.0, 7.239), (10.0, 8.391), (100.0, 9.640), (1e3, 10.610), (1e4, 11.402)]
        {
            close(highest_of_noise(looks, 0.01), expected);
        }
    }

    /// By hand: the median of an exponential is ln 2, 0.693147.
    #[test]
    fn median_of_one_look() {
        close(median_peak(1.0), -1.591_7);
        close(Db::new(peak_looks(100e3, 1.25e-5 * 10.0)), 40.0);
        close(Db::new(peak_looks(1.0, 0.1)), 1.0);
    }
}
