//! Check values of `docs/src/check-values.md` that belong to this room, as a user of it sees them; and that every test
//! that the page names is there.

use std::path::Path;

use Distribution::{Mismatch, Normal, Rectangular, Standard, UShaped};
use spurline_judge::{
    Budget, COVERAGE_PROBABILITY, Coherent, Contribution, CoverageMethod, DecisionRule, Distribution,
    Interval, Production, Spread, StepReading, Verdict, correct, global_risk, judge_bound, judge_upper,
    normal_quantile, range_by_steps, share_of_power, solved_by_steps,
};
use spurline_units::{Db, Dbm, Ratio};

fn line(value: f64, kind: Distribution) -> Contribution {
    Contribution::new("line", Db::new(value), kind, "check value")
}

fn budget(lines: &[(f64, Distribution)]) -> Budget {
    Budget { lines: lines.iter().map(|(value, kind)| line(*value, *kind)).collect() }
}

#[track_caller]
fn all(rows: &[(&str, f64, f64, f64)]) {
    for (what, found, expected, tolerance) in rows {
        assert!(
            (found - expected).abs() <= *tolerance,
            "{what}: found {found}, expected {expected} +- {tolerance}"
        );
    }
}

/// numpy 2.4.6, scipy 1.17.1, uncertainties 3.2.3.
#[test]
fn near_the_noise() {
    let at = |distance: f64| correct(Dbm::new(-60.0 + distance), Dbm::new(-60.0));
    let six = at(6.0).unwrap();
    all(&[
        ("removed at 6 dB", six.removed.get(), 1.256_28, 1e-5),
        ("u at 6 dB, 0.3 dB in both", six.uncertainty(Db::new(0.3), Db::new(0.3)).get(), 0.413_08, 1e-5),
        ("removed at 3 dB", at(3.0).unwrap().removed.get(), 3.021, 5e-4),
        ("removed at 20 dB", at(20.0).unwrap().removed.get(), 0.044, 5e-4),
    ]);
    assert_eq!(at(2.9), None);
}

/// numpy 2.4.6; about 18 dB for 1 dB is a rule of the trade.
#[test]
fn coherent_products() {
    let at = |distance: f64| Coherent::at(Db::new(distance)).unwrap();
    all(&[
        ("above at 18 dB", at(18.0).above.get(), 1.029_94, 1e-5),
        ("below at 18 dB", at(18.0).below.unwrap().get(), -1.168_70, 1e-5),
        ("above at 20 dB", at(20.0).above.get(), 0.827_85, 1e-5),
        ("below at 20 dB", at(20.0).below.unwrap().get(), -0.915_15, 1e-5),
        ("u at 20 dB", at(20.0).standard.get(), 0.614_96, 1e-5),
    ]);
}

/// numpy 2.4.6.
#[test]
fn steps_of_the_attenuator() {
    let levels = [-61.249_39, -60.620_38, -60.211_35].map(Dbm::new);
    let (level, ratio) = solved_by_steps(levels, Db::new(10.0), 2).unwrap();
    all(&[("line", level.get(), -60.0, 1e-3), ("ratio", ratio, 0.5, 1e-3)]);
    // With cos phi = -0.658114 a product as large as the line does not show in one step: both are 1.65089 dB low.
    let fooled = [0.0, 10.0].map(|attenuation| StepReading {
        attenuation: Db::new(attenuation),
        level: Dbm::new(-61.650_89),
        within: Db::new(1e-4),
    });
    assert!(range_by_steps(&fooled, 2).unwrap().highest.unwrap() > Dbm::new(-60.0));
}

/// EA-4/02 M, examples S7 and S2; JCGM 100:2008, H.1, with nanometres for decibels, as published and by GTC 1.5.1. Factors
/// by scipy 1.17.1 `stats.t.ppf` at degrees of freedom that are not cut to whole ones.
#[test]
fn published_budgets() {
    let attenuator = budget(&[9.0, 2.5, 1.1, 20.0, 1.7, 0.3, 0.3, 2.0, 2.0].map(|u| (u / 1000.0, Standard)));
    let gauge = [(25.0, 18.0), (5.8, 24.0), (3.9, 5.0), (6.7, 8.0), (2.886_79, 50.0), (16.599_03, 2.0)];
    let gauge = Budget { lines: gauge.map(|(u, freedom)| line(u, Standard).with_freedom(freedom)).to_vec() };
    let mut weight = budget(&[22.5, 8.95, 14.4, 5.77, 5.77].map(|u| (u, Standard)));
    weight.lines[2].freedom = Some(2.0);
    let covered = gauge.coverage(0.99);
    all(&[
        ("S7 combined", attenuator.combined().get(), 0.022_35, 1e-5),
        ("S7 expanded", attenuator.expanded(2.0).get(), 0.044_7, 1e-4),
        ("H.1 combined", gauge.combined().get(), 31.664, 0.01),
        ("H.1 degrees of freedom", gauge.effective_freedom().unwrap(), 16.75, 0.01),
        ("H.1 factor for 99 %", covered.factor, 2.903_6, 1e-3),
        ("S2 combined", weight.combined().get(), 29.33, 0.01),
        ("S2 factor for 95 %", weight.coverage(0.95).factor, 2.031_3, 1e-3),
    ]);
    assert_eq!(covered.method, CoverageMethod::Student);
}

