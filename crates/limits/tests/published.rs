//! The shipped rules against values worked from the published texts by hand and with numpy.

use proptest::prelude::*;
use spurline_document::Document;
use spurline_limits::{Binding, Facts, Finding, Question, Rule, Status, Verdict};
use spurline_units::{Hertz, Watts};

const PART_97: &str = include_str!("../../../config/rules/us-part-97.yaml");
const CATEGORY_A: &str = include_str!("../../../config/rules/itu-category-a.yaml");

fn rule(text: &str) -> Rule {
    let document = Document::parse("rule.yaml", text).unwrap_or_else(|mistakes| panic!("{mistakes}"));
    Rule::read(&document).unwrap_or_else(|mistakes| panic!("{mistakes}"))
}

fn ask(rule: &Rule, carrier: &str, power: f64, facts: &str) -> Finding {
    let mut given = Facts::default();
    for pair in facts.split_whitespace() {
        given.set_pair(rule, pair).expect("a fact of a case reads");
    }
    let carrier = carrier.parse().expect("a carrier of a case reads");
    let question = Question::new(carrier, Watts::new(power)).expect("both are above zero");
    rule.limit(&question, &given)
}

/// What a table row expects: limit in dBm and decibels below the mean power, or no number.
#[derive(Clone, Copy)]
enum Expected {
    Limit(f64, f64),
    NoLimit,
    Exempt,
}

type Case = (&'static str, &'static str, f64, &'static str, Expected, &'static str);

fn check(rule: &Rule, cases: &[Case]) {
    for (case, carrier, power, facts, expected, paragraph) in cases {
        let finding = ask(rule, carrier, *power, facts);
        let steps = finding.derivation.join("\n");
        match (&finding.verdict, expected) {
            (Verdict::Limit { level, relative, .. }, Expected::Limit(dbm, below)) => {
                assert!((level.get() - dbm).abs() <= 0.0051, "{case}: {level}, expected {dbm}\n{steps}");
                assert!(
                    (relative.get() - below).abs() <= 0.0051,
                    "{case}: {relative}, expected {below}\n{steps}"
                );
            }
            (Verdict::NoLimit, Expected::NoLimit) | (Verdict::Exempt, Expected::Exempt) => {}
            (other, _) => panic!("{case}: {other:?}\n{steps}"),
        }
        assert_eq!(finding.branch.paragraph.as_deref(), Some(*paragraph), "{case}");
    }
}

const NEW: &str = "installed=2010";
const OLD: &str = "installed=2002";
const D: &str = "97.307(d)";
const E: &str = "97.307(e)";
const ABOVE: &str = "97.307 above 225 MHz";

/// 47 CFR 97.307(d), eCFR issue 2026-09-23, worked from the text.
#[test]
fn part_97_below_30_mhz() {
    use Expected::{Exempt, Limit};
    check(
        &rule(PART_97),
        &[
            ("new, 100 W", "14.2 MHz", 100.0, NEW, Limit(7.00, 43.00), D),
            ("new, 1500 W", "7.1 MHz", 1500.0, NEW, Limit(18.76, 43.00), D),
            ("old, 1500 W, 50 mW binds", "7.1 MHz", 1500.0, OLD, Limit(16.99, 44.77), D),
            ("old, 500 W, 50 mW and 40 dB tie", "7.1 MHz", 500.0, OLD, Limit(16.99, 40.00), D),
            ("old, 1000 W", "7.1 MHz", 1000.0, OLD, Limit(16.99, 43.01), D),
            ("new, 1000 W", "7.1 MHz", 1000.0, NEW, Limit(17.00, 43.00), D),
            ("on 2003-01-01 itself", "14.2 MHz", 100.0, "installed=2003-01-01", Limit(10.00, 40.00), D),
            ("the day after", "14.2 MHz", 100.0, "installed=2003-01-02", Limit(7.00, 43.00), D),
            ("old, exactly 5 W", "14.2 MHz", 5.0, OLD, Limit(-3.01, 40.00), D),
            ("old, 4.999 W", "14.2 MHz", 4.999, OLD, Limit(6.99, 30.00), D),
            ("old, 1 W", "14.2 MHz", 1.0, OLD, Limit(0.00, 30.00), D),
            ("new, 1 W", "14.2 MHz", 1.0, NEW, Limit(-13.00, 43.00), D),
            ("built in time, no other fact", "14.2 MHz", 100.0, "built=1977-04-14", Exempt, D),
            (
                "neither built nor marketed in time",
                "14.2 MHz",
                100.0,
                "built=1977-04-15 first_marketed=1978-01-01 installed=1990",
                Limit(10.00, 40.00),
                D,
            ),
            ("29.999 MHz", "29.999 MHz", 10.0, "installed=2015", Limit(-3.00, 43.00), D),
            ("marketed in time", "14.2 MHz", 100.0, "first_marketed=1977 built=1980", Exempt, D),
        ],
    );
}

