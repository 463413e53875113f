//! The control chart of a check standard: single figures in the order of time.

/// Three standard deviations over the mean of the moving ranges of two: 3 / d2.
const PER_RANGE: f64 = 2.658_681;

/// The limits of a chart of single figures.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Individuals {
    /// The mean.
    pub mean: f64,
    /// The mean of the ranges from one figure to the next.
    pub moving_range: f64,
    /// Below this something is wrong.
    pub low: f64,
    /// Above this something is wrong.
    pub high: f64,
}

/// The chart of some figures; `None` for fewer than two.
#[must_use]
pub fn individuals(figures: &[f64]) -> Option<Individuals> {
    if figures.len() < 2 {
        return None;
    }
    let mean = figures.iter().sum::<f64>() / figures.len() as f64;
    let ranges = figures.windows(2).map(|pair| (pair[1] - pair[0]).abs()).sum::<f64>();
    let moving_range = ranges / (figures.len() - 1) as f64;
    let reach = PER_RANGE * moving_range;
    Some(Individuals { mean, moving_range, low: mean - reach, high: mean + reach })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// numpy 2.4.6: the mean, and the mean of `abs(diff(x))` times 3 / 1.128379.
    #[test]
    fn a_chart_of_ten_sessions() {
        let data = [37.01, 37.03, 36.99, 37.02, 37.00, 37.04, 36.98, 37.01, 37.02, 37.00];
        let chart = individuals(&data).unwrap();
        assert!((chart.mean - 37.010).abs() < 1e-9 && (chart.moving_range - 0.03).abs() < 1e-9, "{chart:?}");
        assert!((chart.low - 36.930_24).abs() < 1e-4 && (chart.high - 37.089_76).abs() < 1e-4, "{chart:?}");
        assert_eq!(individuals(&[1.0]), None);
    }
}
