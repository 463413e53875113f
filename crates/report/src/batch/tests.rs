//! Batches whose answers are known.

use spurline_record::Limit;
use spurline_units::{Db, Dbm};

use super::*;
use crate::compare::tests::Bench;

fn units(levels: &[f64]) -> Vec<Bench> {
    let unit = |(number, level): (i64, &f64)| {
        let mut bench = Bench::with(number, &[*level, -40.0]);
        bench.header.unit.serial = format!("U-{number}");
        bench
    };
    (1..).zip(levels).map(unit).collect()
}

/// numpy 2.4.6: `median` and `std(ddof=1)` of the eight.
#[test]
fn a_unit_that_is_unlike_the_others_is_named() {
    let units = units(&[-30.0, -30.1, -29.9, -30.2, -29.8, -30.05, -29.95, -14.9]);
    let views: Vec<RunView<'_>> = units.iter().map(Bench::view).collect();
    let batch = Batch::of(&views);
    let odd: Vec<&str> = batch.odd().map(|(_, dot)| dot.serial.as_str()).collect();
    assert_eq!((odd, &batch.exceeding[..]), (vec!["U-8"], &["U-8".to_owned()][..]));
    assert_eq!(batch.outcome, Some(Outcome::Exceeds));
    let row = &batch.readings[0];
    assert!(
        (row.median.unwrap() - -29.975).abs() < 1e-9 && (row.deviation.unwrap() - 5.340_1).abs() < 1e-3,
        "{row:?}"
    );
    assert_eq!(row.least_margin.as_ref().unwrap().1, "U-8");
    let page = batch_html(&batch).unwrap();
    assert_eq!(page.matches("class=\"full\"").count(), 2 * (7 + 8), "a dot for each value, wide and narrow");
    assert!(page.contains("U-8: Harmonic 2"), "{page}");
}

#[test]
fn one_unit_is_no_units() {
    let one = units(&[-14.9]);
    let batch = Batch::of(&[one[0].view(), one[0].view()]);
    let page = batch_html(&batch).unwrap();
    assert!(
        page.contains("<h1>Batch of 1 unit</h1>") && page.contains("The unit exceeds a limit."),
        "{page}"
    );
    assert!(!page.contains("1 units"), "{page}");
    assert!(batch.notes.iter().any(|note| note.starts_with("2 runs of 1 unit:")), "{:?}", batch.notes);
}

#[test]
fn what_was_not_measured_is_missing() {
    let mut units = units(&[-30.0, -30.0]);
    units[1].readings.truncate(1);
    units[0].readings[0].margin = Some(Db::new(3.0).into());
    let views: Vec<RunView<'_>> = units.iter().map(Bench::view).collect();
    let batch = Batch::of(&views);
    assert_eq!(batch.readings[1].missing, ["U-2"]);
    assert_eq!(batch.readings[0].least_margin, Some((3.0, "U-1".to_owned())));
    assert!(batch.notes.iter().any(|note| note.starts_with("of fewer than")), "{:?}", batch.notes);
    assert_eq!(Batch::of(&[]).outcome, None);
}

#[test]
fn runs_of_several_firmwares_are_told() {
    let mut units = units(&[-30.0, -30.0, -30.0]);
    for unit in &mut units {
        unit.header.unit.firmware = "1.0".to_owned();
    }
    let mixed = |units: &[Bench]| {
        let views: Vec<RunView<'_>> = units.iter().map(Bench::view).collect();
        Batch::of(&views).notes.into_iter().find(|note| note.contains("firmwares"))
    };
    assert_eq!(mixed(&units), None);
    units[1].header.unit.firmware = "2.0".to_owned();
    units[2].header.unit.firmware.clear();
    let told = mixed(&units).unwrap();
    assert!(told.contains("not said (1 run), 1.0 (1 run), 2.0 (1 run): what differs"), "{told}");
}

