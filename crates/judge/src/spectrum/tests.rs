//! Figures and properties of what is read off a spectrum.

use proptest::prelude::*;

use super::*;
use crate::decision::Verdict;
use spurline_units::Db;

fn trace(levels: &[f64]) -> Trace<'_> {
    Trace { first: Hertz::new(0.0), spacing: Hertz::new(1.0), levels }
}

fn db(powers: &[f64]) -> Vec<f64> {
    powers.iter().map(|power| 10.0 * power.log10()).collect()
}

fn close(found: f64, expected: f64, tolerance: f64) {
    assert!((found - expected).abs() <= tolerance, "found {found}, expected {expected}");
}

/// By hand: of 0.01, 0.04, 0.9, 0.04 and 0.01 half a per cent is left out in the middle of each end's stretch.
#[test]
fn shares_of_five_points() {
    let levels = db(&[0.01, 0.04, 0.9, 0.04, 0.01]);
    let most = occupied(&trace(&levels), 0.99).unwrap();
    close(most.lower.get(), 0.0, 1e-9);
    close(most.upper.get(), 4.0, 1e-9);
    let middle = occupied(&trace(&levels), 0.90).unwrap();
    close(middle.lower.get(), 1.5, 1e-9);
    close(middle.upper.get(), 2.5, 1e-9);
    close(middle.centre().get(), 2.0, 1e-9);
}

#[test]
fn what_has_no_power_has_no_width() {
    assert_eq!(occupied(&trace(&[]), 0.99), None);
    assert_eq!(occupied_above(&trace(&[-10.0, -10.0]), 1.0, 0.99), None);
    assert_eq!(occupied(&trace(&[-10.0]), 1.5), None);
}

/// numpy 2.4.6: `interp` between the two points about each crossing, and the power of all eleven points.
#[test]
fn widths_at_levels_of_eleven_points() {
    let levels = [-80.0, -60.0, -40.0, -20.0, -10.0, 0.0, -10.0, -20.0, -40.0, -60.0, -80.0];
    for (down, expected) in [(3.0, 0.6), (6.0, 1.2), (20.0, 4.0), (26.0, 4.6)] {
        let edges = x_db(&trace(&levels), Dbm::new(0.0), Db::new(down)).unwrap();
        close(edges.width().get(), expected, 1e-9);
        close(edges.centre().get(), 5.0, 1e-9);
    }
    close(occupied(&trace(&levels), 0.99).unwrap().width().get(), 3.8, 1e-3);
    let all = channel_power(&trace(&levels), Hertz::new(-0.5), Hertz::new(10.5), Hertz::new(1.0)).unwrap();
    close(all.get(), 0.8643, 1e-4);
}

/// What still stands at the end of the trace goes on beyond it.
#[test]
fn a_width_that_leaves_the_trace_is_none() {
    let levels = [-10.0, 0.0, -40.0];
    assert_eq!(x_db(&trace(&levels), Dbm::new(0.0), Db::new(20.0)), None);
    assert_eq!(x_db(&trace(&levels), Dbm::new(30.0), Db::new(20.0)), None);
}

/// numpy 2.4.6: -100 dBm behind a Gaussian filter of 10 kHz is -96.2919 dBm in 25 kHz; eleven points one unit apart at
/// -60 dBm, a noise bandwidth of 1.5 units and a channel from 2.25 to 7.75 are -54.3573 dBm: edges count in part.
#[test]
fn power_in_a_channel() {
    let flat = Trace { first: Hertz::new(-50e3), spacing: Hertz::new(100.0), levels: &[-100.0; 1001] };
    let (low, high) = (Hertz::new(-12.5e3), Hertz::new(12.5e3));
    let found = channel_power(&flat, low, high, Hertz::new(10_644.67)).unwrap();
    close(found.get(), -96.291_9, 1e-4);
    let unit = trace(&[-60.0; 11]);
    let found = channel_power(&unit, Hertz::new(2.25), Hertz::new(7.75), Hertz::new(1.5)).unwrap();
    close(found.get(), -54.357_3, 1e-4);
    assert_eq!(channel_power(&unit, Hertz::new(-0.6), Hertz::new(5.0), Hertz::new(1.5)), None);
    assert_eq!(channel_power(&unit, Hertz::new(5.0), Hertz::new(10.6), Hertz::new(1.5)), None);
}

/// numpy 2.4.6: a Gaussian filter of 1 kHz, a line of -20 dBm at +180 Hz.
#[test]
fn a_parabola_finds_the_line() {
    let levels = [-25.567_85, -20.390_13, -21.233_02];
    let found =
        line_peak(&Trace { first: Hertz::new(-500.0), spacing: Hertz::new(500.0), levels: &levels }).unwrap();
    close(found.frequency.get(), 180.0, 0.01);
    close(found.level.get(), -20.0, 1e-4);
    assert_eq!(line_peak(&trace(&[-1.0, -2.0, -3.0])), None);
    close(line_peak(&trace(&[-1.0, 0.0, 0.0, -1.0])).unwrap().frequency.get(), 1.5, 1e-9);
}