/// JCGM 101:2008, 9.2; the digits of the sums and of the echo by scipy 1.17.1 and numpy 2.4.6.
#[test]
fn published_intervals() {
    let equal = budget(&[(3f64.sqrt(), Rectangular); 4]);
    let mut one = equal.clone();
    one.lines[3].value = Db::new(10.0 * 3f64.sqrt());
    let one = one.coverage(0.95);
    let echo = budget(&[(20.0 * 1.2331f64.log10(), Mismatch { product: 0.7 * 0.333 })]).coverage(0.95);
    all(&[
        ("four rectangles", equal.density().interval(0.95).1.get(), 3.879_4, 2e-3),
        ("one ten times as wide", one.high.get(), 17.015_8, 0.02),
        ("and its factor", one.factor, 1.676, 2e-3),
        ("echo of 0.7 x 0.333, low", echo.low.get(), -2.294_6, 2e-3),
        ("echo of 0.7 x 0.333, high", echo.high.get(), 1.815_9, 2e-3),
        ("its larger side", echo.expanded.get(), 2.294_6, 2e-3),
    ]);
    assert_eq!([one.method, echo.method], [CoverageMethod::Convolution; 2]);
    assert_eq!(equal.coverage(COVERAGE_PROBABILITY).factor, 2.0);
}

/// Values typical of the trade (common practice); sums by numpy 2.4.6 and uncertainties 3.2.3, the interval by 20 000 000
/// draws of numpy 2.4.6.
#[test]
fn typical_budgets() {
    let certificate = Normal { k: 2.0 };
    let mut lines = vec![
        (0.6, certificate),
        (0.8, Rectangular),
        (0.3, Rectangular),
        (0.1, Rectangular),
        (0.3, Rectangular),
        (0.3, certificate),
        (0.1, Rectangular),
        (0.15, Rectangular),
        (0.588, UShaped),
        (0.172, UShaped),
        (0.2, Standard),
        (0.08, Rectangular),
        (0.112, Standard),
    ];
    let spurious = budget(&lines);
    lines.push((0.614_96, Standard));
    let power = |share: f64| share_of_power(Ratio::new(share)).get();
    let carrier = budget(&[
        (power(0.016), certificate),
        (power(0.009), Rectangular),
        (power(0.005), Rectangular),
        (0.004, Standard),
        (0.15, certificate),
        (0.2, Rectangular),
        (0.05, certificate),
        (1.4 / 11.5, UShaped),
        (0.42 / 11.5, UShaped),
        (0.05, Standard),
        (0.03 / 5f64.sqrt(), Standard),
    ]);
    let (low, high) = spurious.density().interval(0.95);
    all(&[
        ("spurious emission", spurious.combined().get(), 0.801_3, 1e-3),
        ("spurious emission, 95 % low", low.get(), -1.551, 2e-3),
        ("spurious emission, 95 % high", high.get(), 1.551, 2e-3),
        ("with an own product 20 dB below", budget(&lines).combined().get(), 1.010_1, 1e-3),
        ("carrier", carrier.combined().get(), 0.179_2, 1e-3),
        ("one decibel, per cent of power", 1.0 / share_of_power(Ratio::new(0.01)).get(), 23.025_9, 1e-4),
    ]);
}

/// What two readings share cancels: 0.3 dB in common, 0.4 dB in each; numpy 2.4.6.
#[test]
fn ratios() {
    let one = || Budget {
        lines: vec![
            Contribution::new("shared", Db::new(0.3), Standard, "check value"),
            Contribution::new("own", Db::new(0.4), Standard, "check value"),
        ],
    };
    let ratio = one().of_difference(&one(), |line| line.name == "shared");
    all(&[("ratio", ratio.combined().get(), 0.565_69, 1e-5)]);
}

