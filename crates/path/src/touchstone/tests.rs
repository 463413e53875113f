//! Files that are read, and files that are refused.

use proptest::prelude::*;

use super::*;

/// The table 40.2, 40.5, 41.1, 42.0 dB at 100, 200, 500, 1000 MHz, with phases that turn by 20 to 100 degrees
/// between points.
const PAD: &str = "\
! a pad with its cables
# MHz S DB R 50
100  -20 10  -40.2  -20  -40.2  -20  -26 -40
200  -20 10  -40.5  -40  -40.5  -40  -26 -40  ! a comment
500  -20 10  -41.1 -100  -41.1 -100  -26 -40
1000 -20 10  -42.0 -200  -42.0 -200  -26 -40
";

fn loss(text: &str, mhz: f64) -> f64 {
    Touchstone::parse(text).unwrap().loss_at(Hertz::from_mhz(mhz)).unwrap().get()
}

fn close(found: f64, expected: f64, tolerance: f64) {
    assert!((found - expected).abs() < tolerance, "found {found}, expected {expected}");
}

/// numpy 2.4.6 `interp` of the dB values; the second column is what scikit-rf 2.2.0 makes of the same file by
/// interpolating complex numbers, up to 3.7 dB of loss that is not there.
#[test]
fn interpolates_in_db_and_not_in_the_complex_plane() {
    for (mhz, in_db, cartesian) in
        [(145.0, 40.335, 40.465), (290.0, 40.680, 41.667), (435.0, 40.970, 41.809), (725.0, 41.505, 45.194)]
    {
        close(loss(PAD, mhz), in_db, 1e-9);
        assert!((loss(PAD, mhz) - cartesian).abs() > 0.1, "{mhz} MHz");
    }
}

#[test]
fn says_nothing_beyond_its_points() {
    let pad = Touchstone::parse(PAD).unwrap();
    for mhz in [50.0, 99.9, 1000.1, 1200.0] {
        let at = Hertz::from_mhz(mhz);
        assert_eq!((pad.loss_at(at), pad.input_at(at), pad.output_at(at)), (None, None, None));
    }
    assert_eq!(pad.covered().to_string(), "100 MHz..1 GHz");
    assert_eq!(pad.points().len(), 4);
}

/// scikit-rf 2.2.0: 20 log10|S21| of the same rows.
#[test]
fn number_formats() {
    close(loss("# GHz S RI R 50\n1 0 0 0.0 -0.1 0.0 -0.1 0 0\n", 1000.0), 20.0, 1e-9);
    close(loss("# GHz S MA R 50\n1 0 0 0.09 180 0.09 180 0 0\n", 1000.0), 20.915_149_811_213_503, 1e-9);
}

/// Touchstone 1.1: without an option line GHz, S, MA and 50 ohm hold; words stand in any order and case; the
/// parameters stand as S11 S21 S12 S22; a point may run over several lines; later option lines are ignored.
#[test]
fn what_the_format_leaves_open() {
    close(loss("1 0.1 0 0.5 0 0.5 0 0.2 0", 1000.0), 6.020_6, 1e-4);
    close(loss("#\n1 0.1 0 0.5 0 0.5 0 0.2 0", 1000.0), 6.020_6, 1e-4);
    close(
        loss("# r 50 ri khz s\n1000 0 0 0.5 0 0.5 0 0 0\n# GHz S DB R 50\n2000 0 0 .5 0 .5 0 0 0", 1.5),
        6.020_6,
        1e-4,
    );
    close(
        loss("\u{feff}# Hz S MA R 50.0\r\n1e9 0.1 0\r\n  0.5 0 0.5 0 ! S21 S12\r\n 0.2 0\r\n", 1000.0),
        6.020_6,
        1e-4,
    );

    let part =
        Touchstone::parse("# MHz S MA R 50\n100 0.1 0 0.5 0 0.49 0 0.3 0\n200 0.2 9 0.5 0 0.5 0 0.3 0")
            .unwrap();
    close(part.loss_at(Hertz::from_mhz(100.0)).unwrap().get(), 6.020_6, 1e-4);
    close(part.input_at(Hertz::from_mhz(150.0)).unwrap().get(), 0.15, 1e-12);
    close(part.output_at(Hertz::from_mhz(150.0)).unwrap().get(), 0.3, 1e-12);
}

