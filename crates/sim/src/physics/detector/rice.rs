//! The distribution of the power of one look at a line in noise of mean power 1, turned round.
//!
//! Rice's power is a mixture of gamma powers with Poisson weights. Its tail is worked out once on a grid, and read off
//! there: the logarithm of the power over the line's level in dB and over the logarithm of t, where the share
//! exp(-t) of all looks is higher. Of noise alone the power is t itself, so that this is exact there.

use std::sync::LazyLock;

/// The lowest and highest level of the grid over the noise, in dB, one row for each decibel.
const LOWEST: f64 = -20.0;
const ROWS: usize = 41;
/// The first ln t of the grid, and the step from one column to the next.
const FIRST: f64 = -18.0;
const STEP: f64 = 0.25;
const COLUMNS: usize = 88;
/// Power over the noise of the lowest and of the highest row.
const WEAKEST: f64 = 0.01;
const STRONGEST: f64 = 100.0;

static GRID: LazyLock<Vec<f64>> = LazyLock::new(grid);
/// How far the voltage is above the line's own in the highest row.
static STRONG: LazyLock<Vec<f64>> = LazyLock::new(|| {
    let last = &GRID[(ROWS - 1) * COLUMNS..];
    last.iter().map(|log| (0.5 * log).exp() - STRONGEST.sqrt()).collect()
});

/// The logarithm of the power that the share exp(-t) of all looks at a line of power `snr` tops.
pub(super) fn log_power(snr: f64, log_t: f64) -> f64 {
    let column = ((log_t - FIRST) / STEP).clamp(-COLUMN_LIMIT, (COLUMNS - 1) as f64);
    if snr < WEAKEST {
        let log = across(0, column);
        let of_noise = FIRST + STEP * column;
        return log_t + (log - of_noise) * snr / WEAKEST;
    }
    if snr >= STRONGEST {
        // From here on the envelope only moves up as the line does.
        return 2.0 * (between(&STRONG, column) + snr.sqrt()).ln();
    }
    let row = 10.0 / std::f64::consts::LN_10 * snr.ln() - LOWEST;
    let below = (row as usize).min(ROWS - 2);
    let share = row - below as f64;
    let [one, other] = [across(below, column), across(below + 1, column)];
    one + (other - one) * share
}

/// Below the grid the power goes with t, as that of noise does.
const COLUMN_LIMIT: f64 = 200.0;

/// The logarithm of the power in one row.
fn across(row: usize, column: f64) -> f64 {
    let row = &GRID[row * COLUMNS..(row + 1) * COLUMNS];
    if column <= 0.0 { row[0] + column * STEP } else { between(row, column) }
}

fn between(row: &[f64], column: f64) -> f64 {
    let before = (column.max(0.0) as usize).min(COLUMNS - 2);
    row[before] + (row[before + 1] - row[before]) * (column.max(0.0) - before as f64)
}

fn grid() -> Vec<f64> {
    let mut grid = Vec::with_capacity(ROWS * COLUMNS);
    let mut first = FIRST;
    for row in 0..ROWS {
        let snr = 10f64.powf((LOWEST + row as f64) / 10.0);
        let mut log = first;
        for column in 0..COLUMNS {
            log = solve(snr, FIRST + STEP * column as f64, log);
            if column == 0 {
                first = log;
            }
            grid.push(log);
        }
    }
    grid
}

/// Newton's method for the logarithm of the power at which ln t is `wanted`.
fn solve(snr: f64, wanted: f64, start: f64) -> f64 {
    let mut log = start;
    for _ in 0..ITERATIONS {
        let (found, slope) = tail(snr, log.exp());
        let step = (wanted - found) / slope;
        // Far from the aim the slope there may be much too small.
        log += step.clamp(-1.0, 1.0);
        if step.abs() < 1e-6 {
            break;
        }
    }
    log
}

const ITERATIONS: usize = 40;

