//! What a calibration laboratory would hand over for the parts of a simulated path: true values with an error.

use std::fmt::Write;

use num_complex::Complex64;
use spurline_units::{Db, Hertz};

use crate::bench::SimulatedBench;
use crate::draw::Seed;
use crate::physics::two_port::TwoPort;
use crate::world::{End, Part, Section};

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
const CLOSE_POINTS: u32 = 81;

/// Measures every part of the path, each with a calibration error of its own, up to `highest`.
#[must_use]
pub fn calibrate(bench: &SimulatedBench, highest: Hertz) -> Vec<CalibrationTable> {
    bench
        .path
        .parts()
        .chain(bench.generator.iter().flat_map(|generator| &generator.through))
        .map(|truth| {
            let part = Part::build(bench.seed, truth);
            CalibrationTable {
                name: part.name().to_owned(),
                within: part.calibrated_within(),
                touchstone: touchstone(&part, bench.seed, highest),
            }
        })
        .collect()
}

/// What a section of the path really loses between matched ends, with the parts that are always in it.
#[must_use]
pub fn true_loss(bench: &SimulatedBench, section: Section, frequency: Hertz) -> Db {
    let own = match section.of {
        End::Analyser => &bench.path.analyser,
        End::PowerMeter => &bench.path.power_meter,
    };
    let parts = bench.path.common.iter().chain(own).map(|truth| Part::build(bench.seed, truth));
    let parts = parts.filter(|part| part.contact().is_none());
    let cut = parts.skip(section.from).take(section.to.saturating_sub(section.from));
    let whole = cut.fold(TwoPort::THROUGH, |chain, part| chain.then(&part.in_place(frequency, 0.0)));
    Db::new(-20.0 * whole.s21.norm().log10())
}

fn touchstone(part: &Part, seed: Seed, highest: Hertz) -> String {
    let mut text = format!(
        "! {}: measured at a simulated bench; invented data\n! expanded uncertainty of |S21|, k = 2: {}\n\
         # MHz S DB R 50\n",
        part.name(),
        part.calibrated_within()
    );
    for frequency in frequencies(part.centre(), highest) {
        let two_port = part.at(frequency);
        let gain = (-part.calibration_error(seed, frequency)).amplitude_ratio();
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

/// Where a part is measured: everywhere, and closely around the one frequency that it takes out.
fn frequencies(centre: Option<Hertz>, highest: Hertz) -> Vec<Hertz> {
    let shares = |points: u32| (0..points).map(move |point| f64::from(point) / f64::from(points - 1));
    // Evenly spaced in the logarithm would starve the upper end, evenly in frequency the lower: squares do.
    let wide = shares(POINTS).map(|share| LOWEST + (highest.get() - LOWEST) * share * share);
    let close =
        centre.into_iter().flat_map(|at| shares(CLOSE_POINTS).map(move |s| at.get() * (0.9 + 0.2 * s)));
    let mut all: Vec<f64> = wide.chain(close).collect();
    all.sort_by(f64::total_cmp);
    // A file gives frequencies to the hertz.
    all.dedup_by(|one, other| (*one - *other).abs() < 1.0);
    all.into_iter().map(Hertz::new).collect()
}

/// A perfect match has no level in dB; what no analyser could tell from it stands for it.
const NOTHING: f64 = 1e-5;

fn polar(value: Complex64) -> (f64, f64) {
    (20.0 * value.norm().max(NOTHING).log10(), value.arg().to_degrees())
}
