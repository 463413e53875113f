//! Two results with expanded uncertainties that share nothing: the number that comparisons between laboratories use.

/// The difference of two figures over the root of the sum of the squares of their expanded uncertainties; up to one in
/// size the two agree. `None` where nothing is uncertain.
#[must_use]
pub fn en(before: (f64, f64), after: (f64, f64)) -> Option<f64> {
    let expanded = before.1.hypot(after.1);
    (expanded > 0.0).then(|| (after.0 - before.0) / expanded)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// numpy 2.4.6: -0.09 / hypot(0.6, 0.6), and with 2 s / sqrt(5) of the repeats alone.
    #[test]
    fn full_uncertainty_hides_what_repeats_show() {
        assert!((en((37.02, 0.6), (36.93, 0.6)).unwrap() - -0.106_1).abs() < 1e-4);
        let of_mean = |deviation: f64| 2.0 * deviation / 5f64.sqrt();
        let repeats = en((37.02, of_mean(0.027_386)), (36.93, of_mean(0.025_495))).unwrap();
        assert!((repeats - -2.689_3).abs() < 1e-3, "{repeats}");
        assert_eq!(en((1.0, 0.0), (2.0, 0.0)), None);
    }
}
