//! Check values of `docs/src/check-values.md` that belong to this room, as a user of it sees them.

use spurline_units::{Dbm, Hertz, Ohms, Watts};

#[track_caller]
fn all(rows: &[(&str, f64, f64, f64)]) {
    for (what, found, expected, tolerance) in rows {
        assert!(
            (found - expected).abs() <= *tolerance,
            "{what}: found {found}, expected {expected} +- {tolerance}"
        );
    }
}

/// numpy 2.4.6; 5 W as 37 dBm and -107 dBm as 1 uV in 50 ohm are known to everyone in the trade.
#[test]
fn levels() {
    let dbm = |text: &str| text.parse::<Watts>().unwrap().to_dbm().get();
    let sum = |levels: [f64; 2]| levels.map(|level| Dbm::new(level).to_watts()).into_iter().sum::<Watts>();
    let microvolts = Dbm::new(-107.0).to_watts().volts_across(Ohms::new(50.0)).get() * 1e6;
    all(&[
        ("25 uW", dbm("25 uW"), -16.020_6, 1e-4),
        ("10 uW", dbm("10 uW"), -20.0, 1e-4),
        ("0.25 uW", dbm("0.25 uW"), -36.020_6, 1e-4),
        ("1 nW", dbm("1 nW"), -60.0, 1e-4),
        ("5 W", dbm("5 W"), 36.989_7, 1e-4),
        ("50 W", dbm("50 W"), 46.989_7, 1e-4),
        ("mean of -60 and -50 dBm", (sum([-60.0, -50.0]) / 2.0).to_dbm().get(), -52.596_4, 1e-4),
        ("-40 and -43 dBm", sum([-40.0, -43.0]).to_dbm().get(), -38.235_7, 1e-4),
        ("-107 dBm in 50 ohm", microvolts, 0.998_81, 1e-5),
        ("twice that, without a load", 2.0 * microvolts, 1.997_63, 1e-5),
    ]);
}

/// 47 CFR 2.1057 asks for harmonics up to the tenth.
#[test]
fn harmonics() {
    let found: Vec<f64> = (1..=10).map(|order| Hertz::from_mhz(145.0).harmonic(order).get() / 1e6).collect();
    assert_eq!(found, [145.0, 290.0, 435.0, 580.0, 725.0, 870.0, 1015.0, 1160.0, 1305.0, 1450.0]);
}
