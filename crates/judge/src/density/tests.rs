//! The distribution of a sum against closed forms and against drawn numbers.

use proptest::prelude::*;

use super::*;
use crate::budget::{Contribution, Distribution};
use crate::student::student_quantile;
use Distribution::{Rectangular, Standard, Triangular, UShaped};

fn budget(lines: &[(f64, Distribution)]) -> Budget {
    let lines = lines.iter().map(|(value, kind)| Contribution::new("line", Db::new(*value), *kind, "test"));
    Budget { lines: lines.collect() }
}

fn mismatch(product: f64) -> (f64, Distribution) {
    (20.0 * (1.0 + product).log10(), Distribution::Mismatch { product })
}

fn repeats(u: f64, freedom: f64) -> Contribution {
    Contribution::new("repeats", Db::new(u), Standard, "test").with_freedom(freedom)
}

fn close(found: Db, expected: f64, tolerance: f64) {
    assert!((found.get() - expected).abs() < tolerance, "found {}, expected {expected}", found.get());
}

/// JCGM 101:2008, 9.2.3: four rectangular lines of u = 1, 95 % within +-3.88 there; 3.8794 is the sum's exact
/// distribution (Irwin and Hall) by scipy 1.17.1.
#[test]
fn four_rectangles() {
    let density = budget(&[(3f64.sqrt(), Rectangular); 4]).density();
    let (low, high) = density.interval(0.95);
    close(low, -3.879_4, 2e-3);
    close(high, 3.879_4, 2e-3);
}

/// JCGM 101:2008, 9.2.4: one of the four has u = 10; published +-17.0; 17.0158 is the
/// sum's exact distribution by scipy 1.17.1.
#[test]
fn one_rectangle_above_three() {
    let mut lines = [(3f64.sqrt(), Rectangular); 4];
    lines[3].0 *= 10.0;
    let (low, high) = budget(&lines).density().interval(0.95);
    close(low, -17.015_8, 0.02);
    close(high, 17.015_8, 0.02);
}

/// Alone, every shape has a closed form. numpy 2.4.6: a share p of phases of the echo 0.7 x 0.333 lies below
/// 10 log10(1 + r^2 + 2 r cos(pi (1 - p))).
#[test]
fn one_line_alone() {
    let echo = budget(&[mismatch(0.7 * 0.333)]).density();
    let (low, high) = echo.interval(0.95);
    close(low, -2.294_626, 5e-3);
    close(high, 1.815_859, 5e-3);
    close(echo.quantile(0.5), 0.229_789, 5e-3);

    let one = |kind| budget(&[(1.0, kind)]).density();
    close(one(Rectangular).quantile(0.975), 0.95, 5e-3);
    close(one(UShaped).quantile(0.8), (0.3 * std::f64::consts::PI).sin(), 5e-3);
    close(one(Triangular).quantile(0.95), 1.0 - 0.1f64.sqrt(), 5e-3);
    close(one(Standard).quantile(0.975), 1.959_963_985, 1e-8);
    close(one(Distribution::Normal { k: 2.0 }).quantile(0.025), -0.979_981_992, 1e-8);
}

#[test]
fn a_student_line_alone() {
    for freedom in [1.0, 2.0, 3.5, 4.0, 9.0, 30.0] {
        let density = Budget { lines: vec![repeats(0.3, freedom)] }.density();
        for p in [0.5, 0.8, 0.95] {
            let expected = 0.3 * student_quantile(p, freedom).unwrap();
            close(density.quantile(p), expected, 2e-3 * (0.3 + expected));
        }
    }
}

/// numpy 2.4.6, 20 000 000 draws: quantiles of 2.5 % and 97.5 %, 0.1 % and 99.9 %.
#[test]
fn mixtures() {
    let spurious = budget(&[
        (0.3, Standard),
        (0.8, Rectangular),
        (0.3, Rectangular),
        (0.1, Rectangular),
        (0.3, Rectangular),
        (0.15, Standard),
        (0.1, Rectangular),
        (0.15, Rectangular),
        (0.588, UShaped),
        (0.172, UShaped),
        (0.2, Standard),
        (0.08, Rectangular),
        (0.112, Standard),
    ]);
    let echo = budget(&[mismatch(0.7 * 0.333), (0.2, Standard)]);
    let mut few = budget(&[(0.2, Standard), mismatch(0.4)]);
    few.lines.push(repeats(0.3, 4.0));
    let mut two = budget(&[(0.2, Standard), (0.3, Rectangular)]);
    two.lines.push(repeats(0.5, 2.0));
    for (budget, expected, tolerance) in [
        (spurious, [-1.550_6, 1.550_6, -2.303, 2.303], [2e-3, 6e-3]),
        (echo, [-2.404_0, 1.981_6, -2.729_1, 2.278_9], [2e-3, 6e-3]),
        (few, [-4.602_4, 3.329_9, -5.573, 4.373], [5e-3, 2e-2]),
        (two, [-2.195, 2.195, -11.19, 11.19], [1e-2, 0.1]),
    ] {
        let density = budget.density();
        for (p, (expected, tolerance)) in [0.025, 0.975, 0.001, 0.999]
            .into_iter()
            .zip(expected.into_iter().zip([tolerance[0], tolerance[0], tolerance[1], tolerance[1]]))
        {
            close(density.quantile(p), expected, tolerance);
        }
    }
}

