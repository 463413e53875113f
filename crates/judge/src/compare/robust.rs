//! The middle and spread of many figures that a few odd ones do not move, and which those are.

/// The median of the distances from the median, over this, is the standard deviation of a normal distribution.
const OF_NORMAL: f64 = 0.674_489_750_196_081_7;
/// So many such standard deviations from the median is odd, after Iglewicz and Hoaglin.
const ODD: f64 = 3.5;

/// Many figures of the same thing.
#[derive(Clone, Debug, PartialEq)]
pub struct Robust {
    /// Their median.
    pub median: f64,
    /// Their standard deviation, odd ones and all; zero for one figure.
    pub deviation: f64,
    /// The standard deviation that the middle of them has, by their distances from the median.
    pub robust_deviation: f64,
    /// Which are odd, by their places.
    pub odd: Vec<usize>,
}

/// The middle and spread of some figures; `None` if there is no finite one. Fewer than `least` are never odd.
#[must_use]
pub fn robust(figures: &[f64], least: usize) -> Option<Robust> {
    let finite: Vec<f64> = figures.iter().copied().filter(|figure| figure.is_finite()).collect();
    let middle = median(&finite)?;
    let distances: Vec<f64> = finite.iter().map(|figure| (figure - middle).abs()).collect();
    let robust_deviation = median(&distances)? / OF_NORMAL;
    let count = finite.len() as f64;
    let mean = finite.iter().sum::<f64>() / count;
    let squares: f64 = finite.iter().map(|figure| (figure - mean).powi(2)).sum();
    let deviation = if finite.len() < 2 { 0.0 } else { (squares / (count - 1.0)).sqrt() };
    // Where more than half are alike, nothing says how far is far.
    let tells = finite.len() >= least && robust_deviation > 0.0;
    let odd = figures.iter().enumerate().filter(|(_, figure)| {
        tells && figure.is_finite() && (**figure - middle).abs() > ODD * robust_deviation
    });
    Some(Robust { median: middle, deviation, robust_deviation, odd: odd.map(|(place, _)| place).collect() })
}

fn median(figures: &[f64]) -> Option<f64> {
    let mut sorted = figures.to_vec();
    sorted.sort_by(f64::total_cmp);
    let half = sorted.len() / 2;
    let upper = *sorted.get(half)?;
    Some(if sorted.len() % 2 == 1 { upper } else { 0.5 * (sorted[half - 1] + upper) })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// scipy 1.17.1: `stats.median_abs_deviation([2.1, 2.6, 2.4, 2.5, 2.3, 2.1, 2.3, 2.6, 8.2, 8.3], scale="normal")` is
    /// 0.222 390 3.
    #[test]
    fn two_odd_ones_do_not_hide_each_other() {
        let figures = [2.1, 2.6, 2.4, 2.5, 2.3, 2.1, 2.3, 2.6, 8.2, 8.3];
        let found = robust(&figures, 5).unwrap();
        assert!((found.median - 2.45).abs() < 1e-12 && (found.robust_deviation - 0.222_390_3).abs() < 1e-6);
        assert_eq!(found.odd, [8, 9]);
        assert!(robust(&figures, 11).unwrap().odd.is_empty());
    }

    #[test]
    fn what_is_alike_has_no_odd_one() {
        let found = robust(&[1.0, 1.0, 1.0, 9.0, f64::NAN], 3).unwrap();
        assert_eq!((found.median, found.robust_deviation), (1.0, 0.0));
        assert!(found.odd.is_empty() && found.deviation > 3.0);
        assert_eq!(robust(&[], 1), None);
    }
}
