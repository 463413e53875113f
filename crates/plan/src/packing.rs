//! How what is measured while the unit is keyed is spread over key-downs.
//!
//! The forecast and the run ask here, so that what was promised beforehand is what is done.

use spurline_units::Seconds;

/// Where one key-down is not enough, none is filled beyond this share: a line near its limit needs more looks.
const FILLED: f64 = 0.9;
/// How finely an even spread is looked for: to a thousandth of the longest key-down.
const HALVINGS: u32 = 10;

/// The items in their order, a list for each key-down: as few as possible, and those filled evenly. One empty list if
/// there are no items.
///
/// `fixed` is what every key-down takes beside them, `time` what an item takes. An item that is too long for any
/// key-down has one to itself.
pub fn packed<T>(
    items: Vec<T>,
    fixed: Seconds,
    longest: Seconds,
    time: impl Fn(&T) -> Seconds,
) -> Vec<Vec<T>> {
    let times: Vec<f64> = items.iter().map(|item| time(item).get()).collect();
    let room = (longest - fixed).get();
    let sizes =
        if times.iter().sum::<f64>() <= room { vec![items.len()] } else { evenly(&times, room * FILLED) };
    let mut items = items.into_iter();
    sizes.into_iter().map(|size| items.by_ref().take(size).collect()).collect()
}

/// How many items go into each of as few lists as possible, so that the fullest is as little filled as it can be.
fn evenly(times: &[f64], room: f64) -> Vec<usize> {
    let fewest = greedy(times, room);
    let (mut too_little, mut enough) = (0.0, room);
    for _ in 0..HALVINGS {
        let middle = f64::midpoint(too_little, enough);
        if greedy(times, middle).len() > fewest.len() { too_little = middle } else { enough = middle }
    }
    greedy(times, enough)
}

fn greedy(times: &[f64], room: f64) -> Vec<usize> {
    let mut sizes = vec![0];
    let mut used = 0.0;
    for time in times {
        let last = sizes.last_mut().expect("there is a first list");
        if *last > 0 && used + time > room {
            sizes.push(1);
            used = *time;
        } else {
            *last += 1;
            used += time;
        }
    }
    sizes
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn spread(times: &[f64]) -> Vec<Vec<f64>> {
        packed(times.to_vec(), Seconds::new(1.0), Seconds::new(11.0), |time| Seconds::new(*time))
    }

    #[test]
    fn what_fits_is_one_key_down() {
        assert_eq!(spread(&[4.0, 3.0, 3.0]), [vec![4.0, 3.0, 3.0]]);
        assert_eq!(spread(&[]), [Vec::<f64>::new()]);
    }

    /// By hand: two key-downs of at most nine seconds, and six on each rather than eight and four.
    #[test]
    fn what_does_not_fit_is_spread_evenly() {
        assert_eq!(spread(&[2.0; 6]), [vec![2.0; 3], vec![2.0; 3]]);
        assert_eq!(spread(&[1.0, 20.0, 1.0]), [vec![1.0], vec![20.0], vec![1.0]]);
    }

    proptest! {
        #[test]
        fn nothing_is_lost_moved_or_put_where_it_does_not_fit(times in prop::collection::vec(0.01..9.0f64, 0..40)) {
            let downs = spread(&times);
            prop_assert_eq!(downs.concat(), times.clone());
            for down in &downs {
                prop_assert!(down.iter().sum::<f64>() <= 10.0 + 1e-9);
            }
            // No more than twice the least that the sum asks for, and one.
            let least = (times.iter().sum::<f64>() / 9.0).ceil().max(1.0) as usize;
            prop_assert!(downs.len() <= 2 * least);
        }
    }
}
