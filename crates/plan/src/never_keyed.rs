//! Frequencies of distress and safety: never keyed, not even into a load.

use spurline_units::{Hertz, Range};

/// Centre and half width in hertz: the aeronautical emergency frequencies, the calling and distress channels of the
/// maritime band, and the band of the satellite beacons (ITU Radio Regulations, Appendix 15; from memory).
const NEVER_KEYED: [(f64, f64); 5] =
    [(121.5e6, 25e3), (243.0e6, 25e3), (156.525e6, 25e3), (156.8e6, 25e3), (406.05e6, 50e3)];

/// The range of distress and safety that a carrier would lie in, ends included; `None` if it lies in none.
#[must_use]
pub fn never_keyed(carrier: Hertz) -> Option<Range<Hertz>> {
    let near = NEVER_KEYED.iter().find(|(centre, half)| (carrier.get() - centre).abs() <= *half);
    let (centre, half) = near?;
    Range::new(Hertz::new(centre - half), Hertz::new(centre + half))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The five ranges of ITU Radio Regulations, Appendix 15, with 25 kHz to both sides of a single frequency.
    #[test]
    fn each_range_is_closed_and_no_wider() {
        for (low, high) in [
            (121.475e6, 121.525e6),
            (242.975e6, 243.025e6),
            (156.5e6, 156.55e6),
            (156.775e6, 156.825e6),
            (406.0e6, 406.1e6),
        ] {
            for inside in [low, f64::midpoint(low, high), high] {
                assert!(never_keyed(Hertz::new(inside)).is_some(), "{inside}");
            }
            for outside in [low - 1.0, high + 1.0] {
                assert!(never_keyed(Hertz::new(outside)).is_none(), "{outside}");
            }
        }
    }
}