/// Two units by two rules, 3 dB apart: the smallest margin is to the lower limit, whichever run is named first.
#[test]
fn a_margin_stands_beside_the_limit_that_it_belongs_to() {
    let mut units = units(&[-30.0, -12.78]);
    for (unit, rule, limit) in [(0, "wide", -13.0), (1, "narrow", -16.02)] {
        units[unit].header.rule = rule.to_owned();
        for reading in &mut units[unit].readings {
            reading.limit = Some(Limit::Upper { level: Dbm::new(limit), below_carrier: None });
            let level = reading.level().unwrap().get();
            reading.margin = Some(Db::new(limit - level).into());
        }
    }
    for order in [[0, 1], [1, 0]] {
        let views: Vec<RunView<'_>> = order.iter().map(|place| units[*place].view()).collect();
        let batch = Batch::of(&views);
        let row = &batch.readings[0];
        assert_eq!((row.limit.as_str(), row.limits_differ), ("-16.02 to -13.00 dBm, by run", true));
        assert_eq!(row.limits, [-16.02, -13.0]);
        assert_eq!(row.least(), "-3.24 dB: U-2, to -16.02 dBm by narrow");
        let note = batch.notes.iter().find(|note| note.contains("different rules")).unwrap();
        assert!(note.contains("narrow (1 run); wide (1 run)") && note.contains("2 of 2 readings"), "{note}");
        let [page, text, table] =
            [batch_html(&batch).unwrap(), crate::batch_markdown(&batch), batch_csv(&batch).unwrap()];
        assert_eq!(
            page.matches("class=\"limit\"").count(),
            2 * 2 * 2,
            "two limits, two rows, wide and narrow"
        );
        for document in [&page, &text] {
            assert!(document.contains("-3.24 dB: U-2, to -16.02 dBm by narrow"), "{document}");
            assert!(document.contains("different rules"), "{document}");
        }
        assert!(
            table.lines().any(|line| line.contains("U-2") && line.contains("-16.02 dBm,narrow")),
            "{table}"
        );
    }
    let same = [units[0].view(), units[0].view()];
    assert!(!Batch::of(&same).readings[0].limits_differ);
}

/// What follows a power differs under one rule too.
#[test]
fn limits_of_one_rule_may_differ() {
    let mut units = units(&[-30.0, -30.0, -30.0]);
    for (unit, limit) in units.iter_mut().zip([-13.1, -13.0, -12.9]) {
        unit.readings[0].limit = Some(Limit::Upper { level: Dbm::new(limit), below_carrier: None });
    }
    let views: Vec<RunView<'_>> = units.iter().map(Bench::view).collect();
    let batch = Batch::of(&views);
    assert_eq!(batch.readings[0].limit, "-13.10 to -12.90 dBm, by run");
    assert!(batch.notes[0].contains("different limits at 1 of 2 readings, by one rule"), "{:?}", batch.notes);
}

#[test]
fn what_is_not_decided_is_told_with_its_figure() {
    let mut units = units(&[-30.0, -30.0, -30.0]);
    for (unit, outcome, why) in [
        (0, Outcome::Undecided, "floor too high"),
        (1, Outcome::Invalid, "overload"),
        (2, Outcome::NoLimit, "no number here"),
    ] {
        units[unit].readings[0].outcome = outcome;
        units[unit].readings[0].reason =
            Some(spurline_record::Reason::new(spurline_record::ReasonCode::FloorTooHigh, why));
    }
    let views: Vec<RunView<'_>> = units.iter().map(Bench::view).collect();
    let batch = Batch::of(&views);
    assert_eq!(
        (&batch.undecided[..], &batch.invalid[..]),
        (&["U-1".to_owned()][..], &["U-2".to_owned()][..])
    );
    let [page, text] = [batch_html(&batch).unwrap(), crate::batch_markdown(&batch)];
    for (heading, line) in [
        ("What is undecided", "U-1: Harmonic 2 at 288 MHz, "),
        ("What is invalid", "U-2: Harmonic 2 at"),
        ("What has no limit", "U-3: Harmonic 2 at"),
    ] {
        assert!(page.contains(heading) && page.contains(line), "{line}\n{page}");
        assert!(text.contains(heading) && text.contains(line), "{line}\n{text}");
    }
    assert!(page.contains("-30.00 dBm, limit -16.00 dBm: floor too high"), "{page}");
    assert!(!page.contains("<p>Nothing exceeds, and nothing"), "{page}");
}

#[test]
fn a_run_that_was_stopped_complies_so_far() {
    let units = units(&[-30.0]);
    let mut view = units[0].view();
    view.state = RunState::Interrupted;
    let batch = Batch::of(&[view]);
    assert_eq!((batch.runs[0].outcome, batch.runs[0].word.as_str()), (None, "complies so far"));
    assert!(batch_html(&batch).unwrap().contains("? complies so far"));
    let document: serde_json::Value = serde_json::from_str(&crate::json(&view).unwrap()).unwrap();
    assert_eq!(
        (&document["outcome"], &document["outcome_so_far"]),
        (&serde_json::Value::Null, &"complies".into())
    );
}
