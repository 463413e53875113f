//! The peak detectors: the highest or the lowest of all looks in a bucket.
//!
//! Looks at the same level are not drawn one by one: the extreme of them is drawn by turning their distribution round.

use rand::RngExt;
use rand_distr::Exp1;

use super::strength::{Reach, Stretch};
use super::{Bucket, Detection, Signal};
use crate::draw::Draws;

/// Which end is looked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Extreme {
    Highest,
    Lowest,
}

/// Of beating signals, and for the lowest, a bucket is cut into at most so many pieces.
const PIECES: f64 = 24.0;
/// Away from a line pieces grow by this factor; the first is this wide, in bandwidths, or one look.
const GROWTH: f64 = 1.5;
const FIRST_PIECE: f64 = 0.05;
/// Where the looks of a piece are taken from, as a share of its width from the end that is next to the line.
const WITHIN_PIECE: f64 = 0.3;
/// A signal weaker than this against the noise does not show in a peak.
const HIDDEN: f64 = 0.01;

impl Extreme {
    /// The share exp(-t) of looks that the extreme of `looks` does not pass, as t.
    fn share(self, looks: f64, draws: &mut Draws) -> f64 {
        // A draw of just nothing would have no logarithm.
        let drawn = (draws.sample::<f64, _>(Exp1) / looks).max(f64::MIN_POSITIVE);
        match self {
            // All are lower with the probability exp(-drawn) = (1 - exp(-t))^looks.
            Self::Highest if drawn > 1.0 => -(-(-drawn).exp()).ln_1p(),
            Self::Highest => -(-(-drawn).exp_m1()).ln(),
            // All are higher with the probability exp(-t)^looks.
            Self::Lowest => drawn,
        }
    }

    fn pick(self, one: f64, other: f64) -> f64 {
        match self {
            Self::Highest => one.max(other),
            Self::Lowest => one.min(other),
        }
    }
}

impl Detection {
    pub(super) fn extreme(&self, bucket: &Bucket<'_>, extreme: Extreme, draws: &mut Draws) -> f64 {
        match (bucket.near, extreme) {
            ([], _) => self.of_noise(extreme, self.extreme, draws),
            ([signal], Extreme::Highest) => self.highest(bucket, *signal, draws),
            _ => self.in_pieces(bucket, extreme, draws),
        }
    }

    fn of_noise(&self, extreme: Extreme, looks: f64, draws: &mut Draws) -> f64 {
        let t = extreme.share(looks, draws);
        // The power of one look at noise alone is exponential.
        if self.video.is_open() { t } else { self.video.power(0.0, t) }
    }

    /// The highest look at one signal: in pieces that grow with the distance from where it is strongest.
    fn highest(&self, bucket: &Bucket<'_>, signal: Signal, draws: &mut Draws) -> f64 {
        let (low, high) = (bucket.low.get(), bucket.high.get());
        let snr =
            |at: f64| bucket.snr(self.filter, signal, Stretch { low: at, high: at, reach: Reach::Centre });
        let looks = self.extreme;
        let top = bucket.peak(signal).frequency.get().clamp(low, high);
        let look = (high - low) / looks;
        let half = (look / 2.0).max(FIRST_PIECE / 2.0 * self.filter.bandwidth().get());
        let (mut left, mut right) = ((top - half).max(low), (top + half).min(high));
        if left <= low && right >= high {
            return self.video.power(snr(top), Extreme::Highest.share(looks, draws));
        }
        let within = |width: f64| (width / look).max(f64::MIN_POSITIVE);
        let mut seen =
            self.video.power(snr(top), Extreme::Highest.share(within(right - left).max(1.0), draws));
        let mut rest = looks - within(right - left).max(1.0);
        let mut width = 2.0 * half;
        while rest >= 0.5 {
            width *= GROWTH;
            let pieces = [(left - low).min(width), (high - right).min(width)];
            let nearest = [left, right];
            let mut strongest = 0.0f64;
            for (piece, nearest) in pieces.into_iter().zip(nearest) {
                let count = within(piece).min(rest);
                if count < 0.5 {
                    continue;
                }
                let towards = if nearest > top { 1.0 } else { -1.0 };
                let level = snr(nearest + towards * WITHIN_PIECE * (piece - look).max(0.0));
                strongest = strongest.max(level);
                seen = seen.max(self.video.power(level, Extreme::Highest.share(count.max(1.0), draws)));
                rest -= count;
            }
            (left, right) = (left - pieces[0], right + pieces[1]);
            if strongest < HIDDEN {
                break;
            }
        }
        if rest >= 0.5 { seen.max(self.of_noise(Extreme::Highest, rest.max(1.0), draws)) } else { seen }
    }

    /// The extreme of pieces of equal width; between one piece and the next the signals' phases are unrelated.
    fn in_pieces(&self, bucket: &Bucket<'_>, extreme: Extreme, draws: &mut Draws) -> f64 {
        let looks = self.extreme;
        let pieces = looks.round().min(PIECES);
        // The highest must not miss the top of a line; of the lowest no look lies at the very end of a piece.
        let (reach, cut) = match extreme {
            Extreme::Highest => (Reach::Nearest, 0.0),
            Extreme::Lowest => (Reach::Farthest, WITHIN_PIECE * (1.0 - pieces / looks).max(0.0)),
        };
        let piece = |i: usize| {
            let stretch = bucket.stretch((i as f64 + cut) / pieces, ((i + 1) as f64 - cut) / pieces);
            let stretch = Stretch { reach, ..stretch };
            let (snr, noise) = if self.video.is_open() && bucket.near.len() > 1 {
                let (voltage, noise) = bucket.beat(self.filter, stretch, draws);
                (voltage.norm_sqr() / noise, noise)
            } else {
                bucket.strongest(self.filter, stretch)
            };
            noise * self.video.power(snr, extreme.share((looks / pieces).max(1.0), draws))
        };
        (0..pieces as usize).map(piece).reduce(|one, other| extreme.pick(one, other)).unwrap_or(1.0)
    }
}
