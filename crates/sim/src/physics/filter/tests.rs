//! Skirts, noise bandwidths and areas of every shape, against numpy and scipy.

use super::*;

const SHAPES: [Shape; 4] = [Shape::Gaussian, Shape::FourPole, Shape::FivePole, Shape::FlatTop];

fn db(share: f64) -> f64 {
    10.0 * share.log10()
}

fn kilohertz(shape: Shape) -> Filter {
    Filter::new(shape, Hertz::new(1e3))
}

#[track_caller]
fn near(found: f64, expected: f64, tolerance: f64) {
    assert!((found - expected).abs() < tolerance, "found {found}, expected {expected}");
}

/// scipy 1.17.1: noise bandwidth over bandwidth by `integrate.quad`, 60 dB to 3 dB width by `optimize.brentq`, and the
/// square of the noise bandwidth over that of the squared skirt.
#[test]
fn every_shape_has_its_bandwidths() {
    for (shape, noise, ratio, looks) in [
        (Shape::Gaussian, 1.064_467_0, 4.464_478_5, 1.505_383_7),
        (Shape::FourPole, 1.128_499_0, 12.721_946_1, 1.683_541_6),
        (Shape::FivePole, 1.113_845_3, 9.992_968_7, 1.642_131_4),
        (Shape::FlatTop, 0.993_378_4, 2.112_931_3, 1.181_332_7),
    ] {
        near(shape.noise_factor(), noise, 1e-7);
        near(shape.looks(), looks, 1e-7);
        let filter = kilohertz(shape);
        near(filter.noise_bandwidth().get(), noise * 1e3, 1e-3);
        near(db(filter.passes(-500.0)), -3.010_3, 1e-4);
        near(db(filter.passes(0.5 * ratio * 1e3)), -60.0, 1e-5);
        near(filter.reach(1e-6).unwrap(), 0.5 * ratio * 1e3, 1e-3);
        assert_eq!((filter.passes(0.0), filter.reach(1.0)), (1.0, None));
    }
}

/// numpy 2.4.6: 10 log10 of the skirt at 1 and 2 bandwidths.
#[test]
fn the_skirts_fall_as_they_should() {
    for (shape, at_one, at_two) in [
        (Shape::Gaussian, -12.041_200, -48.164_799),
        (Shape::FourPole, -9.789_174, -24.200_619),
        (Shape::FivePole, -10.135_222, -26.440_526),
        (Shape::FlatTop, -48.164_799, -770.636_789),
    ] {
        near(db(kilohertz(shape).passes(1e3)), at_one, 1e-6);
        near(db(kilohertz(shape).passes(-2e3)), at_two, 1e-6);
    }
}

/// scipy 1.17.1, `integrate.quad` of the skirt over a bucket between two offsets in bandwidths, in dB.
#[test]
fn an_averaging_detector_sees_the_mean_of_the_skirt() {
    let edges = [(-0.25, 0.25), (0.0, 0.5), (-2.5, 2.5), (0.0, 5.0), (1.0, 1.5), (2.0, 4.0)];
    for (shape, means) in [
        (
            Shape::Gaussian,
            [-0.245_127_1, -0.915_013_3, -6.718_378_0, -9.728_677_9, -17.147_190_1, -61.802_054_5],
        ),
        (
            Shape::FourPole,
            [-0.263_541_6, -0.947_659_96, -6.467_709_4, -9.475_024_9, -13.020_829_0, -31.626_234_6],
        ),
        (
            Shape::FivePole,
            [-0.259_742_6, -0.941_078_5, -6.522_600_9, -9.531_755_9, -13.630_522_7, -34.637_426_9],
        ),
        (
            Shape::FlatTop,
            [-0.037_340_5, -0.533_999_8, -7.018_552_9, -10.028_852_8, -61.888_490_3, -799.166_259_1],
        ),
    ] {
        for ((low, high), mean) in edges.into_iter().zip(means) {
            let over = kilohertz(shape).over((high - low) * 1e3);
            let middle = 0.5e3 * (low + high);
            near(db(over.passes(middle)), mean, 2e-5);
            near(db(over.passes(-middle)), mean, 2e-5);
        }
    }
}

/// A narrow bucket is summed by another rule than a wide one, far off by another series: all meet.
#[test]
fn the_rules_agree() {
    for shape in SHAPES {
        let filter = kilohertz(shape);
        for offset in (0..60).map(|step| f64::from(step) * 50.0).filter(|f| filter.passes(*f) > 1e-13) {
            // The mean over a bucket is that of the means over its parts, whatever the rule for each width.
            for (whole, parts) in [(10.0, 4), (60.0, 2), (60.0, 6), (300.0, 2), (1000.0, 5), (1000.0, 40)] {
                let part = whole / f64::from(parts);
                let over = filter.over(part);
                let middle = |i: i32| offset - whole / 2.0 + part * (f64::from(i) + 0.5);
                let mean = (0..parts).map(|i| over.passes(middle(i))).sum::<f64>() / f64::from(parts);
                near(db(filter.over(whole).passes(offset)), db(mean), 2e-3);
            }
        }
        assert_eq!(filter.over(0.0).passes(250.0), filter.passes(250.0));
        assert!((0.0..1e-30).contains(&filter.over(300.0).passes(1e12)));
    }
}

/// Gaussian skirt at a quarter of the bandwidth: numpy 2.4.6.
#[test]
fn a_sample_may_miss_the_top_of_a_line() {
    near(db(kilohertz(Shape::Gaussian).passes(250.0)), -0.752_6, 1e-4);
}
