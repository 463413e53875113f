//! The modulation index of a single tone, by least squares over the lines of its spectrum.

use super::{bessel, slope};

/// A line of a carrier that a tone modulates in frequency, both sides taken together.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ModulatedLine {
    /// How many tones it lies from the carrier; 0 for the carrier.
    pub order: u32,
    /// Its voltage; where it was not clear of the noise, what it can be at most counts as uncertain.
    pub voltage: f64,
    /// The standard uncertainty of that, above zero.
    pub standard: f64,
}

/// What the lines say.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ToneFit {
    /// The modulation index: peak phase in radians, deviation over tone.
    pub index: f64,
    /// Its standard uncertainty, from those of the lines.
    pub standard: f64,
    /// The voltage of the carrier without modulation.
    pub carrier: f64,
    /// The root mean square of what is left at the lines, each over its uncertainty: about 1 or less if they are those
    /// of one tone, far more if they are not.
    pub misfit: f64,
}

/// Steps of the search: lines change by no more than half of this from one to the next.
const STEP: f64 = 0.005;
/// An index that leaves no more than this beyond the best one, in squares of uncertainties, is not told from it.
const AS_GOOD: f64 = 9.0;
/// How far beyond the highest order that was looked at an index is still searched.
const BEYOND: f64 = 1.0;

/// Fits carrier and index of a single tone to its lines; `None` for fewer than three, or if none has a voltage.
#[must_use]
pub fn tone_index(lines: &[ModulatedLine]) -> Option<ToneFit> {
    let highest = lines.iter().map(|line| line.order).max()?;
    if lines.len() < 3 || lines.iter().all(|line| line.voltage <= 0.0) {
        return None;
    }
    let misfit = |index: f64| left(lines, index);
    let valleys = valleys(misfit, f64::from(highest) + BEYOND);
    let (index, least) = valleys.iter().copied().min_by(|one, other| one.1.total_cmp(&other.1))?;
    let carrier = carrier(lines, index);
    // A line near its null stands as high on either side of it: which side it is, the others must tell.
    let as_good = valleys.iter().filter(|(_, left)| *left <= least + AS_GOOD);
    let apart = as_good.map(|(other, _)| (other - index).abs()).fold(0.0, f64::max);
    let freedom = (lines.len() - 2) as f64;
    Some(ToneFit {
        index,
        standard: standard(lines, index, carrier)?.max(apart),
        carrier,
        misfit: (least / freedom).sqrt(),
    })
}

/// Where a function has its lowest places between zero and `most`, and its values there.
fn valleys(of: impl Fn(f64) -> f64, most: f64) -> Vec<(f64, f64)> {
    let values: Vec<f64> = (0..=(most / STEP) as u32).map(|step| of(f64::from(step) * STEP)).collect();
    let at = |place: usize| values.get(place).copied().unwrap_or(f64::INFINITY);
    let is_valley = |place: usize| at(place) <= at(place + 1) && (place == 0 || at(place) <= at(place - 1));
    let refined = |place: usize| {
        let index = place as f64 * STEP;
        let index = lowest(&of, (index - STEP).max(0.0), index + STEP);
        (index, of(index))
    };
    (0..values.len()).filter(|place| is_valley(*place)).map(refined).collect()
}

/// The carrier that suits an index best.
fn carrier(lines: &[ModulatedLine], index: f64) -> f64 {
    let (mut of_lines, mut of_model) = (0.0, 0.0);
    for line in lines {
        let (share, weight) = (bessel(line.order, index).abs(), line.standard.powi(-2));
        of_lines += weight * share * line.voltage;
        of_model += weight * share * share;
    }
    of_lines / of_model
}

/// The weighted sum of squares that is left with it.
fn left(lines: &[ModulatedLine], index: f64) -> f64 {
    let carrier = carrier(lines, index);
    let part = |line: &ModulatedLine| {
        ((line.voltage - carrier * bessel(line.order, index).abs()) / line.standard).powi(2)
    };
    lines.iter().map(part).sum()
}

/// From the inverse of the normal equations in carrier and index.
fn standard(lines: &[ModulatedLine], index: f64, carrier: f64) -> Option<f64> {
    let (mut carriers, mut both, mut indices) = (0.0, 0.0, 0.0);
    for line in lines {
        let weight = line.standard.powi(-2);
        let value = bessel(line.order, index);
        let by_index = carrier * slope(line.order, index) * value.signum();
        carriers += weight * value * value;
        both += weight * value.abs() * by_index;
        indices += weight * by_index * by_index;
    }
    let determinant = carriers * indices - both * both;
    (determinant > 0.0).then(|| (carriers / determinant).sqrt())
}

/// The lowest place of a function with one valley, by golden section.
fn lowest(of: impl Fn(f64) -> f64, mut low: f64, mut high: f64) -> f64 {
    const GOLDEN: f64 = 0.618_033_988_749_895;
    for _ in 0..60 {
        let (one, other) = (high - GOLDEN * (high - low), low + GOLDEN * (high - low));
        if of(one) < of(other) { high = other } else { low = one }
    }
    0.5 * (low + high)
}