/// ln t at a power, and how it rises with the logarithm of the power.
fn tail(snr: f64, power: f64) -> (f64, f64) {
    let terms = (snr + 10.0 * snr.sqrt() + 30.0) as usize;
    // The weight of j, the probability of just j events and that of more than j where `power` are expected.
    let (mut weight, mut exactly, mut more) = ((-snr).exp(), (-power).exp(), -(-power).exp_m1());
    let (mut below, mut above, mut density) = (0.0, 0.0, 0.0);
    let mut at_most = exactly;
    for j in 0..terms {
        above += weight * at_most;
        below += weight * more;
        density += weight * exactly;
        let next = (j + 1) as f64;
        weight *= snr / next;
        exactly *= power / next;
        at_most += exactly;
        more = (more - exactly).max(0.0);
    }
    // The smaller of the two is the one that is known well.
    let t = if below < 0.5 { -(-below).ln_1p() } else { -above.ln() };
    (t.ln(), power * density / (above * t))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// scipy 1.17.1: `ncx2.isf(exp(-t), 2, 2 * snr) / 2` and, where exp(-t) is near 1, `ncx2.ppf(-expm1(-t), 2, 2 * snr) / 2`.
    #[test]
    fn the_power_is_that_of_a_non_central_chi_square() {
        for (snr_db, t, power_expected) in REFERENCE {
            let found = log_power(10f64.powf(snr_db / 10.0), t.ln()).exp();
            let error = 10.0 * (found / power_expected).log10();
            let allowed = if t < 0.1 { 0.15 } else { 0.01 };
            assert!(
                error.abs() < allowed,
                "{snr_db} dB, t {t}: {found}, expected {power_expected}: {error} dB"
            );
        }
    }

    #[test]
    fn of_noise_alone_it_is_t() {
        for t in [1e-12f64, 1e-3, 0.7, 5.0, 39.0] {
            assert!((log_power(0.0, t.ln()).exp() / t - 1.0).abs() < 1e-9);
        }
    }

    const REFERENCE: [(f64, f64, f64); 63] = [
        (-25.0, 1e-06, 1.00317e-06),
        (-25.0, 0.01, 0.0100317),
        (-25.0, 0.5, 0.501583),
        (-25.0, 2.2, 2.20696),
        (-25.0, 6.0, 6.01891),
        (-25.0, 13.0, 13.0408),
        (-25.0, 25.0, 25.0777),
        (-7.3, 1e-06, 1.20467e-06),
        (-7.3, 0.01, 0.0120456),
        (-7.3, 0.5, 0.599527),
        (-7.3, 2.2, 2.60355),
        (-7.3, 6.0, 6.95962),
        (-7.3, 13.0, 14.7528),
        (-7.3, 25.0, 27.7925),
        (0.0, 1e-06, 2.71828e-06),
        (0.0, 0.01, 0.027049),
        (0.0, 0.5, 1.15854),
        (0.0, 2.2, 4.17349),
        (0.0, 6.0, 9.76019),
        (0.0, 13.0, 18.958),
        (0.0, 25.0, 33.6445),
        (4.5, 1e-06, 1.67495e-05),
        (4.5, 0.01, 0.147303),
        (4.5, 0.5, 2.70047),
        (4.5, 2.2, 7.08873),
        (4.5, 6.0, 14.1647),
        (4.5, 13.0, 25.0433),
        (4.5, 25.0, 41.7002),
        (9.7, 1e-06, 0.0108077),
        (9.7, 0.01, 2.32404),
        (9.7, 0.5, 8.69012),
        (9.7, 2.2, 15.9286),
        (9.7, 6.0, 26.0577),
        (9.7, 13.0, 40.365),
        (9.7, 25.0, 61.0314),
        (15.2, 1e-06, 6.04249),
        (15.2, 0.01, 17.2986),
        (15.2, 0.5, 31.443),
        (15.2, 2.2, 44.3437),
        (15.2, 6.0, 60.5052),
        (15.2, 13.0, 81.5689),
        (15.2, 25.0, 110.124),
        (19.6, 1e-06, 38.7006),
        (19.6, 0.01, 62.922),
        (19.6, 0.5, 88.0826),
        (19.6, 2.2, 108.978),
        (19.6, 6.0, 133.646),
        (19.6, 13.0, 164.229),
        (19.6, 25.0, 203.891),
        (23.0, 1e-06, 116.303),
        (23.0, 0.01, 156.197),
        (23.0, 0.5, 194.66),
        (23.0, 2.2, 225.205),
        (23.0, 6.0, 260.137),
        (23.0, 13.0, 302.204),
        (23.0, 25.0, 355.266),
        (40.0, 1e-06, 9339.55),
        (40.0, 0.01, 9673.95),
        (40.0, 0.5, 9962.31),
        (40.0, 2.2, 10174.1),
        (40.0, 6.0, 10401.8),
        (40.0, 13.0, 10659.6),
        (40.0, 25.0, 10964.2),
    ];
}
