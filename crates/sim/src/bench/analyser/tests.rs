//! Reading an analyser on which everything is stated, and slips.

use super::*;
use crate::bench::Stated;
use crate::bench::tests::read;

/// An analyser with everything on it.
const STATED: &str = include_str!("../../../tests/analyser.yaml");

#[test]
fn everything_reads() {
    let truth = read(STATED).unwrap().analyser.unwrap();
    assert_eq!((truth.filter, truth.phase_noise.len()), (Shape::FourPole, 3));
    assert_eq!(truth.phase_noise[1], NoiseDensity { offset: Hertz::new(10e3), density: -110.0 });
    let ahead = truth.ahead.unwrap();
    assert_eq!((ahead.second_intercept, ahead.third_intercept), (Some(Dbm::new(90.0)), Some(Dbm::new(60.0))));
    assert!((ahead.phase.unwrap() - 25f64.to_radians()).abs() < 1e-12);
    assert_eq!(truth.residuals[1].level, Dbm::new(-98.0));
    assert_eq!(truth.image.unwrap().rejection, Db::new(75.0));
    assert!(
        matches!(truth.errors.response, ResponseTruth::Stated(of) if of == stated("0.5 dB", "rectangular"))
    );
    assert_eq!(truth.errors.level, stated("0.4 dB", "normal"));
    assert_eq!((truth.drift, truth.display_step), (Db::new(-0.1), Db::new(0.05)));
}

#[test]
fn what_is_not_said_is_as_before() {
    let bare = STATED.lines().take_while(|line| !line.contains("analyser:")).collect::<Vec<_>>().join("\n");
    let truth = read(&format!("{bare}\n  analyser: {{}}\n")).unwrap().analyser.unwrap();
    assert_eq!(truth.errors.level, Stated::normal(Db::new(0.3)));
    assert_eq!(truth.errors.attenuator, Stated::normal(Db::new(0.1)));
    assert!(matches!(truth.errors.response, ResponseTruth::Spread(spread) if spread == Db::new(0.3)));
    assert!(truth.ahead.is_none() && truth.errors.fidelity.is_none() && truth.phase_noise.is_empty());
}

#[test]
fn slips_are_told() {
    for (from, to, told) in [
        (
            "    drift:",
            "    level_spread: 0.3 dB\n    drift:",
            "expected `level_spread` or the same among the `errors`, found both",
        ),
        ("-110 dBc/Hz", "-110 dB", "expected a density in dBc/Hz, found `-110 dB`"),
        ("[ 10 kHz, -110 dBc/Hz ]", "[ 10 kHz ]", "expected an offset and a density"),
        ("[ 10 kHz,", "[ 1 kHz,", "expected an offset above 1 kHz, found 1 kHz"),
        ("filter: four-pole", "filter: four-poles", "did you mean `four-pole`?"),
        ("offset: 42.8 MHz", "offset: 0 Hz", "expected more than 0 Hz, found 0 Hz"),
        ("display_step: 0.05 dB", "display_step: 0.001 dB", "expected at least 0.01 dB, found"),
        ("scale_fidelity:", "scale_fidelty:", "is not a key of the errors of an analyser"),
        ("level: -98 dBm", "power: -98 dBm", "`power` is not a key of a residual"),
    ] {
        assert!(STATED.contains(from), "{from}");
        let mistakes = read(&STATED.replace(from, to)).unwrap_err();
        assert!(mistakes.contains(told), "{to}: {mistakes}");
    }
}