fn mask(levels: &[f64], filter: f64, limit: impl Fn(f64) -> Option<(f64, Option<f64>)>) -> Option<MaskWorst> {
    let limit = |at: Hertz| {
        limit(at.get()).map(|(level, bandwidth)| MaskLimit {
            levels: vec![Dbm::new(level)],
            bandwidth: bandwidth.map(Hertz::new),
        })
    };
    emission_mask(&trace(levels), Hertz::new(filter), Hertz::new(filter), Db::new(0.0), limit, plain)
}

fn plain(place: &MaskPlace) -> Verdict {
    if place.margin < Db::new(0.0) { Verdict::Exceeds } else { Verdict::Complies }
}

/// By hand: the point at 7 is 5 dB below its limit, all others are farther below.
#[test]
fn the_worst_place_of_a_mask() {
    let mut levels = [-60.0; 11];
    (levels[3], levels[7]) = (-42.0, -45.0);
    let found = mask(&levels, 1.0, |at| (at > 1.5).then(|| (if at < 5.0 { -30.0 } else { -40.0 }, None)));
    let found = found.unwrap();
    assert_eq!((found.place.point, found.judged), (7, 9));
    close(found.place.margin.get(), 5.0, 1e-9);
    assert_eq!(mask(&levels, 1.0, |_| None), None);
}

/// By hand: of two branches the stricter gives the margin. What stands 2 dB above its limit but may be
/// the analyser's is less grave than what stands 1 dB above it and is the unit's.
#[test]
fn what_exceeds_is_worse_than_what_is_nearer_to_its_limit() {
    let mut levels = [-60.0; 11];
    (levels[3], levels[7]) = (-28.0, -29.0);
    let limit =
        |_: Hertz| Some(MaskLimit { levels: vec![Dbm::new(-20.0), Dbm::new(-30.0)], bandwidth: None });
    let judged = |place: &MaskPlace| match plain(place) {
        Verdict::Exceeds if place.point == 3 => Verdict::Undecided,
        verdict => verdict,
    };
    let unit = Hertz::new(1.0);
    let found = emission_mask(&trace(&levels), unit, unit, Db::new(0.0), limit, judged).unwrap();
    assert_eq!((found.place.point, found.judged), (7, 11));
    close(found.place.margin.get(), -1.0, 1e-9);
}

/// By hand: noise of -60 dBm in each unit is -50 dBm in ten; one line of -20 dBm among it stays -20 dBm in every bandwidth, for a
/// level is added up and never scaled. A filter wider than the limit's bandwidth shows at least what is there.
#[test]
fn levels_are_added_up_over_the_limits_bandwidth() {
    let mut levels = [-60.0; 41];
    let at = |levels: &[f64], point, filter: f64, wanted| {
        level_within(&trace(levels), point, Hertz::new(filter), Hertz::new(filter), Some(Hertz::new(wanted)))
    };
    close(at(&levels, 20, 1.0, 10.0).unwrap().level.get(), -50.0, 1e-9);
    assert_eq!(at(&levels, 2, 1.0, 10.0), None);
    levels[20] = -20.0;
    close(at(&levels, 20, 1.0, 10.0).unwrap().level.get(), -20.0, 0.01);
    let narrow = at(&levels, 20, 10.0, 1.0).unwrap();
    assert!(narrow.bound && narrow.bandwidth == Hertz::new(10.0), "{narrow:?}");
    close(narrow.level.get(), -20.0, 1e-9);
    assert!(!at(&levels, 20, 1.0, 1.0).unwrap().bound);
}

/// A trace of a few lines behind a Gaussian filter, over a floor.
fn lines_trace(lines: &[(f64, f64)], filter: f64, points: usize, span: f64) -> (f64, Vec<f64>) {
    let spacing = span / (points - 1) as f64;
    let level = |point: usize| {
        let at = -span / 2.0 + spacing * point as f64;
        let shown = lines.iter().map(|(place, power)| {
            milliwatts(*power - 3.010_299_956_6 * (2.0 * (at - place) / filter).powi(2))
        });
        10.0 * (shown.sum::<f64>() + 1e-18).log10()
    };
    (spacing, (0..points).map(level).collect())
}

