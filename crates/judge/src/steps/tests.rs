//! Ranges from steps against sums that were made up, and against a grid of all sizes and phases.

use proptest::prelude::*;

use super::*;

fn readings(levels: &[f64], within: f64) -> Vec<StepReading> {
    let read = |(place, level): (usize, &f64)| StepReading {
        attenuation: Db::new(20.0 + 10.0 * place as f64),
        level: Dbm::new(*level),
        within: Db::new(within),
    };
    levels.iter().enumerate().map(read).collect()
}

fn summed(line: f64, ratio: f64, phase: f64, order: u32, step: usize) -> f64 {
    let product = ratio * 10f64.powf(-f64::from(order - 1) * 10.0 * step as f64 / 20.0);
    line + 10.0 * (1.0 + product * product + 2.0 * product * phase.cos()).max(1e-12).log10()
}

/// numpy 2.4.6: second harmonic, product of the line's size, cosine -0.658114: the readings at 0 and 10 dB more are
/// the same, and both 1.65089 dB low.
#[test]
fn one_step_can_be_fooled() {
    let phase = (-0.658_114f64).acos();
    let levels = [summed(-60.0, 1.0, phase, 2, 0), summed(-60.0, 1.0, phase, 2, 1)];
    assert!((levels[0] - levels[1]).abs() < 1e-3 && (levels[0] + 61.650_89).abs() < 1e-3, "{levels:?}");
    let range = range_by_steps(&readings(&levels, 0.05), 2).unwrap();
    assert!(range.highest.unwrap().get() >= -60.0, "{range:?}");
}

/// A grid of numpy 2.4.6 over all ratios up to 3 and all phases: two readings that are the same within 0.1 dB may be
/// 5.71 dB low; the last of three that are leaves 0.07 dB.
#[test]
fn what_equal_readings_leave() {
    let left =
        |levels: &[f64]| range_by_steps(&readings(levels, 0.05), 2).unwrap().highest.unwrap().get() + 50.0;
    let one = left(&[-50.0, -50.0]);
    assert!((5.70..5.78).contains(&one), "{one}");
    let two = left(&[-50.0, -50.0, -50.0]);
    assert!((0.05..0.13).contains(&two), "{two}");
}

/// numpy 2.4.6: -61.24939, -60.62038 and -60.21135 dBm at steps of 10 dB are a line of -60 dBm and a product of
/// half its voltage.
#[test]
fn three_exact_readings_are_solved() {
    let levels = [-61.249_39, -60.620_38, -60.211_35].map(Dbm::new);
    let (line, ratio) = solved_by_steps(levels, Db::new(10.0), 2).unwrap();
    assert!((line.get() + 60.0).abs() < 1e-3 && (ratio - 0.5).abs() < 1e-3, "{line} {ratio}");
}

#[test]
fn one_setting_says_nothing() {
    assert_eq!(range_by_steps(&readings(&[-50.0], 0.1), 2), None);
    assert_eq!(range_by_steps(&[], 2), None);
}

/// What falls like a product and nothing else may be one.
#[test]
fn a_product_alone_has_no_least() {
    let range = range_by_steps(&readings(&[-40.0, -50.0, -60.0], 0.1), 2).unwrap();
    assert_eq!(range.lowest, None);
    assert!(range.highest.unwrap() < Dbm::new(-55.0), "{range:?}");
}