/// 47 CFR 97.307(e), eCFR issue 2026-09-23, worked from the text.
#[test]
fn part_97_from_30_mhz() {
    use Expected::{Exempt, Limit, NoLimit};
    check(
        &rule(PART_97),
        &[
            ("exactly 30 MHz", "30 MHz", 10.0, "", Limit(-16.02, 56.02), E),
            ("5 W", "146 MHz", 5.0, "", Limit(-16.02, 53.01), E),
            ("1 W", "146 MHz", 1.0, "", Limit(-16.02, 46.02), E),
            ("exactly 25 W", "146 MHz", 25.0, "", Limit(-16.02, 60.00), E),
            ("25.1 W", "146 MHz", 25.1, "", Limit(-16.00, 60.00), E),
            ("50 W", "146 MHz", 50.0, "", Limit(-13.01, 60.00), E),
            ("100 W", "146 MHz", 100.0, "", Limit(-10.00, 60.00), E),
            ("1500 W", "52 MHz", 1500.0, "", Limit(1.76, 60.00), E),
            ("exactly 250 mW", "146 MHz", 0.25, "", Limit(-16.02, 40.00), E),
            ("251 mW", "146 MHz", 0.251, "", Limit(-16.02, 40.02), E),
            ("200 mW", "146 MHz", 0.2, "", Limit(-16.99, 40.00), E),
            ("exactly 100 mW", "146 MHz", 0.1, "", Limit(-20.00, 40.00), E),
            ("50 mW", "146 MHz", 0.05, "", Limit(-20.00, 36.99), E),
            ("10 mW", "146 MHz", 0.01, "", Limit(-20.00, 30.00), E),
            ("exactly 225 MHz", "225 MHz", 5.0, "", Limit(-16.02, 53.01), E),
            ("446 MHz", "446 MHz", 5.0, "", NoLimit, ABOVE),
            ("just above 225 MHz", "225.000001 MHz", 5.0, "", NoLimit, ABOVE),
            ("built in time", "146 MHz", 5.0, "built=1970", Exempt, E),
        ],
    );
}

/// The same paragraph as a function of power: flat, rising with the carrier, flat, 60 dB under it. Levels are
/// 10 log10(P / 1 mW) by numpy 2.4.6; terms within 0.005 dB of one another count as one.
#[test]
fn part_97_handheld_powers() {
    let rule = rule(PART_97);
    for (watts, limit, binding) in [
        (0.001, -20.00, Binding::Absolute),
        (0.099, -20.00, Binding::Absolute),
        (0.0999, -20.00, Binding::Both),
        (0.1, -20.00, Binding::Both),
        (0.1001, -20.00 + 0.0043, Binding::Both),
        (0.15, 21.7609 - 40.0, Binding::Relative),
        (0.2499, 23.9777 - 40.0, Binding::Both),
        (0.249, 23.9620 - 40.0, Binding::Relative),
        (0.26, -16.0206, Binding::Absolute),
        (24.99, -16.0206, Binding::Absolute),
        (25.01, 43.9811 - 60.0, Binding::Relative),
    ] {
        let finding = ask(&rule, "146 MHz", watts, "");
        let Verdict::Limit { level, binding: found, .. } = finding.verdict else {
            panic!("a limit at {watts} W")
        };
        assert!((level.get() - limit).abs() < 2e-4, "{watts} W: {level}, expected {limit}");
        assert_eq!(found, binding, "{watts} W");
    }
}