#[test]
fn without_uncertainty_it_is_a_step() {
    for density in [Budget::default().density(), budget(&[(0.0, UShaped), (0.0, Standard)]).density()] {
        assert_eq!(density.probability_below(Db::new(0.0)), 1.0);
        assert_eq!(density.probability_below(Db::new(-1e-9)), 0.0);
        assert_eq!(density.interval(0.95), (Db::new(0.0), Db::new(0.0)));
    }
}

/// Two equal reflections of one can cancel: the distribution has no lower end, and its standard deviation is 7.88 dB.
#[test]
fn an_echo_as_large_as_the_level() {
    let density = budget(&[mismatch(1.0)]).density();
    // A share p of the phases is below 20 log10(2 sin(pi p / 2)).
    for p in [0.01f64, 0.1, 0.5, 0.99] {
        let expected = 20.0 * (2.0 * (0.5 * std::f64::consts::PI * p).sin()).log10();
        close(density.quantile(p), expected, 0.05);
    }
}

#[test]
fn probabilities_at_the_ends_are_brought_inside() {
    let density = budget(&[(1.0, Standard)]).density();
    close(density.quantile(0.0), -5.997_807, 1e-5);
    close(density.quantile(1.0), 5.997_807, 1e-5);
    close(density.quantile(f64::NAN), -5.997_807, 1e-5);
}

fn any_line() -> impl Strategy<Value = Contribution> {
    let line = (0.001..3.0f64, 0..6u8, 1.0..40.0f64, 0.01..1.0f64);
    line.prop_map(|(value, kind, freedom, product)| {
        let new = |value, kind| Contribution::new("line", Db::new(value), kind, "test");
        match kind {
            0 => new(value, Standard),
            1 => new(value, Rectangular),
            2 => new(value, UShaped),
            3 => new(value, Triangular),
            4 => new(mismatch(product).0, mismatch(product).1),
            _ => repeats(value, freedom),
        }
    })
}

proptest! {
    #[test]
    fn quantile_undoes_probability(lines in prop::collection::vec(any_line(), 1..16), p in 0.001..0.999f64) {
        let density = Budget { lines }.density();
        prop_assert!((density.probability_below(density.quantile(p)) - p).abs() < 1e-6);
        prop_assert!((density.sums.last().unwrap() - 1.0).abs() < 1e-9);
    }

    #[test]
    fn probability_rises(lines in prop::collection::vec(any_line(), 1..16), x in -5.0..5.0f64, more in 0.0..5.0f64) {
        let density = Budget { lines }.density();
        prop_assert!(density.probability_below(Db::new(x)) <= density.probability_below(Db::new(x + more)) + 1e-12);
    }

    /// Mean and variance of a sum are the sums of means and variances, whatever the shapes.
    #[test]
    fn moments_are_those_of_the_lines(lines in prop::collection::vec(any_line(), 1..16)) {
        let lines: Vec<_> = lines.into_iter().map(|line| Contribution { freedom: None, ..line }).collect();
        let budget = Budget { lines };
        let density = budget.density();
        let at = |index: usize| density.first + index as f64 * density.step;
        let sum = |of: &dyn Fn(usize) -> f64| -> f64 { (0..density.masses.len()).map(|i| density.masses[i] * of(i)).sum() };
        let mean = sum(&at);
        let variance = sum(&|i| at(i).powi(2)) - mean * mean + density.kernel.powi(2);
        let combined = budget.combined().get();
        prop_assert!(mean.abs() < 0.01 * combined, "{mean}");
        prop_assert!((variance / combined.powi(2) - 1.0).abs() < 4e-3, "{variance}");
    }
}
