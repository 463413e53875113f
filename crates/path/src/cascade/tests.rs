//! Paths as they stand on a bench.

use proptest::prelude::*;

use super::*;
use crate::mismatch::Reflection;
use crate::part::{Loss, Stated};
use crate::table::LossTable;

fn part(name: &str, loss: Loss) -> Part {
    Part {
        name: name.to_owned(),
        loss: Stated::new(loss, format!("loss of {name}")),
        uncertainty: Stated::new(Db::new(0.1), format!("certificate of {name}")),
        rated: None,
        vswr: None,
        calibration: None,
        time_constant: None,
        distorts: None,
    }
}

fn flat(name: &str, loss: f64, over: &str) -> Part {
    part(name, Loss::Flat { loss: Db::new(loss), over: over.parse().unwrap() })
}

fn table(name: &str, points: &[(f64, f64)]) -> Part {
    let points: Vec<_> = points.iter().map(|(mhz, db)| (Hertz::from_mhz(*mhz), Db::new(*db))).collect();
    part(name, Loss::Table(LossTable::new(&points).unwrap()))
}

/// numpy 2.4.6: 30 dB and, by `interp`, 0.3235 dB of cable at 290 MHz.
#[test]
fn losses_add_at_the_frequency_asked_for() {
    let path = Path {
        parts: vec![
            flat("pad", 30.0, "9 kHz..3 GHz"),
            table("cable", &[(100.0, 0.2), (500.0, 0.46), (1000.0, 0.7)]),
        ],
    };
    let loss = path.loss_at(Hertz::from_mhz(290.0)).unwrap();
    assert!((loss.total.get() - 30.323_5).abs() < 1e-9, "{}", loss.total);
    let names: Vec<_> = loss.parts.iter().map(|part| (part.name.as_str(), part.source.as_str())).collect();
    assert_eq!(names, [("pad", "certificate of pad"), ("cable", "certificate of cable")]);
    assert_eq!(loss.parts[0].loss, Db::new(30.0));
    assert_eq!(loss.parts[1].uncertainty, Db::new(0.1));
    assert_eq!(path.covered().unwrap().to_string(), "100 MHz..1 GHz");
}

#[test]
fn the_part_that_says_nothing_is_named() {
    let path = Path {
        parts: vec![flat("pad", 30.0, "9 kHz..3 GHz"), table("cable", &[(100.0, 0.2), (1000.0, 0.7)])],
    };
    for mhz in [50.0, 1200.0] {
        let error = path.loss_at(Hertz::from_mhz(mhz)).unwrap_err();
        assert_eq!(
            error.to_string(),
            format!(
                "the loss of `cable` is not known at {mhz} MHz, only over 100 MHz..1 GHz\n\
                 nothing is extrapolated: measure the part there, or leave the frequency out"
            )
            .replace("1200 MHz", "1.2 GHz")
        );
        assert_eq!(path.power_into_each(Watts::new(1.0), Hertz::from_mhz(mhz)), Err(error.clone()));
        assert_eq!(path.reflection_at(Hertz::from_mhz(mhz)), Err(error));
    }
}

#[test]
fn parts_without_a_common_range_cover_nothing() {
    let path = Path { parts: vec![flat("low", 3.0, "9 kHz..30 MHz"), flat("high", 3.0, "1 GHz..3 GHz")] };
    assert_eq!(path.covered(), None);
    let direct = Path::default();
    assert_eq!(direct.loss_at(Hertz::from_mhz(1.0)).unwrap().total, Db::new(0.0));
    assert!(direct.covered().unwrap().contains(Hertz::from_mhz(40_000.0)));
}

/// P (1 - 10^(-A/10)) by numpy 2.4.6: the first pad takes nearly everything.
#[test]
fn the_first_pad_takes_the_power() {
    let path = Path { parts: vec![flat("pad", 40.0, "9 kHz..3 GHz")] };
    let powers = path.power_into_each(Watts::new(50.0), Hertz::from_mhz(145.0)).unwrap();
    assert!((powers[0].dissipated.get() - 49.995).abs() < 1e-9);

    let mut path =
        Path { parts: vec![flat("first", 10.0, "9 kHz..3 GHz"), flat("second", 20.0, "9 kHz..3 GHz")] };
    path.parts[0].rated = Some(Watts::new(5.0));
    path.parts[1].rated = Some(Watts::new(0.25));
    let powers = path.power_into_each(Watts::new(5.0), Hertz::from_mhz(145.0)).unwrap();
    for (power, (incident, dissipated, overrated)) in
        powers.iter().zip([(5.0, 4.5, false), (0.5, 0.495, true)])
    {
        assert!((power.incident.get() - incident).abs() < 1e-9);
        assert!((power.dissipated.get() - dissipated).abs() < 1e-9);
        assert_eq!(power.is_overrated(), overrated, "{}", power.name);
    }
}

#[test]
fn a_path_shows_the_ends_that_are_known() {
    let stated = Stated::new(Reflection::from_vswr(spurline_units::Vswr::new(1.2).unwrap()), "vswr of pad");
    let mut path =
        Path { parts: vec![flat("pad", 30.0, "9 kHz..3 GHz"), flat("cable", 1.0, "9 kHz..3 GHz")] };
    path.parts[0].vswr = Some(stated.clone());
    let ends = path.reflection_at(Hertz::from_mhz(145.0)).unwrap();
    assert_eq!(ends, Ends { input: Some(stated), output: None });
    assert_eq!(Path::default().reflection_at(Hertz::from_mhz(145.0)), Ok(Ends::default()));
}

proptest! {
    #[test]
    fn parts_without_loss_change_nothing(loss in 0.0..60.0f64, count in 0usize..6, mhz in 1.0..2999.0f64) {
        let mut parts = vec![flat("pad", loss, "9 kHz..3 GHz")];
        parts.extend((0..count).map(|_| flat("through", 0.0, "9 kHz..3 GHz")));
        let path = Path { parts };
        prop_assert_eq!(path.loss_at(Hertz::from_mhz(mhz)).unwrap().total, Db::new(loss));
        let powers = path.power_into_each(Watts::new(5.0), Hertz::from_mhz(mhz)).unwrap();
        prop_assert!(powers[1..].iter().all(|power| power.dissipated.get() < 1e-12));
    }

    /// What all parts take and what comes out is what went in.
    #[test]
    fn power_goes_nowhere_else(losses in prop::collection::vec(0.0..20.0f64, 1..6)) {
        let path = Path { parts: losses.iter().map(|loss| flat("part", *loss, "9 kHz..3 GHz")).collect() };
        let at = Hertz::from_mhz(145.0);
        let taken: Watts = path.power_into_each(Watts::new(50.0), at).unwrap().iter().map(|p| p.dissipated).sum();
        let out = (Watts::new(50.0).to_dbm() - path.loss_at(at).unwrap().total).to_watts();
        prop_assert!((taken.get() + out.get() - 50.0).abs() < 1e-9);
    }

    #[test]
    fn a_path_is_known_where_it_covers(
        ranges in prop::collection::vec((1.0..500.0f64, 1.0..500.0f64), 1..5), mhz in 0.5..1001.0f64
    ) {
        let parts = ranges.iter().map(|(low, width)| table("part", &[(*low, 1.0), (low + width, 2.0)])).collect();
        let path = Path { parts };
        let covered = path.covered().is_some_and(|range| range.contains(Hertz::from_mhz(mhz)));
        prop_assert_eq!(path.loss_at(Hertz::from_mhz(mhz)).is_ok(), covered);
    }
}
