//! How good an analyser's oscillators are: the frequency that all others come from, and the noise about every line.

use spurline_document::{Fields, Node, Reader};
use spurline_units::{Db, Hertz, Ratio};

use crate::specification::{self, Distribution};

/// How far all frequencies of an instrument may be off together.
#[derive(Clone, Debug, PartialEq)]
pub struct FrequencyReference {
    /// The figure as a share of the frequency, above or equal to zero.
    pub within: Ratio,
    /// Its distribution.
    pub distribution: Distribution,
    /// File and key of the figure.
    pub source: String,
}

/// The most noise that an analyser's own oscillator puts beside every line.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct PhaseNoise {
    /// Offset and density in dB below the line in 1 Hz, in rising order of the offsets.
    points: Vec<(Hertz, f64)>,
}

/// So many points are enough for any data sheet.
const MOST_POINTS: usize = 64;
/// Stretches for each octave of offset when a width is added up.
const STRETCHES: f64 = 64.0;

impl FrequencyReference {
    pub(crate) fn read(reader: &mut Reader, node: &Node) -> Option<Self> {
        let mut fields = reader.fields(node, "the frequency reference")?;
        let within = fields.required(reader, "within");
        let distribution = fields.required(reader, "distribution");
        fields.close(reader);
        let within = within.and_then(|node| {
            let within: Ratio = reader.parse(node, "a share of the frequency")?;
            if within < Ratio::new(0.0) {
                reader.mistake(node.span, format!("expected a figure from 0 ppm up, found {within}"));
                return None;
            }
            Some(within)
        });
        let distribution = distribution.and_then(|node| specification::distribution(reader, node));
        let source = format!("{}: frequency_reference", reader.source().name());
        Some(Self { within: within?, distribution: distribution?, source })
    }
}

impl PhaseNoise {
    pub(crate) fn read(reader: &mut Reader, node: &Node) -> Option<Self> {
        let items = reader.list(node, "the phase noise")?;
        if items.is_empty() || items.len() > MOST_POINTS {
            reader
                .mistake(node.span, format!("expected 1 to {MOST_POINTS} points, found {}", items.len()))
                .hint("write a point as `[ 10 kHz, -110 dBc/Hz ]`");
            return None;
        }
        let read: Vec<_> = items.iter().map(|item| point(reader, item)).collect();
        let points: Vec<(Hertz, f64)> = read.into_iter().collect::<Option<_>>()?;
        if let Some(pair) = points.windows(2).find(|pair| pair[1].0 <= pair[0].0) {
            let (before, after) = (pair[0].0, pair[1].0);
            reader
                .mistake(node.span, format!("expected an offset above {before}, found {after}"))
                .hint("write the points in rising order of their offsets");
            return None;
        }
        Some(Self { points })
    }

    /// The density at an offset, in dB below the line in 1 Hz: straight between the points over the logarithm of the
    /// offset, level beyond the last. `None` nearer than the first, where nobody says how much there is.
    #[must_use]
    pub fn density(&self, offset: Hertz) -> Option<f64> {
        let offset = offset.get().abs();
        let after = self.points.partition_point(|(at, _)| at.get() <= offset);
        let (from, low) = self.points.get(after.checked_sub(1)?)?;
        let Some((to, high)) = self.points.get(after) else { return Some(*low) };
        let share = (offset / from.get()).ln() / (to.get() / from.get()).ln();
        Some(low + (high - low) * share)
    }

    /// The noise from one offset to another on the same side of a line, over that line; `None` where nobody says how much
    /// there is.
    #[must_use]
    pub fn within(&self, from: Hertz, to: Hertz) -> Option<Db> {
        let (low, high) = (from.get().abs().min(to.get().abs()), from.get().abs().max(to.get().abs()));
        self.density(Hertz::new(low))?;
        if high <= low {
            return None;
        }
        let count = ((high / low).log2() * STRETCHES).ceil().max(1.0);
        let edge = |n: f64| low * (high / low).powf(n / count);
        let share: f64 = (0..count as u32)
            .filter_map(|n| {
                let (one, other) = (edge(f64::from(n)), edge(f64::from(n) + 1.0));
                let density = self.density(Hertz::new((one * other).sqrt()))?;
                Some(10f64.powf(density / 10.0) * (other - one))
            })
            .sum();
        Some(Db::new(10.0 * share.log10()))
    }
}

/// Reads what is under `frequency_reference` and `phase_noise`; both may be left out.
pub(crate) fn read_both(
    reader: &mut Reader,
    fields: &mut Fields<'_>,
) -> Option<(Option<FrequencyReference>, Option<PhaseNoise>)> {
    let reference = fields.maybe(reader, "frequency_reference", FrequencyReference::read);
    let noise = fields.maybe(reader, "phase_noise", PhaseNoise::read);
    Some((reference?, noise?))
}

fn point(reader: &mut Reader, node: &Node) -> Option<(Hertz, f64)> {
    let [offset, density] = reader.list(node, "an offset and a density")? else {
        reader
            .mistake(node.span, "expected an offset and a density")
            .hint("write it as `[ 10 kHz, -110 dBc/Hz ]`");
        return None;
    };
    let at: Hertz = reader.parse(offset, "an offset")?;
    if at.get() <= 0.0 {
        reader.mistake(offset.span, format!("expected an offset above 0 Hz, found {at}"));
        return None;
    }
    let text = reader.text(density, "a density in dBc/Hz")?;
    let ratio = text.strip_suffix("dBc/Hz").and_then(|number| format!("{number}dB").parse::<Db>().ok());
    if ratio.is_none() {
        reader
            .mistake(density.span, format!("expected a density in dBc/Hz, found `{text}`"))
            .hint("write it as `-110 dBc/Hz`");
    }
    Some((at, ratio?.get()))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn noise(points: &[(f64, f64)]) -> PhaseNoise {
        PhaseNoise { points: points.iter().map(|(at, density)| (Hertz::new(*at), *density)).collect() }
    }

    /// numpy 2.4.6, `interp` over `log10` of the offset.
    #[test]
    fn between_points_it_is_straight_over_the_logarithm() {
        let noise = noise(&[(1e3, -90.0), (10e3, -110.0), (1e6, -140.0)]);
        for (offset, density) in [(1e3, -90.0), (-3e3, -99.542_4), (50e3, -120.484_6), (1e7, -140.0)] {
            assert!((noise.density(Hertz::new(offset)).unwrap() - density).abs() < 1e-4, "{offset}");
        }
        assert_eq!(noise.density(Hertz::new(999.0)), None);
    }

    /// -110 dBc/Hz everywhere in 8.5 kHz is -110 + 10 log10(8500) = -70.7058 dB (numpy 2.4.6); a density that falls by
    /// 20 dB a decade from -90 dBc/Hz at 1 kHz holds 10^-9 (10^6) (1/8250 - 1/16750) between 8.25 and 16.75 kHz, -72.1105 dB.
    #[test]
    fn a_width_is_added_up() {
        let found = noise(&[(1e3, -110.0)]).within(Hertz::new(8250.0), Hertz::new(16750.0)).unwrap();
        assert!((found.get() - -70.705_8).abs() < 1e-3, "{found}");
        let falls = noise(&[(1e3, -90.0), (100e3, -130.0)]);
        let found = falls.within(Hertz::new(-16750.0), Hertz::new(-8250.0)).unwrap();
        assert!((found.get() - -72.110_5).abs() < 1e-3, "{found}");
        assert_eq!(falls.within(Hertz::new(500.0), Hertz::new(1500.0)), None);
    }
}
