//! Decisions against worked examples.

use proptest::prelude::*;

use super::*;
use crate::budget::{Budget, Contribution, Distribution};
use Verdict::{Complies, Exceeds, Undecided};

const GUARDED: DecisionRule = DecisionRule::GuardBand { factor: 1.0 };
const SIMPLE: DecisionRule = DecisionRule::Simple { ceiling: None };

/// The risk of accepting at the acceptance limit T - r U with U = 2 u is the normal probability beyond 2 r: scipy 1.17.1,
/// `stats.norm.sf`; published as below 2.5, 5 and 0.16 % (ISO/TR 14253-6, ILAC-G8).
#[test]
fn the_guard_factor_sets_the_risk() {
    for (factor, risk) in [(1.0, 0.022_750_13), (0.83, 0.048_457_2), (1.5, 0.001_349_9), (0.0, 0.5)] {
        let rule = DecisionRule::GuardBand { factor };
        let at = upper(-36.0 - factor * 3.0, -36.0, 3.0, rule);
        assert_eq!(at.verdict, Complies, "{factor}");
        assert!(
            (1.0 - at.conformance_probability - risk).abs() < 1e-6,
            "{factor}: {}",
            at.conformance_probability
        );
        let beyond = upper(-36.0 - factor * 3.0 + 1e-6, -36.0, 3.0, rule);
        assert_ne!(beyond.verdict, Complies, "{factor}");
    }
}

/// Simple acceptance is fair up to an uncertainty that was agreed; with more nothing is decided.
#[test]
fn simple_acceptance_has_a_ceiling() {
    let rule = DecisionRule::Simple { ceiling: Some(Db::new(3.0)) };
    assert_eq!(upper(-38.5, -36.0, 3.0, rule).verdict, Complies);
    assert_eq!(upper(-38.5, -36.0, 3.1, rule).verdict, Undecided);
    let beyond = upper(-20.0, -36.0, 3.1, rule);
    assert_eq!((beyond.verdict, beyond.too_uncertain), (Undecided, true));
    // What would be known is told all the same.
    assert!(beyond.conformance_probability < 1e-6 && !upper(-20.0, -36.0, 3.0, rule).too_uncertain);
}

/// An echo of 0.7 x 0.333 alone. numpy 2.4.6: its 95 % interval is -2.2946 to 1.8159 dB, and a share of
/// 1 - acos((10^0.1 - 1 - r^2) / 2 r) / pi = 0.632 872 of all phases lifts by less than 1 dB.
#[test]
fn a_skewed_reading() {
    let kind = Distribution::Mismatch { product: 0.2331 };
    let line = Contribution::new("echo", Db::new(20.0 * 1.2331f64.log10()), kind, "test");
    let echo = Spread::of(&Budget { lines: vec![line] });
    let found = |level: f64| judge_upper(Dbm::new(level), Dbm::new(-36.0), &echo, GUARDED);
    assert_eq!(found(-37.0).verdict, Undecided);
    close(found(-37.0).conformance_probability, 0.644_612, 2e-4);
    assert_eq!(found(-38.31).verdict, Complies);
    assert_eq!(found(-38.28).verdict, Undecided);
    // Nothing lifts by two decibels.
    assert!(found(-38.0).conformance_probability > 0.999_999);
}

fn normal(expanded: f64) -> Spread {
    Spread::normal(Db::new(expanded))
}

fn upper(level: f64, limit: f64, expanded: f64, rule: DecisionRule) -> Decision {
    judge_upper(Dbm::new(level), Dbm::new(limit), &normal(expanded), rule)
}

fn window(level: f64, low: f64, high: f64, expanded: f64, rule: DecisionRule) -> Decision {
    let window = Range::new(Dbm::new(low), Dbm::new(high)).unwrap();
    judge_window(Dbm::new(level), window, &normal(expanded), rule)
}

fn close(found: f64, expected: f64, tolerance: f64) {
    assert!((found - expected).abs() < tolerance, "found {found}, expected {expected}");
}

/// The guard band of ILAC-G8:09/2019 with w = U about a limit of -36 dBm, u = 1.5 dB; probabilities by scipy
/// 1.17.1 `stats.norm.cdf`.
#[test]
fn guard_band_about_a_limit() {
    for (level, verdict, probability) in [
        (-42.0, Complies, 0.999_97),
        (-40.0, Complies, 0.996_2),
        (-39.0, Complies, 0.977_2),
        (-38.5, Undecided, 0.952_2),
        (-36.0, Undecided, 0.5),
        (-34.0, Undecided, 0.091_2),
        (-33.0, Undecided, 0.022_8),
        (-32.5, Exceeds, 0.009_8),
    ] {
        let decision = upper(level, -36.0, 3.0, GUARDED);
        assert_eq!(decision.verdict, verdict, "{level} dBm");
        close(decision.conformance_probability, probability, 1e-4);
        assert_eq!(decision.margin, Db::new(-36.0 - level));
    }
}

/// Simple acceptance (ISO/IEC 17025:2017, 7.8.6): the limit itself is still within.
#[test]
fn simple_acceptance_looks_at_the_reading_alone() {
    assert_eq!(upper(-38.5, -36.0, 3.0, SIMPLE).verdict, Complies);
    assert_eq!(upper(-36.0, -36.0, 3.0, SIMPLE).verdict, Complies);
    assert_eq!(upper(-34.0, -36.0, 3.0, SIMPLE).verdict, Exceeds);
    assert_eq!(window(-36.0, -36.0, -34.0, 3.0, SIMPLE).verdict, Complies);
    assert_eq!(window(-36.1, -36.0, -34.0, 3.0, SIMPLE).verdict, Exceeds);
    assert_eq!(window(-33.9, -36.0, -34.0, 3.0, SIMPLE).verdict, Exceeds);
}

