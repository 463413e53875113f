//! Moments of one look at a line in noise of mean power 1: of the logarithm of its power, and of its voltage.
//!
//! Rice's power is a gamma power of order 1 + j, where j has a Poisson distribution about the line's power: the moments
//! are sums over j of those of gamma powers, worked out once for each half decibel.

use std::sync::LazyLock;

/// Mean and variance.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Moments {
    pub(super) mean: f64,
    pub(super) variance: f64,
}

#[derive(Clone, Copy, Debug)]
struct Row {
    log: Moments,
    voltage: Moments,
}

/// The lowest and highest power of the table over the noise, and its steps in a decibel.
const WEAKEST: f64 = 0.01;
const STRONGEST: f64 = 100.0;
const PER_DECIBEL: f64 = 2.0;
const ROWS: usize = 81;

static TABLE: LazyLock<Vec<Row>> = LazyLock::new(|| {
    let snr = |row: usize| WEAKEST * 10f64.powf(row as f64 / PER_DECIBEL / 10.0);
    (0..ROWS).map(|row| Row::of(snr(row))).collect()
});
static NOISE: LazyLock<Row> = LazyLock::new(|| Row::of(0.0));

/// Of the natural logarithm of the power.
pub(super) fn of_log(snr: f64) -> Moments {
    if snr >= STRONGEST {
        let last = TABLE[ROWS - 1].log;
        // The mean's distance from the line's own level is by now exp(-snr) / snr.
        return Moments { mean: snr.ln(), variance: last.variance * STRONGEST / snr };
    }
    between(snr, |row| row.log)
}

/// Of the voltage.
pub(super) fn of_voltage(snr: f64) -> Moments {
    if snr >= STRONGEST {
        let mean = snr.sqrt() + 0.25 / snr.sqrt();
        return Moments { mean, variance: TABLE[ROWS - 1].voltage.variance };
    }
    between(snr, |row| row.voltage)
}

fn between(snr: f64, of: impl Fn(&Row) -> Moments) -> Moments {
    let (one, other, share) = if snr < WEAKEST {
        (*NOISE, TABLE[0], snr / WEAKEST)
    } else {
        let row = (snr / WEAKEST).ln() * 10.0 / std::f64::consts::LN_10 * PER_DECIBEL;
        let below = (row as usize).min(ROWS - 2);
        (TABLE[below], TABLE[below + 1], row - below as f64)
    };
    let (one, other) = (of(&one), of(&other));
    Moments {
        mean: one.mean + (other.mean - one.mean) * share,
        variance: one.variance + (other.variance - one.variance) * share,
    }
}

/// Euler's constant and π²/6: ψ(1) = -γ and ψ'(1).
const EULER: f64 = 0.577_215_664_901_532_9;
const TRIGAMMA_OF_ONE: f64 = std::f64::consts::PI * std::f64::consts::PI / 6.0;

impl Row {
    fn of(snr: f64) -> Self {
        let mut weight = (-snr).exp();
        // Mean and variance of the logarithm at j, and the mean of the root.
        let (mut log, mut spread) = (-EULER, TRIGAMMA_OF_ONE);
        let mut root = std::f64::consts::PI.sqrt() / 2.0;
        let (mut mean, mut square, mut voltage) = (0.0, 0.0, 0.0);
        for j in 0..(snr + 10.0 * snr.sqrt() + 30.0) as usize {
            mean += weight * log;
            square += weight * (log * log + spread);
            voltage += weight * root;
            let next = (j + 1) as f64;
            weight *= snr / next;
            log += 1.0 / next;
            spread -= 1.0 / (next * next);
            root *= (next + 0.5) / next;
        }
        Self {
            log: Moments { mean, variance: square - mean * mean },
            voltage: Moments { mean: voltage, variance: 1.0 + snr - voltage * voltage },
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn db(natural: f64) -> f64 {
        natural * 10.0 / std::f64::consts::LN_10
    }

    /// scipy 1.17.1: `(10 / ln 10) E1(snr)` above the line's own level, and the scatter of one look in dB by integration
    /// of Rice's density.
    #[test]
    fn of_the_logarithm() {
        for (snr_db, error, spread) in
            [(0.0, 0.952_77, 5.094_2), (3.0, 0.213_77, 4.375_0), (10.0, 0.0, 1.998_6), (20.0, 0.0, 0.615_7)]
        {
            let snr = 10f64.powf(snr_db / 10.0);
            let found = of_log(snr);
            assert!((db(found.mean) - snr_db - error).abs() < 2e-3, "{snr_db} dB: {}", db(found.mean));
            assert!((db(found.variance.sqrt()) - spread).abs() < 2e-3, "{snr_db} dB: {found:?}");
        }
        assert!((db(of_log(0.0).mean) + 2.506_816).abs() < 1e-6);
        assert!((db(of_log(0.0).variance.sqrt()) - 5.570_043).abs() < 1e-6);
    }

    /// scipy 1.17.1: `rice.mean` and `rice.var` at `b = sqrt(2 snr)` and `scale = sqrt(1 / 2)`.
    #[test]
    fn of_the_voltage() {
        for (snr, mean, variance) in VOLTAGES {
            let found = of_voltage(snr);
            assert!((found.mean / mean - 1.0).abs() < 5e-4, "{snr}: {found:?}");
            assert!((found.variance / variance - 1.0).abs() < 5e-3, "{snr}: {found:?}");
        }
    }

    const VOLTAGES: [(f64, f64, f64); 7] = [
        (0.0, 0.8862269, 0.2146018),
        (0.003, 0.8875558, 0.2152448),
        (0.2, 0.9727057, 0.2538437),
        (1.0, 1.2819196, 0.3566822),
        (7.0, 2.7421805, 0.4804461),
        (60.0, 7.7783097, 0.4978989),
        (3000.0, 54.7768203, 0.4999583),
    ];
}
