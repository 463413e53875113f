//! The lines that a modulated carrier consists of, relative to the carrier without modulation.
//!
//! A tone in frequency makes lines by the Bessel functions of its index, a tone in voltage one line on either side;
//! several tones at once make the sums of all offsets. A harmonic swings as many times as far in frequency as its
//! order. In voltage it goes with the same depth: the stage's whole pulse scales with what feeds it.

use super::microphone::Voice;
use crate::bench::{Depth, Swing, UnitTruth};

/// One line.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Side {
    /// From the carrier, in hertz.
    pub(crate) offset: f64,
    /// Its power, as a share of the carrier's without modulation.
    pub(crate) share: f64,
}

/// A line by its voltage, of either sign.
#[derive(Clone, Copy, Debug)]
struct Voltage {
    offset: f64,
    amplitude: f64,
}

/// Lines more than 60 dB below the bare carrier are left out.
const LEAST_SHARE: f64 = 1e-6;
/// If no more than this share of the power goes with them.
const LOSABLE: f64 = 1e-3;
/// While lines are still to be multiplied, more is kept.
const LEAST_AMPLITUDE: f64 = 1e-5;
/// More lines than this become as many groups of equal width.
const MOST_LINES: usize = 1024;
/// More products than this are not worked out: both factors are grouped before.
const MOST_PRODUCTS: usize = 1 << 18;
/// Lines as near as this, in hertz, are one.
const SAME: f64 = 1e-3;

/// The lines of a unit's emission at `scale` times its carrier's frequency, with what is spoken into its microphone, in
/// the order of their offsets.
pub(super) fn sides(truth: &UnitTruth, voice: Option<Voice>, scale: f64) -> Vec<Side> {
    let mut lines = vec![Voltage { offset: 0.0, amplitude: 1.0 }];
    for swing in [truth.modulation.fm, truth.sub_audible, voice.and_then(Voice::swing)].into_iter().flatten()
    {
        lines = product(lines, swinging(swing, scale));
    }
    for depth in
        [truth.modulation.am, truth.modulation.hum, voice.and_then(Voice::depth)].into_iter().flatten()
    {
        lines = product(lines, rising_and_falling(depth));
    }
    let power = |lines: &[Voltage]| lines.iter().map(|line| line.amplitude * line.amplitude).sum::<f64>();
    let is_strong = |line: &Voltage| line.amplitude * line.amplitude >= LEAST_SHARE;
    let strong: Vec<Voltage> = lines.iter().copied().filter(is_strong).collect();
    // Where all power is in weak lines, they stay.
    if power(&strong) > (1.0 - LOSABLE) * power(&lines) {
        lines = strong;
    }
    let side = |line: Voltage| Side { offset: line.offset, share: line.amplitude * line.amplitude };
    grouped(lines, MOST_LINES).into_iter().map(side).collect()
}

/// exp(j m sin wt) is the sum of J_n(m) exp(j n wt) over all n, and J_-n is (-1)^n J_n.
fn swinging(swing: Swing, scale: f64) -> Vec<Voltage> {
    let (index, tone) = (swing.index() * scale, swing.tone.get());
    let mut lines = vec![Voltage { offset: 0.0, amplitude: libm::jn(0, index) }];
    for n in 1.. {
        let amplitude = libm::jn(n, index);
        // Beyond the index they only fall.
        if f64::from(n) > index && amplitude.abs() < LEAST_AMPLITUDE {
            break;
        }
        let offset = f64::from(n) * tone;
        lines.push(Voltage { offset, amplitude });
        lines.push(Voltage { offset: -offset, amplitude: if n % 2 == 0 { amplitude } else { -amplitude } });
    }
    lines
}

/// 1 + m cos wt.
fn rising_and_falling(depth: Depth) -> Vec<Voltage> {
    let tone = depth.tone.get();
    [(-tone, depth.depth / 2.0), (0.0, 1.0), (tone, depth.depth / 2.0)]
        .map(|(offset, amplitude)| Voltage { offset, amplitude })
        .into()
}

/// Both at once: every line of the one at every line of the other.
fn product(mut ones: Vec<Voltage>, mut others: Vec<Voltage>) -> Vec<Voltage> {
    if ones.len() * others.len() > MOST_PRODUCTS {
        let most = MOST_PRODUCTS.isqrt();
        (ones, others) = (grouped(ones, most), grouped(others, most));
    }
    let pairs = ones.iter().flat_map(|one| {
        others.iter().map(|other| Voltage {
            offset: one.offset + other.offset,
            amplitude: one.amplitude * other.amplitude,
        })
    });
    let mut all: Vec<Voltage> = pairs.filter(|line| line.amplitude.abs() >= LEAST_AMPLITUDE).collect();
    all.sort_by(|one, other| one.offset.total_cmp(&other.offset));
    let mut merged: Vec<Voltage> = Vec::with_capacity(all.len());
    for line in all {
        match merged.last_mut() {
            Some(last) if line.offset - last.offset < SAME => last.amplitude += line.amplitude,
            _ => merged.push(line),
        }
    }
    merged
}

/// The same power in at most so many lines.
fn grouped(lines: Vec<Voltage>, most: usize) -> Vec<Voltage> {
    let ends = || lines.iter().map(|line| line.offset);
    let (low, high) = (ends().fold(f64::MAX, f64::min), ends().fold(f64::MIN, f64::max));
    if lines.len() <= most || high <= low {
        return lines;
    }
    let mut groups = vec![(0.0, 0.0); most];
    for line in &lines {
        let place = (line.offset - low) / (high - low) * most as f64;
        let (power, moment) = &mut groups[(place as usize).min(most - 1)];
        *power += line.amplitude * line.amplitude;
        *moment += line.amplitude * line.amplitude * line.offset;
    }
    let group = |(power, moment): (f64, f64)| Voltage { offset: moment / power, amplitude: power.sqrt() };
    groups.into_iter().filter(|(power, _)| *power > 0.0).map(group).collect()
}

#[cfg(test)]
mod tests;