#[test]
fn mistakes_have_a_line_and_advice() {
    for (text, message) in [
        ("! nothing\n", "no points in the file"),
        ("[Version] 2.0\n", "line 1: `[…]` keywords belong to version 2 of the format"),
        ("# MHz S DP R 50\n", "line 1: `DP` is not an option"),
        ("\n# MHz Z DB R 50\n", "line 2: expected S parameters, found `Z` parameters"),
        ("# MHz S DB R 75\n", "line 1: expected a reference of 50 ohm, found `75`"),
        ("# MHz S DB R\n", "line 1: expected a reference of 50 ohm, found ``"),
        ("1 0 0 .5 0 .5 0 0 0\n# GHz S MA R 50\n", "line 2: the option line stands behind data"),
        ("1 0 0 -40.2, 0 .5 0 0 0\n", "line 1: expected a finite number, found `-40.2,`"),
        ("1 0 0 nan 0 .5 0 0 0\n", "line 1: expected a finite number, found `nan`"),
        ("1 0.1 0\n2 0.1 0\n3 0.1 0\n", "line 1: expected the 9 values of a two-port point, found 3"),
        ("1 0 0 .5 0 .5 0 0 0\n0 0\n", "line 2: expected the 9 values of a two-port point, found 2"),
        ("1 0 0 .5 0 .5 0 0 0 1 1\n", "line 1: expected the 9 values of a two-port point, found 11"),
        ("-1 0 0 .5 0 .5 0 0 0\n", "line 1: expected a frequency of 0 Hz or more, found -1000000000 Hz"),
        ("2 0 0 .5 0 .5 0 0 0\n2 0 0 .5 0 .5 0 0 0\n", "line 2: 2 GHz stands behind 2 GHz"),
        ("# GHz S DB R 50\n1 0 0 9e9 0 9e9 0 0 0\n", "line 2: a parameter is too large to be one"),
        ("1 0 0 0 0 .5 0 0 0\n", "line 1: nothing passes at 1 GHz"),
        ("1 0 0 1.02 0 1.02 0 0 0\n", "line 1: expected a loss, found a gain of 0.17 dB at 1 GHz"),
        (
            "1 0 0 .5 0 .48 0 0 0\n",
            "line 1: expected one loss in both directions, found 6.02 dB forwards and 6.38 dB backwards at 1 GHz",
        ),
        ("1 1.2 0 .5 0 .5 0 0 0\n", "line 1: expected reflections of at most 1, found 1.200 at 1 GHz"),
    ] {
        let error = Touchstone::parse(text).unwrap_err().to_string();
        let (found, advice) = error.split_once('\n').unwrap();
        assert_eq!(found, message, "{text:?}");
        assert!(!advice.is_empty());
    }
}

/// Calibration leaves a part without loss a little to either side of none.
#[test]
fn a_trace_of_gain_is_an_error_of_calibration() {
    close(loss("# GHz S DB R 50\n1 -40 0 0.05 0 0.05 0 -40 0\n", 1000.0), -0.05, 1e-9);
}

proptest! {
    #[test]
    fn parsing_never_panics(text in "[-#!\\[0-9.eEnafiGHMzSDBRI \n]{0,120}") {
        drop(Touchstone::parse(&text));
    }

    #[test]
    fn parsing_anything_never_panics(text in "\\PC{0,60}") {
        drop(Touchstone::parse(&text));
    }

    #[test]
    fn what_is_written_is_read(
        steps in prop::collection::vec((1u32..500, 0.0..90.0f64, -180.0..180.0f64), 1..20), broken in any::<bool>()
    ) {
        let (mut mhz, mut text, mut rows) = (0, "# MHz S DB R 50\n".to_owned(), Vec::new());
        for (step, loss, phase) in steps {
            mhz += step;
            rows.push((f64::from(mhz), loss));
            let gap = if broken { "\n " } else { " " };
            text += &format!("{mhz} -30 0{gap}{} {phase}{gap}{} {phase} -30 0\n", -loss, -loss);
        }
        let part = Touchstone::parse(&text).unwrap();
        for (mhz, loss) in rows {
            prop_assert!((part.loss_at(Hertz::from_mhz(mhz)).unwrap().get() - loss).abs() < 1e-9);
        }
    }
}