/// 47 CFR 97.307(e): `25 W or less`. Both rows give the same level there, so only the row can tell them apart.
#[test]
fn exactly_25_w_is_25_w_or_less() {
    let rule = rule(PART_97);
    assert_eq!(ask(&rule, "146 MHz", 25.0, "").branch.row, Some(2));
    assert_eq!(ask(&rule, "146 MHz", 25.000_001, "").branch.row, Some(1));
}

/// 47 CFR 97.307 goes by the carrier alone: a product at 223 MHz of a 446 MHz carrier has no number, the third
/// harmonic of 146 MHz has.
#[test]
fn the_carrier_decides_and_not_the_emission() {
    let rule = rule(PART_97);
    let at = |carrier: f64, emission: f64| {
        let question = Question::new(Hertz::from_mhz(carrier), Watts::new(5.0)).unwrap();
        rule.limit(&question.at(Hertz::from_mhz(emission)), &Facts::default())
    };
    assert_eq!(at(446.0, 223.0).verdict, Verdict::NoLimit);
    let third = at(146.0, 438.0);
    assert!((third.level().unwrap().get() - -16.02).abs() < 0.005);
    assert_eq!((third.source.as_str(), third.reference_bandwidth), ("47 CFR 97.307(e)", None));
    assert_eq!((third.status, third.status.caveat()), (Status::Verified, None));
}

/// Without the day of installation both rules of 97.307(d) stay possible, and nothing else.
#[test]
fn a_missing_date_leaves_both_branches() {
    let rule = rule(PART_97);
    for (power, expected) in [(100.0, [10.00, 7.00]), (1.0, [0.00, -13.00])] {
        let finding = ask(&rule, "14.2 MHz", power, "");
        let Verdict::Undetermined { missing, possible } = &finding.verdict else { panic!("{finding:?}") };
        assert_eq!(missing, &["installed"]);
        let levels: Vec<f64> = possible.iter().map(|finding| finding.level().unwrap().get()).collect();
        assert_eq!(levels.len(), 2, "{finding:?}");
        for (level, expected) in levels.iter().zip(expected) {
            assert!((level - expected).abs() < 0.005, "{power} W: {levels:?}");
        }
    }
}

/// Radio Regulations Appendix 3, second hand; 144 MHz, 120 W is a worked example of a French examination course
/// (64 dBc), 70 W space that of a satellite study (-11.55 dBm in 4 kHz).
#[test]
fn category_a() {
    use Expected::Limit;
    let amateur = "service=amateur";
    let hf = "amateur below 30 MHz";
    check(
        &rule(CATEGORY_A),
        &[
            ("general, 5 W", "155 MHz", 5.0, "", Limit(-13.00, 49.99), "general"),
            ("general, 500 W", "155 MHz", 500.0, "service=general", Limit(-13.00, 69.99), "general"),
            ("general, 1000 W", "155 MHz", 1000.0, "", Limit(-10.00, 70.00), "general"),
            ("amateur, 100 W", "14.2 MHz", 100.0, amateur, Limit(0.00, 50.00), hf),
            ("amateur, 5 W", "14.2 MHz", 5.0, amateur, Limit(-13.00, 49.99), hf),
            ("amateur, 144 MHz, 120 W", "144 MHz", 120.0, amateur, Limit(-13.00, 63.79), "general"),
            ("space, 70 W", "2.2 GHz", 70.0, "service=space", Limit(-11.55, 60.00), "space services"),
            // Two tones: the formula takes 4 W peak, the count is from 2 W mean (numpy 2.4.6: 33.0103 - 49.0206).
            ("amateur, two tones", "14.2 MHz", 2.0, "service=amateur pep=4W", Limit(-16.01, 49.02), hf),
        ],
    );
}

/// Radio Regulations Appendix 3, second hand: 1, 10, 100 kHz and 1 MHz by the frequency of the emission.
#[test]
fn category_a_reference_bandwidths() {
    let rule = rule(CATEGORY_A);
    let question = Question::new(Hertz::from_mhz(14.2), Watts::new(5.0)).unwrap();
    for (emission, bandwidth) in [
        ("100 kHz", 1e3),
        ("150 kHz", 1e3),
        ("28.4 MHz", 1e4),
        ("30 MHz", 1e4),
        ("42.6 MHz", 1e5),
        ("1 GHz", 1e5),
        ("1.1 GHz", 1e6),
    ] {
        let finding = rule.limit(&question.at(emission.parse().unwrap()), &Facts::default());
        assert_eq!(finding.reference_bandwidth, Some(Hertz::new(bandwidth)), "{emission}");
    }
    let finding = rule.limit(&question, &Facts::default());
    assert_eq!((finding.reference_bandwidth, finding.status), (None, Status::SecondHand));
    assert_eq!(finding.status.caveat(), Some("rule text not verified"));
}