/// JCGM 106:2012, the breakdown voltage of a Zener diode: -5.47 V, u = 0.05 V, at most -5.40 V; there 92 %,
/// the further digits by scipy 1.17.1. The arithmetic does not know that these are volts.
#[test]
fn zener_diode() {
    close(upper(-5.47, -5.40, 0.10, GUARDED).conformance_probability, 0.919_24, 1e-5);
}

/// JCGM 106:2012, the viscosity of an oil: 13.6, u = 1.8, within 12.5 to 16.3; digits by scipy 1.17.1.
#[test]
fn viscosity_of_an_oil() {
    let decision = window(13.6, 12.5, 16.3, 3.6, GUARDED);
    close(decision.conformance_probability, 0.662_63, 1e-5);
    assert_eq!(decision.verdict, Undecided);
    close(decision.margin.get(), 1.1, 1e-12);
}

/// ILAC-G8:09/2019: both limits carry the guard band.
#[test]
fn windows_have_a_guard_band_at_both_ends() {
    for (level, verdict) in [
        (36.0, Undecided),
        (35.7, Undecided),
        (35.4, Exceeds),
        (36.5, Complies),
        (37.5, Complies),
        (37.7, Undecided),
        (38.2, Undecided),
        (38.6, Exceeds),
    ] {
        assert_eq!(window(level, 36.0, 38.0, 0.5, GUARDED).verdict, verdict, "{level} dBm");
    }
}

/// A bound passes where even the bound plus its uncertainty is within; it never fails.
#[test]
fn bounds_comply_or_leave_open() {
    let bound = |level: f64, rule| judge_bound(Dbm::new(level), Dbm::new(-36.0), &normal(1.6), rule).verdict;
    assert_eq!(bound(-45.0, GUARDED), Complies);
    assert_eq!(bound(-37.0, GUARDED), Undecided);
    assert_eq!(bound(-37.0, SIMPLE), Complies);
    assert_eq!(bound(-20.0, GUARDED), Undecided);
    assert_eq!(bound(-20.0, SIMPLE), Undecided);
}

#[test]
fn an_outcome_stands_only_if_all_limits_agree() {
    let at = |limit: f64| upper(-30.0, limit, 1.0, GUARDED);
    let agreed = agree([at(-20.0), at(-13.0)]).unwrap();
    assert_eq!((agreed.verdict, agreed.margin), (Complies, Db::new(10.0)));
    let agreed = agree([at(-36.0), at(-40.0)]).unwrap();
    assert_eq!((agreed.verdict, agreed.margin), (Exceeds, Db::new(-10.0)));
    assert_eq!(agree([at(-13.0), at(-36.0)]).unwrap().verdict, Undecided);
    assert_eq!(agree([at(-13.0), at(-30.0), at(-13.0)]).unwrap().verdict, Undecided);
    assert_eq!(agree([]), None);
}

#[test]
fn without_uncertainty_the_probability_is_a_step() {
    assert_eq!(upper(-36.0, -36.0, 0.0, GUARDED).conformance_probability, 1.0);
    assert_eq!(upper(-35.9, -36.0, 0.0, GUARDED).conformance_probability, 0.0);
}

fn severity(verdict: Verdict) -> u8 {
    match verdict {
        Complies => 0,
        Undecided => 1,
        Exceeds => 2,
    }
}

proptest! {
    #[test]
    fn a_higher_level_never_fares_better(
        level in -60.0..0.0f64, more in 0.0..20.0f64, expanded in 0.0..5.0f64, guarded: bool
    ) {
        let rule = if guarded { GUARDED } else { SIMPLE };
        let (one, other) = (upper(level, -30.0, expanded, rule), upper(level + more, -30.0, expanded, rule));
        prop_assert!(severity(one.verdict) <= severity(other.verdict));
        prop_assert!(one.conformance_probability >= other.conformance_probability);
    }

    /// A budget of one normal line is judged as its expanded uncertainty alone.
    #[test]
    fn normal_readings_are_judged_as_ever(level in -50.0..-20.0f64, u in 0.01..3.0f64, factor in 0.0..3.0f64) {
        let line = Contribution::new("line", Db::new(u), Distribution::Standard, "test");
        let spread = Spread::of(&Budget { lines: vec![line] });
        let rule = DecisionRule::GuardBand { factor };
        let (found, known) =
            (judge_upper(Dbm::new(level), Dbm::new(-36.0), &spread, rule), upper(level, -36.0, 2.0 * u, rule));
        prop_assert_eq!((found.verdict, found.margin), (known.verdict, known.margin));
        prop_assert!((found.conformance_probability - known.conformance_probability).abs() < 1e-12);
    }

    #[test]
    fn more_uncertainty_never_decides(level in -60.0..0.0f64, expanded in 0.0..5.0f64, more in 0.0..5.0f64) {
        let (one, other) = (upper(level, -30.0, expanded, GUARDED), upper(level, -30.0, expanded + more, GUARDED));
        prop_assert!(other.verdict == one.verdict || other.verdict == Undecided);
    }

    #[test]
    fn a_window_open_below_is_an_upper_limit(level in -60.0..0.0f64, expanded in 0.01..5.0f64) {
        let (one, other) = (upper(level, -30.0, expanded, GUARDED), window(level, -500.0, -30.0, expanded, GUARDED));
        prop_assert_eq!(one.verdict, other.verdict);
        prop_assert!((one.conformance_probability - other.conformance_probability).abs() < 1e-12);
    }
}
