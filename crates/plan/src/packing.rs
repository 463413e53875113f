//! How what is measured while the unit is keyed is spread over key-downs.
//!
//! The forecast and the run ask here, so that what was promised beforehand is what is done.

use spurline_units::Seconds;

/// Where one key-down is not enough, each is filled to this share: looks that decide a line near its limit need time too.
const FILLED: f64 = 0.75;

/// The items in their order, a list for each key-down; one empty list if there are none.
///
/// `fixed` is what every key-down takes beside them, `time` what an item takes. An item that is too long for any
/// key-down has one to itself.
pub fn packed<T>(
    items: Vec<T>,
    fixed: Seconds,
    longest: Seconds,
    time: impl Fn(&T) -> Seconds,
) -> Vec<Vec<T>> {
    let all = items.iter().fold(fixed, |sum, item| sum + time(item));
    let room = if all <= longest { longest } else { longest * FILLED };
    let mut downs: Vec<Vec<T>> = vec![Vec::new()];
    let mut used = fixed;
    for item in items {
        let takes = time(&item);
        let last = downs.last_mut().expect("there is a first list");
        if used + takes > room && !last.is_empty() {
            downs.push(vec![item]);
            used = fixed + takes;
        } else {
            last.push(item);
            used = used + takes;
        }
    }
    downs
}

#[cfg(test)]
mod tests {
    use super::*;

    fn spread(times: &[f64]) -> Vec<Vec<f64>> {
        packed(times.to_vec(), Seconds::new(1.0), Seconds::new(9.0), |time| Seconds::new(*time))
    }

    #[test]
    fn what_fits_is_one_key_down() {
        assert_eq!(spread(&[2.0, 3.0, 3.0]), [vec![2.0, 3.0, 3.0]]);
        assert_eq!(spread(&[]), [Vec::<f64>::new()]);
    }

    /// By hand: three quarters of 9 s less 1 s leave 5.75 s for each.
    #[test]
    fn what_does_not_fit_keeps_its_order() {
        assert_eq!(spread(&[2.0, 3.0, 3.0, 2.0, 2.0]), [vec![2.0, 3.0], vec![3.0, 2.0], vec![2.0]]);
        assert_eq!(spread(&[1.0, 20.0, 1.0]), [vec![1.0], vec![20.0], vec![1.0]]);
    }
}
