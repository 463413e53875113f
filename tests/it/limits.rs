//! Published limits through the command line: `spurline limit`.
//!
//! The limits of `us-part-97` are worked from the text of 47 CFR 97.307 (eCFR, issue of 2026-09-23), those of
//! `itu-category-a` from ITU Radio Regulations Appendix 3, second hand. A row's number only names it in messages.

use crate::bench::Workshop;

enum Expected {
    Limit(f64, f64),
    Word(&'static str),
}
use Expected::{Limit, Word};

type Row = (u32, &'static str, &'static str, &'static str, &'static [&'static str], Expected);

const OLD: &[&str] = &["installed=2002"];
const NEW: &[&str] = &["installed=2010"];
const FCC: &str = "us-part-97";
const ITU: &str = "itu-category-a";

const ROWS: &[Row] = &[
    (1, FCC, "14.2 MHz", "100 W", NEW, Limit(7.00, 43.00)),
    (2, FCC, "7.1 MHz", "1500 W", NEW, Limit(18.76, 43.00)),
    (3, FCC, "7.1 MHz", "1500 W", OLD, Limit(16.99, 44.77)),
    (4, FCC, "7.1 MHz", "500 W", OLD, Limit(16.99, 40.00)),
    (5, FCC, "7.1 MHz", "1000 W", OLD, Limit(16.99, 43.01)),
    (6, FCC, "7.1 MHz", "1000 W", NEW, Limit(17.00, 43.00)),
    (7, FCC, "14.2 MHz", "100 W", &["installed=2003-01-01"], Limit(10.00, 40.00)),
    (8, FCC, "14.2 MHz", "100 W", &["installed=2003-01-02"], Limit(7.00, 43.00)),
    (9, FCC, "14.2 MHz", "5 W", OLD, Limit(-3.01, 40.00)),
    (10, FCC, "14.2 MHz", "4.999 W", OLD, Limit(6.99, 30.00)),
    (11, FCC, "14.2 MHz", "1 W", OLD, Limit(0.00, 30.00)),
    (12, FCC, "14.2 MHz", "1 W", NEW, Limit(-13.00, 43.00)),
    (13, FCC, "14.2 MHz", "100 W", &["built=1977-04-14", "installed=1990"], Word("exempt")),
    (
        14,
        FCC,
        "14.2 MHz",
        "100 W",
        &["built=1977-04-15", "first_marketed=1978-01-01", "installed=1990"],
        Limit(10.00, 40.00),
    ),
    (15, FCC, "29.999 MHz", "10 W", &["installed=2015"], Limit(-3.00, 43.00)),
    (16, FCC, "30 MHz", "10 W", &[], Limit(-16.02, 56.02)),
    (17, FCC, "146 MHz", "5 W", &[], Limit(-16.02, 53.01)),
    (18, FCC, "146 MHz", "1 W", &[], Limit(-16.02, 46.02)),
    (19, FCC, "146 MHz", "25 W", &[], Limit(-16.02, 60.00)),
    (20, FCC, "146 MHz", "25.1 W", &[], Limit(-16.00, 60.00)),
    (21, FCC, "146 MHz", "50 W", &[], Limit(-13.01, 60.00)),
    (22, FCC, "146 MHz", "100 W", &[], Limit(-10.00, 60.00)),
    (23, FCC, "52 MHz", "1500 W", &[], Limit(1.76, 60.00)),
    (24, FCC, "146 MHz", "250 mW", &[], Limit(-16.02, 40.00)),
    (25, FCC, "146 MHz", "251 mW", &[], Limit(-16.02, 40.02)),
    (26, FCC, "146 MHz", "200 mW", &[], Limit(-16.99, 40.00)),
    (27, FCC, "146 MHz", "100 mW", &[], Limit(-20.00, 40.00)),
    (28, FCC, "146 MHz", "50 mW", &[], Limit(-20.00, 36.99)),
    (29, FCC, "146 MHz", "10 mW", &[], Limit(-20.00, 30.00)),
    (30, FCC, "225 MHz", "5 W", &[], Limit(-16.02, 53.01)),
    (31, FCC, "446 MHz", "5 W", &[], Word("no limit")),
    (59, ITU, "146 MHz", "5 W", &[], Limit(-13.00, 49.99)),
    (60, ITU, "146 MHz", "500 W", &[], Limit(-13.00, 69.99)),
    (61, ITU, "146 MHz", "1000 W", &[], Limit(-10.00, 70.00)),
    (62, ITU, "14.2 MHz", "100 W", &["service=amateur"], Limit(0.00, 50.00)),
    (63, ITU, "14.2 MHz", "5 W", &["service=amateur"], Limit(-13.00, 49.99)),
    (78, FCC, "14.2 MHz", "100 W", &[], Word("undetermined")),
];

fn arguments(row: &Row) -> Vec<&'static str> {
    let (_, rule, carrier, power, facts, _) = row;
    let mut arguments = vec!["limit", "--rule", rule, "--carrier", carrier, "--power", power, "--json"];
    for fact in *facts {
        arguments.extend(["--fact", fact]);
    }
    arguments
}

#[test]
fn published_rules_give_their_limits() {
    let workshop = Workshop::new();
    for row in ROWS {
        let called = workshop.call(&arguments(row));
        assert_eq!(called.exit, 0, "row {}: {called:?}", row.0);
        let found = called.json();
        match row.5 {
            Limit(level, relative) => {
                assert_eq!(found["outcome"], "limit", "row {}: {found}", row.0);
                let number = |key: &str| found[key].as_f64().unwrap();
                assert!((number("limit_dbm") - level).abs() < 0.006, "row {}: {found}", row.0);
                assert!((number("relative_db") - relative).abs() < 0.006, "row {}: {found}", row.0);
            }
            Word(word) => {
                assert_eq!(found["outcome"], word, "row {}: {found}", row.0);
                assert_eq!(found["limit_dbm"], serde_json::Value::Null);
            }
        }
        assert!(!found["derivation"].as_array().unwrap().is_empty());
    }
}

/// Row 32: the carrier decides, not the frequency of the emission; row 17 likewise.
#[test]
fn the_carrier_decides_the_paragraph() {
    let workshop = Workshop::new();
    let at = |carrier, at| {
        let arguments =
            ["limit", "--rule", FCC, "--carrier", carrier, "--power", "5 W", "--at", at, "--json"];
        workshop.call(&arguments).json()
    };
    assert_eq!(at("446 MHz", "223 MHz")["outcome"], "no limit");
    for emission in ["292 MHz", "438 MHz"] {
        assert!((at("146 MHz", emission)["limit_dbm"].as_f64().unwrap() - -16.02).abs() < 0.006);
    }
}

#[test]
fn a_missing_fact_is_asked_for_and_a_wrong_one_refused() {
    let workshop = Workshop::new();
    let row = ROWS.iter().find(|row| row.0 == 78).unwrap();
    assert_eq!(workshop.call(&arguments(row)).json()["missing"], serde_json::json!(["installed"]));
    let base = ["limit", "--rule", FCC, "--carrier", "14.2 MHz", "--power", "100 W", "--fact"];
    for fact in ["instaled=2010", "installed=2003", "installed=yesterday"] {
        let called = workshop.call(&[&base[..], &[fact]].concat());
        assert_eq!(called.exit, 2, "{fact}: {called:?}");
        assert!(called.talk.contains("help: "), "{called:?}");
    }
    let called = workshop.call(&["limit", "--rule", FCC, "--carrier", "146 mHz", "--power", "5 W"]);
    assert!(called.exit == 2 && called.talk.contains("did you mean `MHz`?"), "{called:?}");
}
