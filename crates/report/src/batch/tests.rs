//! Batches whose answers are known.

use spurline_units::Db;

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
