//! Check values of `docs/src/check-values.md` that belong to this room, as a user of it sees them.

use num_complex::Complex64;
use spurline_path::{LossTable, Mismatch, Reflection, Touchstone, TwoPort};
use spurline_units::{Db, Hertz, Vswr};

#[track_caller]
fn all(rows: &[(&str, f64, f64, f64)]) {
    for (what, found, expected, tolerance) in rows {
        assert!(
            (found - expected).abs() <= *tolerance,
            "{what}: found {found}, expected {expected} +- {tolerance}"
        );
    }
}

/// numpy 2.4.6, `interp`; nothing is known beyond a table.
#[test]
fn tables() {
    let points = [(100.0, 40.2), (200.0, 40.5), (500.0, 41.1), (1000.0, 42.0)];
    let table = LossTable::new(&points.map(|(mhz, db)| (Hertz::from_mhz(mhz), Db::new(db)))).unwrap();
    let at = |mhz: f64| table.at(Hertz::from_mhz(mhz));
    all(&[
        ("435 MHz", at(435.0).unwrap().get(), 40.970, 1e-9),
        ("145 MHz", at(145.0).unwrap().get(), 40.335, 1e-9),
    ]);
    assert_eq!([at(50.0), at(1200.0)], [None; 2]);
}

/// scikit-rf 2.2.0 reads the files; numpy 2.4.6 interpolates. Between points whose phase has turned, a straight line
/// through the complex plane would give 41.667 and 45.194 dB.
#[test]
fn touchstone_files() {
    let text = "# MHz S DB R 50\n\
        100 -20 0 -40.2 -20 -40.2 -20 -20 0\n200 -20 0 -40.5 -55 -40.5 -55 -20 0\n\
        500 -20 0 -41.1 -155 -41.1 -155 -20 0\n1000 -20 0 -42.0 60 -42.0 60 -20 0\n";
    let file = Touchstone::parse(text).unwrap();
    let loss = |file: &Touchstone, mhz: f64| file.loss_at(Hertz::from_mhz(mhz)).unwrap().get();
    let cartesian = Touchstone::parse("# MHz S RI R 50\n100 0 0 0 -0.1 0 -0.1 0 0\n").unwrap();
    let magnitude = Touchstone::parse("# MHz S MA R 50\n100 0 0 0.09 180 0.09 180 0 0\n").unwrap();
    all(&[
        ("290 MHz", loss(&file, 290.0), 40.680, 1e-9),
        ("725 MHz", loss(&file, 725.0), 41.505, 1e-9),
        ("real and imaginary part", loss(&cartesian, 100.0), 20.0, 1e-9),
        ("magnitude and angle", loss(&magnitude, 100.0), 20.915_2, 1e-4),
    ]);
}

/// scikit-rf 2.2.0, `a ** b`; the plain sums would be 30.44553 and 2.02440 dB.
#[test]
fn cascades() {
    let c = Complex64::new;
    let port = |s11, s21, s22| TwoPort { s11, s21, s12: s21, s22 };
    let a = port(c(0.10, 0.0), c(0.001f64.sqrt(), 0.0), c(0.08, 0.0));
    let b = port(c(0.0, 0.05), c(0.95, 0.0), c(0.05, 0.0));
    let pad = port(c(0.2, 0.0), c(0.89, 0.0), c(0.2, 0.0));
    all(&[
        ("unlike parts", a.then(b).loss().unwrap().get(), 30.445_597, 1e-6),
        ("two pads", pad.then(pad).loss().unwrap().get(), 1.669_824, 1e-6),
    ]);
}

/// numpy 2.4.6; standard uncertainties in the form of ETSI TR 100 028. 0.13 dB for 1.2 and 1.4 is the trade's figure, and
/// the sum of the chain is published by an accreditation body.
#[test]
fn mismatch() {
    let vswr = |value| Reflection::from_vswr(Vswr::new(value).unwrap());
    let size = |value| Reflection::new(value).unwrap();
    let first = Mismatch::between(vswr(1.5), vswr(1.2));
    let second = Mismatch::between(vswr(1.2), vswr(1.4));
    let chain: [(f64, f64, f64); 6] = [
        (0.7, 0.099, 1.0),
        (0.099, 0.333, 1.0),
        (0.333, 0.091, 1.0),
        (0.7, 0.333, 0.912),
        (0.099, 0.333, 0.794),
        (0.7, 0.091, 0.724),
    ];
    let squares = chain.map(|(one, other, between)| {
        let loss = Db::new(-20.0 * between.log10());
        Mismatch::between(size(one), size(other)).through(loss).standard().get().powi(2)
    });
    all(&[
        ("1.5 and 1.2, above", first.above().get(), 0.156_51, 1e-5),
        ("1.5 and 1.2, below", first.below().unwrap().get(), -0.159_38, 1e-5),
        ("1.5 and 1.2, u", first.standard().get(), 0.111_80, 1e-5),
        ("1.2 and 1.4, above", second.above().get(), 0.130_6, 1e-4),
        ("1.2 and 1.4, below", second.below().unwrap().get(), -0.132_6, 1e-4),
        ("chain", squares.iter().sum::<f64>().sqrt(), 1.318_0, 1e-3),
        ("10 dB before a short, VSWR", size(1.0).through(Db::new(10.0)).vswr(), 1.222_22, 1e-5),
    ]);
}
