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

type Beside =
    (u32, &'static str, &'static str, &'static str, Option<&'static str>, &'static [&'static str], Expected);

/// Masks, adjacent channels and other services. Worked from the texts and editions that the rule files name, by hand and
/// by a script that shares nothing with the program; those of files from memory show only that the file says what was
/// remembered. The offset is from the carrier; one of the carrier's own frequency is its second harmonic.
#[rustfmt::skip]
const BESIDE: &[Beside] = &[
    (33, "us-part-95-frs", "462.5625 MHz", "2 W", Some("10 kHz"), &[], Limit(8.01, 25.00)),
    (34, "us-part-95-frs", "462.5625 MHz", "2 W", Some("20 kHz"), &[], Limit(-1.99, 35.00)),
    (35, "us-part-95-frs", "462.5625 MHz", "2 W", Some("462.5625 MHz"), &[], Limit(-13.00, 46.01)),
    (36, "us-part-95-frs", "462.5625 MHz", "0.5 W", Some("462.5625 MHz"), &[], Limit(-13.00, 39.99)),
    (37, "us-part-95-frs", "462.5625 MHz", "2 W", Some("31.25 kHz"), &[], Limit(-1.99, 35.00)),
    (38, "us-part-95-rcrs", "72.5 MHz", "0.75 W", Some("25 kHz"), &[], Limit(-26.00, 54.75)),
    (39, "us-part-95-gmrs", "462.55 MHz", "5 W", Some("7.5 kHz"), &["audio_filter=none"], Limit(22.37, 14.62)),
    (40, "us-part-95-gmrs", "462.55 MHz", "5 W", Some("30 kHz"), &["audio_filter=none", "authorised_bandwidth=20 kHz"], Limit(-20.00, 56.99)),
    (41, "us-part-95-gmrs", "462.55 MHz", "5 W", Some("12 kHz"), &["audio_filter=none", "authorised_bandwidth=20 kHz"], Limit(2.90, 34.09)),
    (43, "us-part-87", "127 MHz", "10 W", Some("70 kHz"), &["station_class=ground", "authorised_bandwidth=25 kHz"], Limit(-13.00, 53.00)),
    (44, "us-part-15-receiver", "460 MHz", "1 W", None, &[], Limit(-56.99, 86.99)),
    (45, "us-cb", "27.185 MHz", "4 W", Some("40 kHz"), &["emission_class=A3E", "type_accepted=2000"], Limit(-23.00, 59.02)),
    (46, "us-cb", "27.185 MHz", "4 W", Some("27.185 MHz"), &["emission_class=A3E", "type_accepted=2000"], Limit(-23.98, 60.00)),
    (47, "us-part-90", "155 MHz", "25 W", Some("60 kHz"), &["mask=B", "authorised_bandwidth=20 kHz"], Limit(-13.00, 56.98)),
    (48, "us-part-90", "155 MHz", "5 W", Some("7.5 kHz"), &["mask=C", "authorised_bandwidth=20 kHz"], Limit(22.37, 14.62)),
    (49, "us-part-90", "155 MHz", "5 W", Some("20 kHz"), &["mask=C", "authorised_bandwidth=20 kHz"], Limit(-8.27, 45.26)),
    (50, "us-part-90", "155 MHz", "5 W", Some("40 kHz"), &["mask=C", "authorised_bandwidth=20 kHz"], Limit(-13.01, 50.00)),
    (51, "us-part-90", "155 MHz", "5 W", Some("6 kHz"), &["mask=D"], Limit(14.31, 22.68)),
    (52, "us-part-90", "155 MHz", "5 W", Some("12.5 kHz"), &["mask=D"], Limit(-32.95, 69.94)),
    (53, "us-part-90", "155 MHz", "5 W", Some("12.501 kHz"), &["mask=D"], Limit(-20.00, 56.99)),
    (54, "us-part-90", "155 MHz", "100 W", Some("100 kHz"), &["mask=D"], Limit(-20.00, 70.00)),
    (55, "us-part-90", "155 MHz", "110 W", Some("100 kHz"), &["mask=D"], Limit(-19.59, 70.00)),
    (56, "us-part-90", "155 MHz", "5 W", Some("4 kHz"), &["mask=E"], Limit(-9.68, 46.67)),
    (57, "us-part-90", "155 MHz", "5 W", Some("100 kHz"), &["mask=E"], Limit(-25.00, 61.99)),
    (58, "us-part-90", "155 MHz", "25 W", Some("100 kHz"), &["mask=E"], Limit(-21.02, 65.00)),
    (64, "itu-category-a", "144 MHz", "120 W", None, &["service=amateur"], Limit(-13.00, 63.79)),
    (65, "itu-category-a", "2 GHz", "70 W", None, &["service=space"], Limit(-11.55, 60.00)),
    (66, "itu-low-power", "433 MHz", "50 mW", None, &[], Limit(-23.01, 40.00)),
    (67, "itu-low-power", "433 MHz", "25 mW", None, &[], Limit(-26.00, 39.98)),
    (68, "de-order-33-2007", "14.2 MHz", "100 W", None, &[], Limit(10.00, 40.00)),
    (69, "de-order-33-2007", "145 MHz", "50 W", None, &[], Limit(-13.01, 60.00)),
    (70, "de-order-33-2007", "145 MHz", "100 mW", None, &[], Limit(-36.02, 56.02)),
    (71, "de-order-33-2007", "40 MHz", "10 W", None, &[], Word("no limit")),
    (72, "eu-land-mobile", "460 MHz", "4 W", Some("440 MHz"), &[], Limit(-36.00, 72.02)),
    (73, "eu-land-mobile", "460 MHz", "4 W", Some("540 MHz"), &[], Limit(-36.00, 72.02)),
    (74, "eu-land-mobile", "460 MHz", "4 W", Some("920 MHz"), &[], Limit(-30.00, 66.02)),
    (75, "eu-land-mobile", "460 MHz", "4 W", Some("0 Hz"), &["state=standby"], Limit(-57.00, 93.02)),
    (76, "eu-land-mobile-adjacent-channel", "155 MHz", "5 W", None, &["channel=12.5 kHz"], Limit(-23.01, 60.00)),
    (77, "eu-land-mobile-adjacent-channel", "155 MHz", "100 mW", None, &["channel=12.5 kHz"], Limit(-36.99, 56.99)),
    (101, "us-part-90", "155 MHz", "25 W", Some("15 kHz"), &["mask=B", "authorised_bandwidth=20 kHz"], Limit(18.98, 25.00)),
    (102, "us-part-90", "155 MHz", "25 W", Some("30 kHz"), &["mask=B", "authorised_bandwidth=20 kHz"], Limit(8.98, 35.00)),
    (103, "us-part-90", "155 MHz", "25 W", Some("50 kHz"), &["mask=B", "authorised_bandwidth=20 kHz"], Limit(8.98, 35.00)),
    (104, "us-part-90", "155 MHz", "25 W", Some("50.001 kHz"), &["mask=B", "authorised_bandwidth=20 kHz"], Limit(-13.00, 56.98)),
    (105, "us-part-90", "155 MHz", "5 W", Some("10 kHz"), &["mask=C", "authorised_bandwidth=20 kHz"], Limit(12.00, 24.99)),
    (106, "us-part-90", "155 MHz", "5 W", Some("10.001 kHz"), &["mask=C", "authorised_bandwidth=20 kHz"], Limit(9.19, 27.80)),
    (108, "us-part-90", "155 MHz", "5 W", Some("5.626 kHz"), &["mask=D"], Limit(17.03, 19.96)),
    (109, "us-part-90", "155 MHz", "10 W", Some("100 kHz"), &["mask=D"], Limit(-20.00, 60.00)),
    (110, "us-part-90", "155 MHz", "5 W", Some("4.6 kHz"), &["mask=E"], Limit(-19.68, 56.67)),
    (111, "us-part-90", "155 MHz", "5 W", Some("4.601 kHz"), &["mask=E"], Limit(-25.00, 61.99)),
    (113, "us-part-90", "155 MHz", "5 W", Some("8 kHz"), &["mask=G", "authorised_bandwidth=20 kHz"], Word("no limit")),
    (114, "us-part-90", "155 MHz", "5 W", Some("10.001 kHz"), &["mask=G", "authorised_bandwidth=20 kHz"], Limit(12.08, 24.91)),
    (116, "us-part-90", "221 MHz", "10 W", Some("3.75 kHz"), &["mask=F"], Limit(-25.00, 65.00)),
    (120, "us-part-87", "127 MHz", "10 W", Some("70 kHz"), &["station_class=aircraft", "authorised_bandwidth=25 kHz"], Limit(-13.00, 53.00)),
    (121, "us-part-87", "127 MHz", "0.5 W", Some("70 kHz"), &["station_class=aircraft", "authorised_bandwidth=25 kHz"], Limit(-13.01, 40.00)),
    (124, "us-part-80", "156.8 MHz", "25 W", Some("60 kHz"), &["authorised_bandwidth=20 kHz"], Limit(-13.00, 56.98)),
    (125, "us-part-80", "156.8 MHz", "1 W", Some("100 kHz"), &["authorised_bandwidth=20 kHz"], Limit(-13.00, 43.00)),
    (126, "us-part-80", "8 MHz", "75 W", Some("3 kHz"), &["emission_class=sideband", "authorised_bandwidth=3 kHz", "installed=1992-02-01"], Limit(20.75, 28.00)),
    (127, "us-part-80", "8 MHz", "75 W", Some("3 kHz"), &["emission_class=sideband", "authorised_bandwidth=3 kHz", "installed=1992-01-31"], Limit(23.75, 25.00)),
    (128, "us-cb", "27.185 MHz", "4 W", Some("40 kHz"), &["emission_class=A3E", "type_accepted=1990"], Limit(-23.00, 59.02)),
    (129, "us-cb", "27.185 MHz", "4 W", Some("27.185 MHz"), &["emission_class=A3E", "type_accepted=1990"], Limit(-23.98, 60.00)),
    (130, "us-cb", "27.185 MHz", "12 W", Some("27.185 MHz"), &["emission_class=J3E", "type_accepted=1990"], Limit(-23.00, 63.79)),
    (132, "us-cb", "27.185 MHz", "4 W", Some("27.185 MHz"), &["emission_class=A3E", "type_accepted=1976-09-09"], Limit(-13.00, 49.02)),
    (133, "us-part-95-murs", "151.82 MHz", "2 W", Some("6 kHz"), &[], Limit(10.33, 22.68)),
    (134, "us-part-95-murs", "151.82 MHz", "2 W", Some("100 kHz"), &[], Limit(-20.00, 53.01)),
    (135, "us-part-95-murs", "154.57 MHz", "2 W", Some("20 kHz"), &["audio_filter=none", "authorised_bandwidth=20 kHz"], Limit(-12.25, 45.26)),
    (136, "us-part-90", "155 MHz", "100 mW", Some("25 kHz"), &["authorised_bandwidth=11.25 kHz"], Limit(-10.00, 30.00)),
    (137, "us-part-90", "155 MHz", "120 mW", Some("25 kHz"), &["authorised_bandwidth=11.25 kHz"], Limit(-9.21, 30.00)),
    (1370, "us-part-90", "155 MHz", "121 mW", Some("25 kHz"), &["mask=D"], Limit(-20.00, 40.83)),
    (138, "us-part-90-adjacent-channel", "460 MHz", "5 W", Some("25 kHz"), &[], Limit(-23.01, 60.00)),
    (139, "us-part-90-adjacent-channel", "460 MHz", "5 W", Some("50 kHz"), &[], Limit(-33.01, 70.00)),
    (140, "us-part-90-adjacent-channel", "460 MHz", "1 W", Some("50 kHz"), &[], Limit(-36.00, 66.00)),
    (143, "iec-62287-2", "162.025 MHz", "37 dBm", Some("162.025 MHz"), &[], Limit(-36.00, 73.00)),
    (144, "iec-62287-2", "162.025 MHz", "37 dBm", Some("972.15 MHz"), &[], Limit(-30.00, 67.00)),
    (145, "jp-amateur", "14.2 MHz", "100 W", None, &[], Limit(0.00, 50.00)),
    (146, "jp-amateur", "14.2 MHz", "1 kW", None, &[], Limit(10.00, 50.00)),
];