/// ILAC-G8:09/2019 and ISO 14253-1; probabilities by scipy 1.17.1. Published risks at the acceptance limit: under 2.5 and
/// 5 %, a half, and under one in a million.
#[test]
fn decisions() {
    let (limit, expanded) = (Dbm::new(-36.0), Db::new(3.0));
    let guarded = |factor| DecisionRule::GuardBand { factor };
    for (level, verdict, probability) in [
        (-40.0, Verdict::Complies, 0.996_2),
        (-38.5, Verdict::Undecided, 0.952_2),
        (-34.0, Verdict::Undecided, 0.091_2),
        (-32.5, Verdict::Exceeds, 0.009_8),
    ] {
        let found = judge_upper(Dbm::new(level), limit, &Spread::normal(expanded), guarded(1.0));
        assert_eq!(found.verdict, verdict, "{level} dBm");
        all(&[("probability", found.conformance_probability, probability, 1e-4)]);
    }
    for (factor, risk, tolerance) in
        [(1.0, 0.022_75, 1e-5), (0.83, 0.048_46, 1e-5), (0.0, 0.5, 1e-9), (3.0, 1e-9, 2e-11)]
    {
        let at = judge_upper(limit - expanded * factor, limit, &Spread::normal(expanded), guarded(factor));
        all(&[("risk at the acceptance limit", 1.0 - at.conformance_probability, risk, tolerance)]);
    }
    // A line that is not told from the noise complies by its bound or leaves it open.
    let bound =
        |level| judge_bound(Dbm::new(level), limit, &Spread::normal(Db::new(1.6)), guarded(1.0)).verdict;
    assert_eq!([-45.0, -37.0, -30.0].map(bound), [Verdict::Complies, Verdict::Undecided, Verdict::Undecided]);
    for (p, z) in [(0.8, 0.842), (0.9, 1.282), (0.95, 1.645), (0.99, 2.326), (0.999, 3.090)] {
        all(&[("quantile", normal_quantile(p).unwrap(), z, 5e-4)]);
    }
}

/// IEC 62287-2:2017 compares a reading of conducted spurious emissions, good for 4 dB, with its limit as it stands: -37 dBm
/// keep -36 dBm, and lie within their uncertainty of it.
#[test]
fn a_reading_is_compared_as_it_stands() {
    let spread = Spread::normal(Db::new(4.0));
    let (level, limit) = (Dbm::new(-37.0), Dbm::new(-36.0));
    let simple = judge_upper(level, limit, &spread, DecisionRule::Simple { ceiling: None });
    let guarded = judge_upper(level, limit, &spread, DecisionRule::GuardBand { factor: 1.0 });
    assert_eq!((simple.verdict, guarded.verdict), (Verdict::Complies, Verdict::Undecided));
}

/// JCGM 106:2012, examples: diode, burst pressure, resistors; further digits by scipy 1.17.1.
#[test]
fn published_decisions() {
    let rule = DecisionRule::GuardBand { factor: 1.0 };
    let zener = judge_upper(Dbm::new(-5.47), Dbm::new(-5.40), &Spread::normal(Db::new(0.1)), rule);
    // A lower limit of 490 for 509.7, u = 8.6, is an upper one of -490 with the sign turned; in tenths.
    let burst = judge_upper(Dbm::new(-50.97), Dbm::new(-49.0), &Spread::normal(Db::new(1.72)), rule);
    let about = |half: f64| Interval { low: 1500.0 - half, high: 1500.0 + half };
    let risk =
        |half| global_risk(Production { mean: 1500.0, deviation: 0.12 }, 0.04, about(0.2), about(half));
    all(&[
        ("diode", zener.conformance_probability, 0.919_24, 1e-5),
        ("burst pressure", burst.conformance_probability, 0.989, 5e-4),
        ("resistors, consumer", risk(0.2).consumer, 0.018_94, 1e-5),
        ("resistors, producer", risk(0.2).producer, 0.037_21, 1e-5),
        ("resistors with a guard band, consumer", risk(0.18).consumer, 0.009_88, 1e-5),
        ("resistors with a guard band, producer", risk(0.18).producer, 0.069_03, 1e-5),
    ]);
}

/// The page names tests as `crate::test`; a name that is gone is a hole in the page.
#[test]
fn every_test_that_the_page_names_is_there() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../..");
    let page = std::fs::read_to_string(root.join("docs/src/check-values.md")).unwrap();
    let mut seen = 0;
    for (room, test) in page.split('`').skip(1).step_by(2).filter_map(|word| word.split_once("::")) {
        let folder = if room == "tests" { root.join("tests") } else { root.join("crates").join(room) };
        assert!(holds(&folder, &format!("fn {test}(")).unwrap(), "`{room}::{test}` is not there");
        seen += 1;
    }
    assert!(seen > 50, "the page names {seen} tests only");
}

/// Whether a text is in any source file below a folder.
fn holds(folder: &Path, text: &str) -> std::io::Result<bool> {
    for entry in std::fs::read_dir(folder)? {
        let path = entry?.path();
        let found = if path.is_dir() {
            holds(&path, text)?
        } else {
            path.extension().is_some_and(|kind| kind == "rs")
                && std::fs::read_to_string(&path)?.contains(text)
        };
        if found {
            return Ok(true);
        }
    }
    Ok(false)
}
