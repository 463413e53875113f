//! The peak detectors: the highest or the lowest of all looks in a bucket.
//!
//! Looks at the same level are not drawn one by one: the extreme of them is drawn by turning their distribution round.

use rand::RngExt;
use rand_distr::Exp1;

use super::phases::Phases;
use super::shares::log_share;
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
    /// The share exp(-t) of looks that the extreme of `looks` does not pass, as ln t.
    fn share(self, looks: f64, draws: &mut Draws) -> f64 {
        if self == Self::Highest && looks > 1.0 {
            return log_share(draws.random::<f64>(), looks);
        }
        // All are higher with the probability exp(-t)^looks; of one look the highest is the lowest.
        (draws.sample::<f64, _>(Exp1).max(f64::MIN_POSITIVE) / looks).ln()
    }

    fn pick(self, one: f64, other: f64) -> f64 {
        match self {
            Self::Highest => one.max(other),
            Self::Lowest => one.min(other),
        }
    }
}

/// The highest look so far.
struct Seen {
    /// The logarithm of its power, and its voltage.
    log: f64,
    voltage: f64,
    /// How much more than the line's own the voltage of the highest look may well be: it is more than the root of
    /// 10 + ln n once in 20 000 times.
    margin: f64,
}

impl Seen {
    fn new(log: f64, looks: f64) -> Self {
        Self { log, voltage: (0.5 * log).exp(), margin: (10.0 + looks.ln()).sqrt() }
    }

    /// Whether a look at this level may well be higher.
    fn may_rise(&self, snr: f64) -> bool {
        snr.sqrt() + self.margin > self.voltage
    }

    fn rise(&mut self, log: f64) {
        if log > self.log {
            (self.log, self.voltage) = (log, (0.5 * log).exp());
        }
    }
}

impl Detection {
    /// The extreme of all looks, as the logarithm of its power over that of the noise.
    pub(super) fn extreme(&self, bucket: &Bucket<'_>, extreme: Extreme, draws: &mut Draws) -> f64 {
        match (bucket.near, extreme) {
            ([], Extreme::Highest) => self.of_noise(self.shares.draw(draws)),
            ([], Extreme::Lowest) => self.of_noise(extreme.share(self.extreme, draws)),
            ([signal], Extreme::Highest) => self.highest(bucket, *signal, draws),
            _ => self.in_pieces(bucket, extreme, draws),
        }
    }

    fn of_noise(&self, log_t: f64) -> f64 {
        // The power of one look at noise alone is exponential.
        if self.video.is_open() { log_t } else { self.video.log_power(0.0, log_t) }
    }

    /// The highest look at one signal: in pieces that grow with the distance from where it is strongest.
    fn highest(&self, bucket: &Bucket<'_>, signal: Signal, draws: &mut Draws) -> f64 {
        let (low, high) = (bucket.low, bucket.high);
        let snr = |at: f64| {
            bucket.snr(self.looking.swept, signal, Stretch { low: at, high: at, reach: Reach::Centre })
        };
        let looks = self.extreme;
        let top = signal.peak(bucket.lines).frequency.get().clamp(low, high);
        let strongest = snr(top);
        if strongest < HIDDEN {
            return self.of_noise(self.shares.draw(draws));
        }
        let look = (high - low) / looks;
        let half = (look / 2.0).max(FIRST_PIECE / 2.0 * self.looking.swept.bandwidth().get());
        let (mut left, mut right) = ((top - half).max(low), (top + half).min(high));
        if left <= low && right >= high {
            return self.video.log_power(strongest, self.shares.draw(draws));
        }
        let within = |width: f64| (width / look).max(f64::MIN_POSITIVE);
        let first =
            self.video.log_power(strongest, Extreme::Highest.share(within(right - left).max(1.0), draws));
        let mut seen = Seen::new(first, looks);
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
                rest -= count;
                if seen.may_rise(level) {
                    let share = Extreme::Highest.share(count.max(1.0), draws);
                    seen.rise(self.video.log_power(level, share));
                }
            }
            (left, right) = (left - pieces[0], right + pieces[1]);
            if strongest < HIDDEN {
                break;
            }
        }
        if rest >= 0.5 && seen.may_rise(0.0) {
            seen.rise(self.of_noise(Extreme::Highest.share(rest.max(1.0), draws)));
        }
        seen.log
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
        let stretch = |i: usize| {
            let stretch = bucket.stretch((i as f64 + cut) / pieces, ((i + 1) as f64 - cut) / pieces);
            Stretch { reach, ..stretch }
        };
        let count = (looks / pieces).max(1.0);
        if self.video.is_open() && bucket.near.len() > 1 {
            return self.of_beats(bucket, extreme, (pieces as usize, count), stretch, draws);
        }
        let piece = |i: usize| {
            let (snr, noise) = bucket.strongest(self.looking.swept, stretch(i));
            noise.ln() + self.video.log_power(snr, extreme.share(count, draws))
        };
        (0..pieces as usize).map(piece).reduce(|one, other| extreme.pick(one, other)).unwrap_or(0.0)
    }

    /// The extreme of so many pieces, each of so many looks, in which signals beat.
    fn of_beats(
        &self,
        bucket: &Bucket<'_>,
        extreme: Extreme,
        (pieces, count): (usize, f64),
        stretch: impl Fn(usize) -> Stretch,
        draws: &mut Draws,
    ) -> f64 {
        let swept = self.looking.swept;
        let mut phases = Phases::new();
        if bucket.high - bucket.low > FIRST_PIECE * swept.bandwidth().get() {
            let piece = |i: usize| {
                let beating = bucket.beating(swept, stretch(i));
                let snr = beating.voltages().look(&mut phases, draws).norm_sqr() / beating.noise();
                beating.noise().ln() + self.video.log_power(snr, extreme.share(count, draws))
            };
            return (0..pieces).map(piece).reduce(|one, other| extreme.pick(one, other)).unwrap_or(0.0);
        }
        // The levels are the same in all pieces.
        let beating = bucket.beating(swept, Stretch { reach: stretch(0).reach, ..bucket.stretch(0.0, 1.0) });
        let (voltages, noise) = (beating.voltages(), beating.noise());
        let mut all = [0.0; PIECES as usize];
        for snr in &mut all[..pieces] {
            *snr = voltages.look(&mut phases, draws).norm_sqr() / noise;
        }
        let log = |snr: f64, draws: &mut Draws| self.video.log_power(snr, extreme.share(count, draws));
        let found = if extreme == Extreme::Highest {
            let top = all[..pieces].iter().copied().fold(0.0, f64::max);
            let mut seen = Seen::new(log(top, draws), self.extreme);
            for snr in all[..pieces].iter().filter(|snr| **snr < top) {
                if seen.may_rise(*snr) {
                    seen.rise(log(*snr, draws));
                }
            }
            seen.log
        } else {
            all[..pieces].iter().map(|snr| log(*snr, draws)).fold(f64::INFINITY, f64::min)
        };
        noise.ln() + found
    }
}