#[test]
fn other_rules_give_their_limits() {
    let workshop = Workshop::new();
    for (number, rule, carrier, power, offset, facts, expected) in BESIDE {
        let mut arguments = vec!["limit", "--rule", rule, "--carrier", carrier, "--power", power, "--json"];
        arguments.extend(offset.iter().flat_map(|offset| ["--offset", offset]));
        arguments.extend(facts.iter().flat_map(|fact| ["--fact", fact]));
        let called = workshop.call(&arguments);
        assert_eq!(called.exit, 0, "row {number}: {called:?}");
        holds(*number, &called.json(), expected);
    }
}

fn arguments(row: &Row) -> Vec<&'static str> {
    let (_, rule, carrier, power, facts, _) = row;
    let mut arguments = vec!["limit", "--rule", rule, "--carrier", carrier, "--power", power, "--json"];
    for fact in *facts {
        arguments.extend(["--fact", fact]);
    }
    arguments
}

fn holds(row: u32, found: &serde_json::Value, expected: &Expected) {
    match expected {
        Limit(level, relative) => {
            assert_eq!(found["outcome"], "limit", "row {row}: {found}");
            let number = |key: &str| found[key].as_f64().unwrap();
            assert!((number("limit_dbm") - level).abs() < 0.006, "row {row}: {found}");
            assert!((number("relative_db") - relative).abs() < 0.006, "row {row}: {found}");
        }
        Word(word) => {
            assert_eq!(found["outcome"], *word, "row {row}: {found}");
            assert_eq!(found["limit_dbm"], serde_json::Value::Null);
        }
    }
}

