//! A Touchstone file says the same in each of its three number formats and four units of frequency.

use proptest::prelude::*;
use spurline_path::Touchstone;
use spurline_units::Hertz;

/// A point: hertz to the one before it, loss in dB and phase of the transmission, magnitude and phase of the reflections.
type Point = (u32, f64, f64, f64, f64);

fn points() -> impl Strategy<Value = Vec<Point>> {
    prop::collection::vec((1_u32..100_000_000, 0.1..90.0, -180.0..180.0, 0.001..0.9, -180.0..180.0), 1..12)
}

/// Writes the points with one spelling of a parameter.
fn written(options: &str, hertz: f64, points: &[Point], spell: impl Fn(f64, f64) -> String) -> String {
    let mut at = 0.0;
    let mut text = format!("# {options}\n");
    for (step, loss, phase, reflection, turned) in points {
        at += f64::from(*step);
        let (through, back) = (spell(10_f64.powf(-loss / 20.0), *phase), spell(*reflection, *turned));
        text += &format!("{} {back} {through} {through} {back}\n", at / hertz);
    }
    text
}

proptest! {
    #[test]
    fn formats_say_the_same(points in points()) {
        let decibels = |magnitude: f64, degrees: f64| format!("{} {degrees}", 20.0 * magnitude.log10());
        let magnitude = |magnitude: f64, degrees: f64| format!("{magnitude} {degrees}");
        let cartesian = |magnitude: f64, degrees: f64| {
            let (sin, cos) = degrees.to_radians().sin_cos();
            format!("{} {}", magnitude * cos, magnitude * sin)
        };
        let read = [
            Touchstone::parse(&written("Hz S DB R 50", 1.0, &points, decibels)).unwrap(),
            Touchstone::parse(&written("kHz S MA R 50", 1e3, &points, magnitude)).unwrap(),
            Touchstone::parse(&written("MHz S RI R 50", 1e6, &points, cartesian)).unwrap(),
            Touchstone::parse(&written("GHz S MA R 50", 1e9, &points, magnitude)).unwrap(),
        ];
        let mut at = 0.0;
        for (step, loss, _, reflection, _) in points {
            at += f64::from(step);
            for part in &read {
                let frequency = Hertz::new(at);
                prop_assert!((part.loss_at(frequency).unwrap().get() - loss).abs() < 1e-6);
                prop_assert!((part.input_at(frequency).unwrap().get() - reflection).abs() < 1e-6);
                prop_assert!((part.output_at(frequency).unwrap().get() - reflection).abs() < 1e-6);
            }
        }
    }
}