proptest! {
    /// A constant in decibels, such as the loss of a path, changes no width.
    #[test]
    fn widths_do_not_depend_on_the_level(
        levels in prop::collection::vec(-90.0..0.0f64, 5..60), more in -50.0..50.0f64, share in 0.5..0.999f64,
    ) {
        let raised: Vec<f64> = levels.iter().map(|level| level + more).collect();
        let (one, other) = (occupied(&trace(&levels), share).unwrap(), occupied(&trace(&raised), share).unwrap());
        prop_assert!((one.lower - other.lower).get().abs() < 1e-6 && (one.upper - other.upper).get().abs() < 1e-6);
        let highest = trace(&levels).highest().unwrap().1;
        let down = Db::new(10.0);
        let (one, other) = (x_db(&trace(&levels), highest, down), x_db(&trace(&raised), highest + Db::new(more), down));
        prop_assert_eq!(one.is_some(), other.is_some());
        if let Some((one, other)) = one.zip(other) {
            prop_assert!((one.width() - other.width()).get().abs() < 1e-6);
        }
    }

    /// More of the power is never narrower, and the edges lie in the trace.
    #[test]
    fn a_larger_share_is_wider(
        levels in prop::collection::vec(-90.0..0.0f64, 2..60), share in 0.0..1.0f64, more in 0.0..1.0f64,
    ) {
        let larger = share + (1.0 - share) * more;
        let (one, other) = (occupied(&trace(&levels), share).unwrap(), occupied(&trace(&levels), larger).unwrap());
        prop_assert!(other.lower <= one.lower + Hertz::new(1e-9) && one.upper <= other.upper + Hertz::new(1e-9));
        prop_assert!(other.lower.get() >= -0.5 - 1e-9 && other.upper.get() <= levels.len() as f64 - 0.5 + 1e-9);
    }

    /// The mirrored trace has the mirrored edges.
    #[test]
    fn both_sides_are_alike(levels in prop::collection::vec(-90.0..0.0f64, 2..60), share in 0.0..1.0f64) {
        let mirrored: Vec<f64> = levels.iter().rev().copied().collect();
        let (one, other) = (occupied(&trace(&levels), share).unwrap(), occupied(&trace(&mirrored), share).unwrap());
        let last = levels.len() as f64 - 1.0;
        prop_assert!((one.lower.get() + other.upper.get() - last).abs() < 1e-6);
    }

    /// With two points or more for each filter bandwidth it does not matter how many, nor where between them the lines stand.
    #[test]
    fn power_does_not_depend_on_the_points(
        place in -3e3..3e3f64, second in -3e3..3e3f64, below in 0.0..40.0f64, points in 201..1501usize,
    ) {
        let lines = [(place, -20.0), (second, -20.0 - below)];
        let expected = 10.0 * (milliwatts(lines[0].1) + milliwatts(lines[1].1)).log10();
        let (spacing, levels) = lines_trace(&lines, 100.0, points, 10e3);
        prop_assume!(spacing <= 50.0);
        let trace = Trace { first: Hertz::new(-5e3), spacing: Hertz::new(spacing), levels: &levels };
        let noise_bandwidth = Hertz::new(106.446_7);
        let found = channel_power(&trace, Hertz::new(-4e3), Hertz::new(4e3), noise_bandwidth).unwrap();
        prop_assert!((found.get() - expected).abs() < 1e-3, "{} {}", found, expected);
    }

    /// Two channels side by side hold what both hold together.
    #[test]
    fn channels_add_up(
        levels in prop::collection::vec(-90.0..0.0f64, 10..60), low in 0.0..0.3f64, middle in 0.3..0.6f64, high in 0.6..1.0f64,
    ) {
        let last = levels.len() as f64 - 1.0;
        let power = |low: f64, high: f64| {
            channel_power(&trace(&levels), Hertz::new(low * last), Hertz::new(high * last), Hertz::new(1.5))
                .map_or(0.0, |power| milliwatts(power.get()))
        };
        let (whole, parts) = (power(low, high), power(low, middle) + power(middle, high));
        prop_assert!((whole / parts - 1.0).abs() < 1e-9, "{} {}", whole, parts);
    }

    /// A line behind a Gaussian filter is found wherever it stands.
    #[test]
    fn a_line_is_found_between_the_points(place in -2e3..2e3f64, points in 101..801usize) {
        let (spacing, levels) = lines_trace(&[(place, -20.0)], 300.0, points, 10e3);
        let trace = Trace { first: Hertz::new(-5e3), spacing: Hertz::new(spacing), levels: &levels };
        let found = line_peak(&trace).unwrap();
        prop_assert!((found.frequency.get() - place).abs() < 0.01, "{:?}", found);
        prop_assert!((found.level.get() + 20.0).abs() < 1e-4, "{:?}", found);
    }

    /// A mask that is stricter everywhere leaves no more margin, by just as much.
    #[test]
    fn a_stricter_mask_leaves_less(levels in prop::collection::vec(-90.0..0.0f64, 5..60), by in 0.0..30.0f64) {
        let margin = |limit: f64| mask(&levels, 1.0, |at| (at >= 2.0).then_some((limit, None))).unwrap().place.margin;
        prop_assert!((margin(-40.0) - margin(-40.0 - by) - Db::new(by)).get().abs() < 1e-9);
    }
}