#[test]
fn published_rules_give_their_limits() {
    let workshop = Workshop::new();
    for row in ROWS {
        let called = workshop.call(&arguments(row));
        assert_eq!(called.exit, 0, "row {}: {called:?}", row.0);
        let found = called.json();
        holds(row.0, &found, &row.5);
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

/// 47 CFR 90.210(o), 2015: more than 50 kHz from the edge of the authorised bandwidth 100 kHz below 1 GHz and 1 MHz
/// above; 47 CFR 95.579: 300 Hz beside the channel, at least 30 kHz beyond.
#[test]
fn the_bandwidth_goes_by_the_row() {
    let workshop = Workshop::new();
    let bandwidth = |rule, carrier, at, facts: &[&str]| {
        let mut arguments =
            vec!["limit", "--rule", rule, "--carrier", carrier, "--power", "5 W", "--at", at, "--json"];
        arguments.extend(facts.iter().flat_map(|fact| ["--fact", fact]));
        workshop.call(&arguments).json()["reference_bandwidth_hz"].as_f64()
    };
    let mask = ["mask=B", "authorised_bandwidth=20 kHz"];
    assert_eq!(bandwidth("us-part-90", "155 MHz", "310 MHz", &mask), Some(100e3));
    assert_eq!(bandwidth("us-part-90", "155 MHz", "1085 MHz", &mask), Some(1e6));
    assert_eq!(bandwidth("us-part-90", "155 MHz", "155.015 MHz", &mask), None);
    assert_eq!(bandwidth("us-part-90", "155 MHz", "155.006 MHz", &["mask=D"]), Some(100.0));
    assert_eq!(bandwidth("us-part-95-frs", "462.5625 MHz", "462.5725 MHz", &[]), Some(300.0));
    assert_eq!(bandwidth("us-part-95-frs", "462.5625 MHz", "925.125 MHz", &[]), Some(30e3));
}

/// A limit along an axis, several rules at once, and where one jumps: 7.27 (5.625 - 2.88) dB at the beginning of mask D's
/// slope, 69.94 and 56.99 dB on either side of 12.5 kHz for 5 W.
#[test]
fn limits_are_swept_compared_and_followed() {
    let workshop = Workshop::new();
    let base =
        ["limit", "--carrier", "155 MHz", "--power", "5 W", "--fact", "mask=D", "--rule", "us-part-90"];
    let sweep =
        ["--rule", "us-part-22", "--sweep", "offset=6 kHz..20 kHz", "--points", "2", "--plot", "plot.svg"];
    let called = workshop.call(&[&base[..], &sweep].concat());
    assert_eq!(
        called.out, "offset_hz,us-part-90,us-part-22\n6000,14.307,-13.000\n20000,-20.000,-13.000\n",
        "{called:?}"
    );
    let seams =
        workshop.call(&[&base[..], &["--fact", "authorised_bandwidth=11.25 kHz", "--seams"]].concat());
    for words in
        ["12.5 kHz from the carrier: -32.94 dBm below, -32.95 dBm there, -20.00 dBm above", "17.03 dBm above"]
    {
        assert!(seams.out.contains(words), "{seams:?}");
    }
    let both = workshop.call(&[&base[..], &["--rule", "us-part-22", "--offset", "20 kHz"]].concat());
    assert!(both.out.contains("side by side"), "{both:?}");
    let wrong = workshop.call(&[&base[..], &["--sweep", "offset=20 kHz..6 kHz"]].concat());
    assert!(wrong.exit == 2 && wrong.talk.contains("a range that rises"), "{wrong:?}");
}

/// 47 CFR 90.213, 87.133, 80.209, 95.621 and 95.626, annual edition of 2015; 95.965: rows 147 to 151 and parts per million of a
/// carrier, worked by hand.
#[test]
fn tolerances_follow_from_the_tables() {
    let workshop = Workshop::new();
    let mobile = ["station_class=mobile", "rated_power=5 W", "channel_width=6.25 kHz"];
    let base = ["station_class=base", "rated_power=5 W", "channel_width=6.25 kHz"];
    let wide = ["station_class=mobile", "rated_power=5 W", "channel_width=25 kHz"];
    let small = ["station_class=mobile", "rated_power=2 W", "channel_width=25 kHz"];
    let base_wide = ["station_class=base", "rated_power=5 W", "channel_width=12.5 kHz"];
    let sideband = ["station_class=mobile", "rated_power=100 W", "emission_class=sideband"];
    let part_90 = "us-part-90-stability";
    let rows: [(&str, &str, &[&str], f64); 17] = [
        (part_90, "155 MHz", &mobile, 310.0),
        (part_90, "460 MHz", &mobile, 460.0),
        (part_90, "460 MHz", &base, 230.0),
        (part_90, "155 MHz", &wide, 775.0),
        (part_90, "155 MHz", &small, 7750.0),
        (part_90, "460 MHz", &base_wide, 690.0),
        (part_90, "14.2 MHz", &sideband, 50.0),
        ("us-part-87-stability", "127 MHz", &["station_class=aircraft", "channel_width=25 kHz"], 3810.0),
        ("us-part-87-stability", "127 MHz", &["station_class=ground", "channel_width=25 kHz"], 2540.0),
        ("us-part-87-stability", "127 MHz", &["station_class=ground", "channel_width=8.33 kHz"], 635.0),
        ("us-part-80-stability", "156.8 MHz", &["station_class=ship"], 1568.0),
        ("us-part-95-stability", "462.5625 MHz", &["service=gmrs", "station_class=mobile"], 2312.8125),
        ("us-part-95-stability", "462.5625 MHz", &["service=gmrs", "station_class=base"], 1156.40625),
        ("us-part-95-stability", "462.5625 MHz", &["service=frs"], 1156.40625),
        ("us-part-95-stability", "27.185 MHz", &["service=cb"], 1359.25),
        ("us-part-95-stability", "72.5 MHz", &["service=rcrs"], 1450.0),
        ("us-part-22-stability", "455 MHz", &["station_class=mobile"], 2275.0),
    ];
    for (rule, carrier, facts, hertz) in rows {
        let mut arguments = vec!["limit", "--rule", rule, "--carrier", carrier, "--power", "5 W", "--json"];
        arguments.extend(facts.iter().flat_map(|fact| ["--fact", fact]));
        let called = workshop.call(&arguments);
        let found = called.json()["tolerance"]["tolerance_hz"].as_f64();
        assert!(
            found.is_some_and(|found| (found - hertz).abs() < 1e-3),
            "{rule}, {carrier}, {facts:?}: {called:?}"
        );
    }
}

/// Nothing is guessed: every outcome that stays possible is told.
#[test]
fn a_tolerance_asks_for_what_it_needs() {
    let called = Workshop::new().call(&[
        "limit",
        "--rule",
        "us-part-90-stability",
        "--carrier",
        "155 MHz",
        "--power",
        "5 W",
        "--json",
        "--fact",
        "station_class=mobile",
    ]);
    let found = called.json()["tolerance"].clone();
    assert_eq!(found["missing"], serde_json::json!(["channel_width", "rated_power"]), "{called:?}");
    let mut possible: Vec<f64> =
        found["possible_hz"].as_array().unwrap().iter().map(|hertz| hertz.as_f64().unwrap()).collect();
    possible.sort_by(f64::total_cmp);
    assert_eq!(possible, [310.0, 775.0, 775.0, 7750.0], "{called:?}");
}

/// Published examination questions (E1A01, E1A03, E1A04, G4D08, G4D09, T1B03, T1B04, T1B07) and 47 CFR 97.301, 97.303 and
/// 97.313, eCFR issue 2026-09-23.
#[test]
fn emissions_lie_in_their_bands_or_not() {
    let workshop = Workshop::new();
    let rows = [
        ("14.348..14.351 MHz", "2", "phone", "outside", 0.0, 1000.0),
        ("14.347..14.350 MHz", "2", "phone", "inside", 0.0, 0.0),
        ("14.1472..14.15 MHz", "2", "data", "inside", 0.0, 0.0),
        ("14.1473..14.1501 MHz", "2", "data", "outside", 0.0, 100.0),
        ("3.598..3.601 MHz", "2", "phone", "outside", 2000.0, 0.0),
        ("7.175..7.178 MHz", "2", "phone", "inside", 0.0, 0.0),
        ("52.517..52.533 MHz", "2", "phone", "inside", 0.0, 0.0),
        ("146.512..146.528 MHz", "2", "phone", "inside", 0.0, 0.0),
        ("146.512..146.528 MHz", "1", "phone", "outside", 512e3, 528e3),
        ("144.05..144.06 MHz", "2", "phone", "outside", 50e3, 40e3),
        ("144.05..144.051 MHz", "2", "cw", "inside", 0.0, 0.0),
        ("5330.6..5333.4 kHz", "2", "phone", "inside", 0.0, 0.0),
        ("5330.5..5333.3 kHz", "2", "phone", "outside", 100.0, 0.0),
    ];
    for (range, region, sent, outcome, low, high) in rows {
        let arguments = ["limit", "--band", range, "--region", region, "--use", sent, "--json"];
        let called = workshop.call(&arguments);
        let found = called.json()["band"].clone();
        assert_eq!(found["outcome"], outcome, "{range}, {sent}: {called:?}");
        assert_eq!(called.exit, i32::from(outcome == "outside"), "{range}: {called:?}");
        for (key, out) in [("low_out_by_hz", low), ("high_out_by_hz", high)] {
            let found = found[key].as_f64().unwrap_or_default();
            assert!((found - out).abs() < 1e-3, "{range}, {key}: {called:?}");
        }
    }
    let power = workshop.call(&["limit", "--band", "10.14..10.1402 MHz", "--region", "2", "--json"]);
    assert_eq!(power.json()["band"]["power"], serde_json::json!(["200 W PEP"]), "{power:?}");
}

/// 47 CFR 2.202 and 2.1057, eCFR issue 2026-09-23; ITU-R SM.1539, second hand.
#[test]
fn designators_spans_and_domains_are_told() {
    let called = Workshop::new().call(&[
        "limit",
        "--designator",
        "16K0F3E",
        "--carrier",
        "146 MHz",
        "--span",
        "--lowest",
        "12.8 MHz",
        "--json",
    ]);
    let found = called.json();
    assert_eq!(found["designator"]["necessary_bandwidth_hz"].as_f64(), Some(16e3), "{called:?}");
    assert_eq!(found["designator"]["spurious_domain"]["separation_hz"].as_f64(), Some(62.5e3), "{called:?}");
    assert_eq!(found["span"]["from_hz"].as_f64(), Some(12.8e6), "{called:?}");
    assert_eq!(found["span"]["to_hz"].as_f64(), Some(1.46e9), "{called:?}");
    let wrong = Workshop::new().call(&["limit", "--designator", "016KF3E"]);
    assert!(wrong.exit == 2 && wrong.talk.contains("write `16K0`"), "{wrong:?}");
}

/// No rule that comes with the program has a gap, a step or a row that nobody meant.
#[test]
fn shipped_rules_have_no_slips() {
    let called = Workshop::new().call(&["limit", "--lint"]);
    assert_eq!(called.exit, 0, "{called:?}");
    assert!(
        called.out.lines().count() > 20 && called.out.lines().all(|line| line.contains(": clean")),
        "{called:?}"
    );
}
