//! Sweeps as bytes: every bit of every point comes back.

use pco::ChunkConfig;
use pco::standalone::{simple_compress, simple_decompress_into};

use crate::error::Damage;

/// How the points of a sweep are coded; the number is kept beside the data.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Codec {
    /// Four bytes a point, little endian.
    Raw = 0,
    /// The lossless number coder of the crate `pco`.
    Pco = 1,
    /// Nothing is left of it but its hash.
    Pruned = 2,
}

impl Codec {
    /// The codec of that number.
    pub(crate) fn from_number(number: i64) -> Result<Self, Damage> {
        [Self::Raw, Self::Pco, Self::Pruned]
            .into_iter()
            .find(|codec| *codec as i64 == number)
            .ok_or(Damage::UnknownCodec(number))
    }
}

/// Codes the points. What the coder made is decoded again at once: where a single bit differs, or nothing is
/// saved, the points are kept as they are.
pub(crate) fn encode(points: &[f32]) -> (Codec, Vec<u8>) {
    match simple_compress(points, &ChunkConfig::default()) {
        Ok(coded)
            if coded.len() < 4 * points.len()
                && decode(Codec::Pco, points.len(), &coded).is_ok_and(|back| same_bits(&back, points)) =>
        {
            (Codec::Pco, coded)
        }
        Ok(_) | Err(_) => (Codec::Raw, points.iter().flat_map(|p| p.to_le_bytes()).collect()),
    }
}

/// No analyser has so many points by far; what a row claims beyond is not believed.
const MOST_POINTS: usize = 1 << 24;

/// Decodes exactly `points` points; of a pruned sweep there are none.
pub(crate) fn decode(codec: Codec, points: usize, data: &[u8]) -> Result<Vec<f32>, Damage> {
    if points > MOST_POINTS {
        return Err(Damage::Points { expected: MOST_POINTS, found: points });
    }
    match codec {
        Codec::Pruned if data.is_empty() => Ok(Vec::new()),
        Codec::Pruned => Err(Damage::Points { expected: 0, found: data.len() / 4 }),
        Codec::Raw => {
            let (chunks, rest) = data.as_chunks::<4>();
            if chunks.len() != points || !rest.is_empty() {
                return Err(Damage::Points { expected: points, found: data.len() / 4 });
            }
            Ok(chunks.iter().map(|bytes| f32::from_le_bytes(*bytes)).collect())
        }
        Codec::Pco => {
            let mut levels = vec![0.0; points];
            let progress = simple_decompress_into(data, &mut levels)
                .map_err(|error| Damage::Undecodable(error.to_string()))?;
            if progress.n_processed != points || !progress.finished {
                return Err(Damage::Points { expected: points, found: progress.n_processed });
            }
            Ok(levels)
        }
    }
}

fn same_bits(a: &[f32], b: &[f32]) -> bool {
    a.len() == b.len() && a.iter().zip(b).all(|(a, b)| a.to_bits() == b.to_bits())
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn comes_back(points: &[f32]) -> bool {
        let (codec, data) = encode(points);
        decode(Codec::from_number(codec as i64).unwrap(), points.len(), &data)
            .is_ok_and(|back| same_bits(&back, points))
    }

    proptest! {
        #[test]
        fn every_bit_pattern_comes_back(bits in prop::collection::vec(any::<u32>(), 0..1200)) {
            let points: Vec<f32> = bits.into_iter().map(f32::from_bits).collect();
            prop_assert!(comes_back(&points));
        }

        #[test]
        fn levels_with_three_decimals_come_back(levels in prop::collection::vec(-150_000i32..40_000, 0..1200)) {
            let points: Vec<f32> = levels.into_iter().map(|l| l as f32 / 1000.0).collect();
            prop_assert!(comes_back(&points));
        }

        #[test]
        fn damaged_data_is_an_error_or_other_points_but_no_panic(
            at in 0usize..200, flip in 1u8.., levels in prop::collection::vec(-100.0..0.0f32, 1..100),
        ) {
            for codec in [Codec::Raw, Codec::Pco] {
                let mut data = match codec {
                    Codec::Raw => levels.iter().flat_map(|p| p.to_le_bytes()).collect(),
                    Codec::Pco | Codec::Pruned => simple_compress(&levels, &ChunkConfig::default()).unwrap(),
                };
                let at = at % data.len();
                data[at] ^= flip;
                drop(decode(codec, levels.len(), &data));
                data.truncate(at);
                prop_assert!(decode(codec, levels.len(), &data).is_err());
            }
        }
    }

    /// Bit patterns of IEEE 754 binary32: quiet and signalling NaN with payloads, both zeros, the smallest and
    /// the largest subnormal, infinities, the largest finite value.
    #[test]
    fn the_odd_values_of_binary32_come_back() {
        let odd = [
            0x7fc0_0000,
            0x7fc0_1234,
            0xffff_ffff,
            0x7f80_0001,
            0xff80_0001,
            0x0000_0000,
            0x8000_0000,
            0x0000_0001,
            0x007f_ffff,
            0x807f_ffff,
            0x7f80_0000,
            0xff80_0000,
            0x7f7f_ffff,
        ];
        for repeat in [1, 40, 400] {
            let points: Vec<f32> =
                odd.iter().cycle().take(odd.len() * repeat).copied().map(f32::from_bits).collect();
            assert!(comes_back(&points), "{repeat} times");
        }
    }

    #[test]
    fn a_smooth_trace_is_coded_smaller() {
        let points: Vec<f32> = (0..401).map(|i| (-9000 + i) as f32 / 100.0).collect();
        let (codec, data) = encode(&points);
        assert_eq!(codec, Codec::Pco);
        assert!(data.len() < 4 * points.len() / 2, "{} bytes", data.len());
    }

    #[test]
    fn counts_and_numbers_that_do_not_fit_are_named() {
        assert_eq!(Codec::from_number(7), Err(Damage::UnknownCodec(7)));
        assert_eq!(decode(Codec::Raw, 2, &[0; 4]), Err(Damage::Points { expected: 2, found: 1 }));
        let coded = simple_compress(&[1.0f32; 300], &ChunkConfig::default()).unwrap();
        assert!(decode(Codec::Pco, 200, &coded).is_err(), "too many points");
        assert!(decode(Codec::Pco, 400, &coded).is_err(), "too few points");
    }
}
