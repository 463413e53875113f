//! What a calibration laboratory would hand over for the parts of a simulated path: true values with an error.

use std::fmt::Write;

use num_complex::Complex64;
use spurline_units::{Db, Hertz};

use crate::bench::SimulatedBench;
use crate::world::Part;

/// The calibration of one part.
#[derive(Clone, Debug, PartialEq)]
pub struct CalibrationTable {
    /// The part's name.
    pub name: String,
    /// The uncertainty that the laboratory states, expanded for k = 2.
    pub within: Db,
    /// A Touchstone file of version 1.
    pub touchstone: String,
}

const LOWEST: f64 = 1e6;
const POINTS: u32 = 121;

/// Measures every part of the path, each with a calibration error of its own, up to `highest`.
#[must_use]
pub fn calibrate(bench: &SimulatedBench, highest: Hertz) -> Vec<CalibrationTable> {
    bench
        .path
        .parts()
        .map(|truth| {
            let part = Part::build(bench.seed, truth);
            let error = part.calibration_error(bench.seed);
            CalibrationTable {
                name: part.name().to_owned(),
                within: part.calibrated_within(),
                touchstone: touchstone(&part, error, highest),
            }
        })
        .collect()
}

fn touchstone(part: &Part, error: Db, highest: Hertz) -> String {
    let mut text = format!(
        "! {}: measured at a simulated bench; invented data\n! expanded uncertainty of |S21|, k = 2: {}\n\
         # MHz S DB R 50\n",
        part.name(),
        part.calibrated_within()
    );
    for point in 0..POINTS {
        // Evenly spaced in the logarithm would starve the upper end, evenly in frequency the lower: squares do.
        let share = f64::from(point) / f64::from(POINTS - 1);
        let frequency = Hertz::new(LOWEST + (highest.get() - LOWEST) * share * share);
        let two_port = part.at(frequency);
        let gain = (-error).amplitude_ratio();
        let columns = [two_port.s11, two_port.s21 * gain, two_port.s12 * gain, two_port.s22];
        text.push_str(&format!("{:.6}", frequency.mhz()));
        for value in columns {
            let (decibels, degrees) = polar(value);
            // Writing to a string cannot fail.
            write!(text, " {decibels:.4} {degrees:.2}").expect("a string takes everything");
        }
        text.push('\n');
    }
    text
}

/// A perfect match has no level in dB; what no analyser could tell from it stands for it.
const NOTHING: f64 = 1e-5;

fn polar(value: Complex64) -> (f64, f64) {
    (20.0 * value.norm().max(NOTHING).log10(), value.arg().to_degrees())
}