proptest! {
    #[test]
    fn the_line_is_in_the_range(
        ratio in 0.0..3.0f64, phase in 0.0..std::f64::consts::TAU, order in 2u32..5, steps in 2usize..5,
        errors in prop::array::uniform4(-1.0..1.0f64), within in 0.05..0.6f64,
    ) {
        let levels: Vec<f64> = (0..steps)
            .map(|step| summed(-50.0, ratio, phase, order, step) + errors[step] * within)
            .collect();
        let range = range_by_steps(&readings(&levels, within), order).unwrap();
        prop_assert!(range.highest.unwrap().get() >= -50.0 - 1e-6, "{range:?}");
        prop_assert!(range.lowest.is_none_or(|low| low.get() <= -50.0 + 1e-6), "{range:?}");
    }

    #[test]
    fn the_solver_returns_the_line(ratio in 0.01..0.9f64, phase in 0.0..std::f64::consts::TAU, order in 2u32..4) {
        let levels = [0, 1, 2].map(|step| Dbm::new(summed(-50.0, ratio, phase, order, step)));
        let (line, found) = solved_by_steps(levels, Db::new(10.0), order).unwrap();
        prop_assert!((line.get() + 50.0).abs() < 1e-6 && (found - ratio).abs() < 1e-4, "{line} {found}");
    }
}

/// A grid of numpy 2.4.6 over all ratios up to 3 and all phases, second harmonic, steps of 10 dB.
#[test]
fn what_still_readings_leave() {
    let twice = [0.0, 10.0, 20.0].map(Db::new);
    for (attenuations, moved, low, high) in [
        (&twice[..2], 0.1, -5.71, 0.05),
        (&twice[..2], 0.3, -5.76, 0.14),
        (&twice[..2], 0.5, -5.81, 0.24),
        (&twice[..2], 1.0, -5.94, 0.50),
        (&twice[..], 0.1, -0.07, 0.01),
        (&twice[..], 0.3, -0.19, 0.05),
        (&twice[..], 0.5, -0.31, 0.08),
        (&twice[..], 1.0, -0.57, 0.16),
    ] {
        let (found_low, found_high) = remaining_error(attenuations, 2, Db::new(moved)).unwrap();
        assert!((found_low.get() - low).abs() < 0.01, "{moved} dB: {found_low:?}");
        assert!((found_high.get() - high).abs() < 0.01, "{moved} dB: {found_high:?}");
    }
    assert_eq!(remaining_error(&[Db::new(10.0)], 2, Db::new(0.1)), None);
    assert_eq!(remaining_error(&[Db::new(10.0), Db::new(10.0)], 2, Db::new(0.1)), None);
}

/// The ends of the range, looked for among all products of a grid: none is beyond them, and one is close to each.
#[test]
fn the_ends_are_exact() {
    for (levels, within) in
        [(vec![-50.0, -50.3, -50.1], 0.2), (vec![-46.0, -49.5, -50.0], 0.3), (vec![-50.0, -49.0], 0.1)]
    {
        let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
        for size in 0..1500 {
            for angle in 0..=500 {
                let (ratio, phase) =
                    (0.002 * f64::from(size), std::f64::consts::PI * f64::from(angle) / 500.0);
                let offsets =
                    levels.iter().enumerate().map(|(step, level)| level - summed(0.0, ratio, phase, 2, step));
                let (mut least, mut most) = (f64::NEG_INFINITY, f64::INFINITY);
                for offset in offsets {
                    (least, most) = (least.max(offset - within), most.min(offset + within));
                }
                if least <= most {
                    (low, high) = (low.min(least), high.max(most));
                }
            }
        }
        let range = range_by_steps(&readings(&levels, within), 2).unwrap();
        let (found_low, found_high) = (range.lowest.unwrap().get(), range.highest.unwrap().get());
        assert!(found_low <= low + 1e-9 && found_low > low - 0.02, "{levels:?}: {found_low}, {low}");
        assert!(found_high >= high - 1e-9 && found_high < high + 0.02, "{levels:?}: {found_high}, {high}");
    }
}

/// No product at the mixer makes a reading of the second order fall by 30 dB where one of 10 dB is due.
#[test]
fn readings_that_contradict_each_other_have_no_range() {
    let range = range_by_steps(&readings(&[-20.0, -50.0, -20.0], 0.1), 2).unwrap();
    assert_eq!(range, StepRange { lowest: None, highest: None });
}