#[test]
fn a_derivation_can_be_followed() {
    let rule = rule(PART_97);
    insta::assert_snapshot!(ask(&rule, "146 MHz", 5.0, "").derivation.join("\n"), @"
    rule us-part-97: 47 CFR 97.307, eCFR issue 2026-09-23, verified
    carrier 146 MHz, mean power 5 W = 36.99 dBm
    97.307(d) does not apply: carrier 146 MHz is at least 30 MHz
    97.307(e) applies: carrier 146 MHz is at least 30 MHz, carrier 146 MHz is at most 225 MHz
    exemption not claimed: `built`, `first_marketed` not given
    not row 1: mean power 5 W is at most 25 W
    row 2: no row before it applies
    demand: 25 W or less, no more than 25 uW and at least 40 dB below the mean power, but never need it be below 10 uW
    interpretation: the sentence for 25 W or less replaces the 60 dB of the sentence before it; were it an addition, its 10 uW could never matter
    10 uW: -20.00 dBm
    25 uW: -16.02 dBm
    40 dB below the mean power: 36.99 dBm - 40.00 dB = -3.01 dBm
    strictest of (25 uW; 40 dB below the mean power) = -16.02 dBm
    loosest of (10 uW; strictest of (25 uW; 40 dB below the mean power)) = -16.02 dBm
    limit -16.02 dBm, 53.01 dB below the mean power: 25 uW binds
    reference bandwidth: the rule states none
    ");
    insta::assert_snapshot!(ask(&rule, "30 MHz", 0.1, "built=1990").derivation.join("\n"), @"
    rule us-part-97: 47 CFR 97.307, eCFR issue 2026-09-23, verified
    carrier 30 MHz, mean power 100 mW = 20.00 dBm
    97.307(d) does not apply: carrier 30 MHz is at least 30 MHz
    97.307(e) applies: carrier 30 MHz is at least 30 MHz, carrier 30 MHz is at most 225 MHz
    interpretation: (d) ends below 30 MHz and (e) begins at it, so a carrier at exactly 30 MHz is judged by (e)
    not exempt: `built` 1990 is on or after 1977-04-15, `first_marketed` is not claimed
    not row 1: mean power 100 mW is at most 25 W
    row 2: no row before it applies
    demand: 25 W or less, no more than 25 uW and at least 40 dB below the mean power, but never need it be below 10 uW
    interpretation: the sentence for 25 W or less replaces the 60 dB of the sentence before it; were it an addition, its 10 uW could never matter
    10 uW: -20.00 dBm
    25 uW: -16.02 dBm
    40 dB below the mean power: 20.00 dBm - 40.00 dB = -20.00 dBm
    strictest of (25 uW; 40 dB below the mean power) = -20.00 dBm
    loosest of (10 uW; strictest of (25 uW; 40 dB below the mean power)) = -20.00 dBm
    limit -20.00 dBm, 40.00 dB below the mean power: 10 uW and 40 dB below the mean power agree within 0.005 dB and bind alike
    reference bandwidth: the rule states none
    ");
    insta::assert_snapshot!(ask(&rule, "14.2 MHz", 500.0, "installed=2002").derivation.join("\n"), @"
    rule us-part-97: 47 CFR 97.307, eCFR issue 2026-09-23, verified
    carrier 14.2 MHz, mean power 500 W = 56.99 dBm
    97.307(d) applies: carrier 14.2 MHz is below 30 MHz
    exemption not claimed: `built`, `first_marketed` not given
    not row 1: `installed` 2002 is on or before 2003-01-01
    not row 2: mean power 500 W is at least 5 W
    row 3: no row before it applies
    demand: installed on or before 2003-01-01, 5 W or more, no more than 50 mW and at least 40 dB below the mean power
    50 mW: 16.99 dBm
    40 dB below the mean power: 56.99 dBm - 40.00 dB = 16.99 dBm
    strictest of (50 mW; 40 dB below the mean power) = 16.99 dBm
    limit 16.99 dBm, 40.00 dB below the mean power: 50 mW and 40 dB below the mean power agree within 0.005 dB and bind alike
    reference bandwidth: the rule states none
    ");
    insta::assert_snapshot!(ask(&rule, "446 MHz", 5.0, "").derivation.join("\n"), @"
    rule us-part-97: 47 CFR 97.307, eCFR issue 2026-09-23, verified
    carrier 446 MHz, mean power 5 W = 36.99 dBm
    97.307(d) does not apply: carrier 446 MHz is at least 30 MHz
    97.307(e) does not apply: carrier 446 MHz is above 225 MHz
    97.307 above 225 MHz applies: carrier 446 MHz is above 225 MHz
    no numeric limit in this rule: above 225 MHz spurious emissions must be reduced as far as practicable, and harmful interference cured
    ");
    insta::assert_snapshot!(ask(&rule, "14.2 MHz", 100.0, "built=1976").derivation.join("\n"), @"
    rule us-part-97: 47 CFR 97.307, eCFR issue 2026-09-23, verified
    carrier 14.2 MHz, mean power 100 W = 50.00 dBm
    97.307(d) applies: carrier 14.2 MHz is below 30 MHz
    exempt: `built` 1976 is before 1977-04-15
    ");
}

#[test]
fn an_undetermined_derivation_tells_the_cases() {
    let finding = ask(&rule(PART_97), "14.2 MHz", 100.0, "");
    insta::assert_snapshot!(finding.derivation.join("\n"), @"
    rule us-part-97: 47 CFR 97.307, eCFR issue 2026-09-23, verified
    carrier 14.2 MHz, mean power 100 W = 50.00 dBm
    `installed` is needed and not given: the day this transmitter was installed at the station (not the day it was designed or made)
    if `installed` is on or before 2003-01-01: 97.307(d) row 3 term 2: 10.00 dBm, 40.00 dB below the mean power
    if `installed` is after 2003-01-01: 97.307(d) row 1 term 1: 7.00 dBm, 43.00 dB below the mean power
    ");
    insta::assert_snapshot!(finding.branches()[0].derivation.join("\n"), @"
    rule us-part-97: 47 CFR 97.307, eCFR issue 2026-09-23, verified
    carrier 14.2 MHz, mean power 100 W = 50.00 dBm
    97.307(d) applies: carrier 14.2 MHz is below 30 MHz
    exemption not claimed: `built`, `first_marketed` not given
    not row 1: supposing `installed` is on or before 2003-01-01
    not row 2: mean power 100 W is at least 5 W
    row 3: no row before it applies
    demand: installed on or before 2003-01-01, 5 W or more, no more than 50 mW and at least 40 dB below the mean power
    50 mW: 16.99 dBm
    40 dB below the mean power: 50.00 dBm - 40.00 dB = 10.00 dBm
    strictest of (50 mW; 40 dB below the mean power) = 10.00 dBm
    limit 10.00 dBm, 40.00 dB below the mean power: 40 dB below the mean power binds
    reference bandwidth: the rule states none
    ");
}

#[test]
fn a_second_hand_derivation_says_so() {
    let rule = rule(CATEGORY_A);
    insta::assert_snapshot!(ask(&rule, "14.2 MHz", 100.0, "service=amateur").derivation.join("\n"), @"
    rule itu-category-a: Radio Regulations Appendix 3, Recommendation ITU-R SM.329 Category A, as restated by national examination courses and emission studies; not read in the original, second-hand
    carrier 14.2 MHz, mean power 100 W = 50.00 dBm
    `pep` is not given: taken equal to the mean power, as for a carrier of constant envelope
    amateur below 30 MHz applies: `service` is `amateur`, carrier 14.2 MHz is below 30 MHz
    rule text not verified: Radio Regulations Appendix 3, amateur service below 30 MHz is second-hand
    row 1
    demand: 43 dB + 10 log of the peak envelope power, or 50 dB, whichever asks for less
    43 dB + 10 log pep below the mean power: 50.00 dBm - 63.00 dB (pep = 100 W) = -13.00 dBm
    50 dB below the mean power: 50.00 dBm - 50.00 dB = 0.00 dBm
    loosest of (43 dB + 10 log pep below the mean power; 50 dB below the mean power) = 0.00 dBm
    limit 0.00 dBm, 50.00 dB below the mean power: 50 dB below the mean power binds
    reference bandwidth: goes by the emission frequency, which is not given
    ");
    insta::assert_snapshot!(ask(&rule, "14.2 MHz", 5.0, "installed=2010 pep=4W").derivation.join("\n"), @"
    rule itu-category-a: Radio Regulations Appendix 3, Recommendation ITU-R SM.329 Category A, as restated by national examination courses and emission studies; not read in the original, second-hand
    carrier 14.2 MHz, mean power 5 W = 36.99 dBm
    `installed` is given, but this rule does not ask for it
    `pep` 4 W is below the mean power 5 W, which cannot be: the mean power is used
    amateur below 30 MHz does not apply: `service` is not `amateur` by default
    space services does not apply: `service` is not `space` by default
    radiodetermination does not apply: `service` is not `radiodetermination` by default
    general applies
    rule text not verified: Radio Regulations Appendix 3, all other services is second-hand
    interpretation: a row of its own for services below 30 MHz, thought to ask for less above 50 W, is not in this file; the general row stands in for it
    row 1
    demand: 43 dB + 10 log of the mean power, or 70 dB, whichever asks for less
    43 dB + 10 log power below the mean power: 36.99 dBm - 49.99 dB (power = 5 W) = -13.00 dBm
    70 dB below the mean power: 36.99 dBm - 70.00 dB = -33.01 dBm
    loosest of (43 dB + 10 log power below the mean power; 70 dB below the mean power) = -13.00 dBm
    limit -13.00 dBm, 49.99 dB below the mean power: 43 dB + 10 log power below the mean power binds
    reference bandwidth: goes by the emission frequency, which is not given
    ");
}

#[test]
fn facts_that_cannot_be_taken() {
    let rule = rule(PART_97);
    let refuse = |pair: &str| Facts::default().set_pair(&rule, pair).unwrap_err().to_string();
    insta::assert_snapshot!(
        ["installed", "instaled=2010", "installed=2003", "installed=soon", "pep=5", "pep=0 W"]
            .map(refuse)
            .join("\n\n"),
        @"
    expected a fact as `NAME=VALUE`, found `installed`
    write for example `installed=2010`

    `instaled` is not a fact of `us-part-97`
    facts known here: installed, built, first_marketed, type_accepted, pep, rated_power, authorised_bandwidth, channel_width, emission_class, station_class, service, state

    the rule changes within `2003`: it turns on `installed` after 2003-01-01
    write the day, as `YYYY-MM-DD`

    expected a date for `installed`, found `soon`
    write `YYYY-MM-DD` or `YYYY`

    expected a power with its unit, found the bare number `5`
    write the unit, for example `5 W`

    expected a power from -300 dBm to 150 dBm for `pep`, found `0 W`
    "
    );
    let category_a = self::rule(CATEGORY_A);
    insta::assert_snapshot!(Facts::default().set_pair(&category_a, "service=amatuer").unwrap_err(), @"
    expected a word that the rule knows for `service`, found `amatuer`
    known here: general, amateur, space, radiodetermination
    ");
    let mut facts = Facts::default();
    facts.set_pair(&rule, "installed=2002").unwrap();
    insta::assert_snapshot!(facts.set_pair(&rule, "installed=2010").unwrap_err(), @"the fact `installed` is given twice");
}

/// 1977 and 1978 lie on either side of the two dates of the exemption; only the first of them is cut in two.
#[test]
fn a_year_is_refused_only_where_the_rule_divides_it() {
    let rule = rule(PART_97);
    let takes = |pair: &str| Facts::default().set_pair(&rule, pair).is_ok();
    assert!(!takes("built=1977") && takes("built=1976") && takes("built=1978"));
    assert!(takes("first_marketed=1977") && takes("first_marketed=1978"));
    assert!(!takes("installed=2003") && takes("installed=2002") && takes("installed=2004"));
}

#[test]
fn facts_of_a_plan_are_refused_where_they_stand() {
    let rule = rule(PART_97);
    let document =
        Document::parse("plan.yaml", "installed: 2003\nbuild: 1990\nbuilt: 1990-01-01\npep: [5 W]\n")
            .unwrap();
    let mut reader = spurline_document::Reader::new(&document);
    let facts = Facts::read(&mut reader, &document.root, &rule);
    insta::assert_snapshot!(reader.finish(facts).unwrap_err(), @"
    error: the rule changes within `2003`: it turns on `installed` after 2003-01-01
     --> plan.yaml:1:12
      |
    1 | installed: 2003
      |            ^^^^
      |
      = help: write the day, as `YYYY-MM-DD`

    error: `build` is not a fact of `us-part-97`
     --> plan.yaml:2:1
      |
    2 | build: 1990
      | ^^^^^
      |
      = help: facts known here: installed, built, first_marketed, type_accepted, pep, rated_power, authorised_bandwidth, channel_width, emission_class, station_class, service, state

    error: expected the value of a fact, found a list
     --> plan.yaml:4:6
      |
    4 | pep: [5 W]
      |      ^
      |
      = help: write a single value behind the key
    ");
}

fn watts() -> impl Strategy<Value = f64> {
    (-40.0..70.0f64).prop_map(|dbm| 10f64.powf((dbm - 30.0) / 10.0))
}

proptest! {
    /// More power never asks for a lower limit, within one row; (d) steps down at 5 W between two rows.
    #[test]
    fn a_limit_rises_with_power(
        carrier in prop::sample::select(vec!["7 MHz", "30 MHz", "146 MHz", "446 MHz"]),
        (rule, facts) in prop::sample::select(vec![
            (PART_97, NEW), (PART_97, OLD), (CATEGORY_A, ""), (CATEGORY_A, "service=amateur"),
            (CATEGORY_A, "service=space"), (CATEGORY_A, "service=radiodetermination"),
        ]),
        a in watts(),
        b in watts(),
    ) {
        let rule = self::rule(rule);
        let (low, high) = (ask(&rule, carrier, a.min(b), facts), ask(&rule, carrier, a.max(b), facts));
        let steps = facts == OLD && carrier == "7 MHz" && low.branch.row != high.branch.row;
        if let (false, Some(low), Some(high)) = (steps, low.level(), high.level()) {
            prop_assert!(high.get() >= low.get() - 1e-9, "{low} then {high}");
        }
    }

    #[test]
    fn any_question_has_an_answer(mhz in 0.001..1e5f64, power in watts(), at in prop::option::of(0.0..1e6f64)) {
        for text in [PART_97, CATEGORY_A] {
            let rule = self::rule(text);
            let question = Question::new(Hertz::from_mhz(mhz), Watts::new(power)).unwrap();
            let question = at.map_or(question, |at| question.at(Hertz::from_mhz(at)));
            let finding = rule.limit(&question, &Facts::default());
            prop_assert!(!finding.derivation.is_empty());
            let open = finding.branches().iter().any(|one| matches!(one.verdict, Verdict::Undetermined { .. }));
            prop_assert!(!open, "{finding:?}");
        }
    }
}

const PART_90: &str = include_str!("../../../config/rules/us-part-90.yaml");
const CB: &str = include_str!("../../../config/rules/us-cb.yaml");

/// The limit at an offset, in dBm.
fn at_offset(rule: &Rule, watts: f64, khz: f64, facts: &str) -> f64 {
    let mut given = Facts::default();
    for pair in facts.split_whitespace() {
        given.set_pair(rule, pair).expect("a fact of a case reads");
    }
    let carrier = Hertz::from_mhz(155.0);
    let question = Question::new(carrier, Watts::new(watts)).expect("both are above zero");
    let finding = rule.limit(&question.at(carrier + Hertz::new(khz * 1e3)), &given);
    finding.level().unwrap_or_else(|| panic!("{finding:?}")).get()
}

/// Where a limit that falls with the offset comes down to a level.
fn falls_to(level: f64, mut low: f64, mut high: f64, at: impl Fn(f64) -> f64) -> f64 {
    for _ in 0..60 {
        let middle = f64::midpoint(low, high);
        if at(middle) > level + 1e-9 { low = middle } else { high = middle }
    }
    low
}

/// 47 CFR 90.210, annual edition of 2015. Places where two terms meet, solved on the
/// shipped rule and worked by hand from the printed formulas.
#[test]
fn masks_cross_where_their_formulas_do() {
    let rule = rule(PART_90);
    let carrier = |watts: f64| 10.0 * watts.log10() + 30.0;
    let wide = "authorised_bandwidth=20kHz";
    let c = falls_to(carrier(5.0) - 50.0, 10.1, 45.0, |khz| {
        at_offset(&rule, 5.0, khz, &format!("mask=C {wide}"))
    });
    assert!((c - 24.14).abs() < 0.01, "mask C reaches 50 dB at {c} kHz");
    let e = falls_to(carrier(1.0) - 55.0, 3.01, 4.6, |khz| at_offset(&rule, 1.0, khz, "mask=E"));
    assert!((e - 4.4997).abs() < 0.001, "mask E reaches 55 dB at {e} kHz");
    let g = falls_to(-20.0, 10.1, 45.0, |khz| at_offset(&rule, 5.0, khz, &format!("mask=G {wide}")));
    assert!((g - 18.91).abs() < 0.01, "mask G reaches its floor at {g} kHz");
    for (mask, khz, below, above) in
        [("mask=H", 8.5, 35.03, 35.03), ("mask=J", 6.25, 21.09, 21.10), ("mask=J", 9.5, 39.83, 39.79)]
    {
        for (khz, down) in [(khz, below), (khz + 1e-5, above)] {
            let found = carrier(5.0) - at_offset(&rule, 5.0, khz, mask);
            assert!((found - down).abs() < 0.006, "{mask} at {khz} kHz: {found} dB, expected {down} dB");
        }
    }
}

/// 47 CFR 95.635, annual edition of 2015: 60 dB and 53 dB + 10 log P meet at 10^0.7 W.
#[test]
fn citizens_band_harmonics_tie_at_5_watts() {
    let rule = rule(CB);
    let binding = |watts: f64| {
        let facts = "emission_class=A3E type_accepted=2000";
        let mut given = Facts::default();
        facts.split_whitespace().for_each(|pair| given.set_pair(&rule, pair).expect("a fact reads"));
        let question = Question::new(Hertz::from_mhz(27.185), Watts::new(watts)).expect("above zero");
        let finding = rule.limit(&question.at(Hertz::from_mhz(54.37)), &given);
        match finding.verdict {
            Verdict::Limit { binding, .. } => binding,
            other => panic!("{other:?}"),
        }
    };
    assert_eq!(binding(5.0), Binding::Relative);
    assert_eq!(binding(5.0119), Binding::Both);
    assert_eq!(binding(5.03), Binding::Absolute);
}

/// 47 CFR 87.139(a), annual edition of 2015. 40 dB and 43 dB + 10 log P meet at 10^-0.3 W = 0.501 W, and
/// 250 % of an authorised bandwidth of 25 kHz or 8.33 kHz are 62.5 kHz and 20.825 kHz.
#[test]
fn aircraft_terms_meet_at_half_a_watt_and_begin_at_two_and_a_half_widths() {
    let rule = rule(include_str!("../../../config/rules/us-part-87.yaml"));
    let finding = |watts: f64, khz: f64, width: &str| {
        let mut given = Facts::default();
        for pair in ["station_class=aircraft", width] {
            given.set_pair(&rule, pair).expect("a fact reads");
        }
        let carrier = Hertz::from_mhz(127.0);
        let question = Question::new(carrier, Watts::new(watts)).expect("above zero");
        rule.limit(&question.at(carrier + Hertz::new(khz * 1e3)), &given)
    };
    let binding = |watts: f64| match finding(watts, 70.0, "authorised_bandwidth=25kHz").verdict {
        Verdict::Limit { binding, .. } => binding,
        other => panic!("{other:?}"),
    };
    assert_eq!(binding(0.49), Binding::Relative);
    assert_eq!(binding(0.501_187), Binding::Both);
    assert_eq!(binding(0.52), Binding::Absolute);
    for (width, edge) in [("authorised_bandwidth=25kHz", 62.5), ("authorised_bandwidth=8.33kHz", 20.825)] {
        let row = |khz: f64| finding(10.0, khz, width).branch.row;
        assert_ne!(row(edge - 1e-3), row(edge + 1e-3), "{width}");
        assert_eq!((row(edge - 1.0), row(edge + 1.0)), (row(edge - 1e-3), row(edge + 1e-3)), "{width}");
    }
}
