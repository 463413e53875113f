//! Many questions at once: which of them may be called answered when the risk of one false alarm is for all together.

/// For each chance, whether it is small enough by Holm's steps for a risk of `risk` over all of them. One that is no
/// number is never.
#[must_use]
pub fn holm(chances: &[f64], risk: f64) -> Vec<bool> {
    let mut order: Vec<usize> = (0..chances.len()).collect();
    order.sort_by(|one, other| chances[*one].total_cmp(&chances[*other]));
    let mut called = vec![false; chances.len()];
    for (done, place) in order.into_iter().enumerate() {
        let left = (chances.len() - done) as f64;
        if chances[place].is_nan() || chances[place] > risk / left {
            break;
        }
        called[place] = true;
    }
    called
}

#[cfg(test)]
mod tests {
    use super::*;

    /// statsmodels 0.15.0: `multipletests(p, 0.05, method="holm")`.
    #[test]
    fn steps_of_holm() {
        assert_eq!(holm(&[0.01, 0.04, 0.03, 0.005], 0.05), [true, false, false, true]);
        assert_eq!(holm(&[0.02, 0.02, 0.02], 0.05), [false; 3]);
        assert_eq!(holm(&[0.016, 0.02, 0.05], 0.05), [true; 3]);
        assert_eq!(holm(&[f64::NAN, 1e-9], 0.05), [false, true]);
        assert!(holm(&[], 0.05).is_empty());
    }
}
