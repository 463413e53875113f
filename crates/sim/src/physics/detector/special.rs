//! Functions of the gamma and of the normal distribution, as exact as draws need them.

/// ψ, the derivative of ln Γ, of a number above zero.
pub(super) fn digamma(x: f64) -> f64 {
    // Stirling's series from 6 on, reached by ψ(x) = ψ(x + 1) - 1 / x.
    let (mut x, mut sum) = (x, 0.0);
    while x < 6.0 {
        sum -= 1.0 / x;
        x += 1.0;
    }
    let square = 1.0 / (x * x);
    sum + x.ln() - 0.5 / x - square * (1.0 / 12.0 - square * (1.0 / 120.0 - square / 252.0))
}

/// ψ' and ψ'' of a number above zero.
fn trigamma(x: f64) -> (f64, f64) {
    let (mut x, mut first, mut second) = (x, 0.0, 0.0);
    while x < 6.0 {
        first += 1.0 / (x * x);
        second -= 2.0 / (x * x * x);
        x += 1.0;
    }
    let r = 1.0 / x;
    let square = r * r;
    first += r + square / 2.0 + r * square * (1.0 / 6.0 - square * (1.0 / 30.0 - square / 42.0));
    second -= square + r * square + square * square * (0.5 - square * (1.0 / 6.0 - square / 6.0));
    (first, second)
}

/// The order of the gamma power whose logarithm has this variance: ψ' turned round.
pub(super) fn order_of_log_variance(variance: f64) -> f64 {
    let mut order = (1.0 + (1.0 + 2.0 * variance).sqrt()) / (2.0 * variance);
    for _ in 0..2 {
        let (value, slope) = trigamma(order);
        order += (variance - value) / slope;
    }
    order
}

/// The power that the share exp(-`t`) of all gamma powers tops: Wilson and Hilferty's cube, right at order 1, where
/// the power is t; and where little is lower, the power law that the distribution begins with.
pub(super) fn gamma_power(order: f64, t: f64) -> f64 {
    let z = normal(t);
    let root = |order: f64| {
        let ninth = 1.0 / (9.0 * order);
        1.0 - ninth + z * ninth.sqrt()
    };
    let (of_one, of_order) = (root(1.0), root(order));
    if of_one > LOWEST_ROOT {
        return order * of_order.powi(3) * (t / of_one.powi(3)).powf(1.0 / order);
    }
    if of_order > LOWEST_ROOT {
        return order * of_order.powi(3);
    }
    let lower = -(-t).exp_m1();
    ((lower.ln() + libm::lgamma(order + 1.0)) / order).exp()
}

const LOWEST_ROOT: f64 = 0.35;

/// The value that the share exp(-`t`) of all normal draws tops (Abramowitz and Stegun, 26.2.23; to 4.5e-4).
pub(super) fn normal(t: f64) -> f64 {
    let upper = t > std::f64::consts::LN_2;
    let tail = if upper { t } else { -(-(-t).exp_m1()).ln() };
    let w = (2.0 * tail).sqrt();
    let over = 2.515_517 + w * (0.802_853 + w * 0.010_328);
    let under = 1.0 + w * (1.432_788 + w * (0.189_269 + w * 0.001_308));
    let value = w - over / under;
    if upper { value } else { -value }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// scipy 1.17.1: `digamma`, `polygamma(1, x)`.
    #[test]
    fn derivatives_of_the_logarithm_of_gamma() {
        for (x, first, second) in POLYGAMMA {
            assert!((digamma(x) - first).abs() < 1e-6, "{x}");
            assert!((trigamma(x).0 - second).abs() < 1e-6, "{x}");
            assert!((order_of_log_variance(second) / x - 1.0).abs() < 1e-4, "{x}");
        }
    }

    /// scipy 1.17.1: `norm.isf(exp(-t))`.
    #[test]
    fn the_normal_distribution_turned_round() {
        for (t, value) in NORMAL {
            assert!((normal(t) - value).abs() < 5e-4, "{t}: {}", normal(t));
        }
    }

    /// scipy 1.17.1: `gamma.isf(exp(-t), order)`.
    #[test]
    fn the_gamma_distribution_turned_round() {
        for (order, t, value) in GAMMA {
            let error = 10.0 * (gamma_power(order, t) / value).log10();
            let allowed = if t < 0.1 { 0.2 } else { 0.02 };
            assert!(error.abs() < allowed, "{order}, {t}: {error} dB");
        }
    }

    const POLYGAMMA: [(f64, f64, f64); 4] = [
        (0.9, -0.75492695, 1.92253996),
        (1.0, -0.57721566, 1.64493407),
        (3.3, 1.03482249, 0.35350154),
        (40.0, 3.67632737, 0.02531510),
    ];
    const NORMAL: [(f64, f64); 5] =
        [(1e-5, -4.264892), (0.3, -0.645870), (0.8, 0.127357), (4.0, 2.089850), (30.0, 7.357667)];
    const GAMMA: [(f64, f64, f64); 16] = [
        (1.3, 0.003, 0.0129652),
        (1.3, 0.3, 0.489652),
        (1.3, 3.0, 3.55901),
        (1.3, 9.0, 9.82182),
        (2.3, 0.003, 0.12762),
        (2.3, 0.3, 1.21299),
        (2.3, 3.0, 5.22839),
        (2.3, 9.0, 12.2013),
        (7.8, 0.003, 2.25314),
        (7.8, 0.3, 5.84649),
        (7.8, 3.0, 12.8967),
        (7.8, 9.0, 22.3368),
        (150.0, 0.003, 118.52),
        (150.0, 0.3, 141.905),
        (150.0, 3.0, 170.725),
        (150.0, 9.0, 199.088),
    ];
}
