//! Many questions at once: which of them may be called answered when the risk of one false alarm is for all together.

/// For each chance that is small enough by Holm's steps for a risk of `risk` over all of them, the share of the risk that
/// it was small enough for: an interval with that risk does not hold what was asked about either. One that is no number
/// is never small enough.
#[must_use]
pub fn holm(chances: &[f64], risk: f64) -> Vec<Option<f64>> {
    let mut order: Vec<usize> = (0..chances.len()).collect();
    order.sort_by(|one, other| chances[*one].total_cmp(&chances[*other]));
    let mut called = vec![None; chances.len()];
    for (done, place) in order.into_iter().enumerate() {
        let share = risk / (chances.len() - done) as f64;
        if chances[place].is_nan() || chances[place] > share {
            break;
        }
        called[place] = Some(share);
    }
    called
}

#[cfg(test)]
mod tests {
    use super::*;

    /// statsmodels 0.15.0: `multipletests(p, 0.05, method="holm")`.
    #[test]
    fn steps_of_holm() {
        let called = |chances: &[f64]| -> Vec<bool> {
            holm(chances, 0.05).into_iter().map(|share| share.is_some()).collect()
        };
        assert_eq!(called(&[0.01, 0.04, 0.03, 0.005]), [true, false, false, true]);
        assert_eq!(called(&[0.02, 0.02, 0.02]), [false; 3]);
        assert_eq!(called(&[0.016, 0.02, 0.05]), [true; 3]);
        assert_eq!(called(&[f64::NAN, 1e-9]), [false, true]);
        assert!(called(&[]).is_empty());
    }

    /// Holm 1979: the smallest of `n` is held against `risk/n`, the next against `risk/(n - 1)`, and so on.
    #[test]
    fn each_has_the_share_of_its_step() {
        assert_eq!(holm(&[0.02, 0.001, 0.04], 0.06), [Some(0.03), Some(0.02), Some(0.06)]);
    }
}
