//! The video filter: narrower than the resolution filter it averages the logarithm of the power.
//!
//! The mean of several looks' logarithms is scattered like the logarithm of a gamma power with the same mean and
//! variance: for one look at noise that is exact, for many both go over into a normal scatter.

use rand_distr::{Distribution, Gamma};

use super::moments::{self, Moments};
use super::rice;
use super::special::{digamma, gamma_power, order_of_log_variance};
use crate::draw::Draws;

/// How many looks the video filter averages.
#[derive(Clone, Copy, Debug)]
pub(super) struct Video {
    logs: f64,
    /// What it makes of noise alone.
    noise: GammaLook,
}

/// A look behind the video filter: a gamma power of some order, times a factor.
#[derive(Clone, Copy, Debug)]
struct GammaLook {
    order: f64,
    factor: f64,
}

/// More looks than this are not averaged: what is left then scatters by 0.35 dB.
const MOST_LOGS: f64 = 256.0;

impl Video {
    /// The filter behind a resolution filter that is wider by `ratio`.
    pub(super) fn new(ratio: f64) -> Self {
        let logs = ratio.clamp(1.0, MOST_LOGS);
        Self { logs, noise: GammaLook::at(0.0, logs) }
    }

    /// Whether it does nothing.
    pub(super) fn is_open(self) -> bool {
        self.logs <= 1.0
    }

    fn behind(self, snr: f64) -> GammaLook {
        if snr > 0.0 { GammaLook::at(snr, self.logs) } else { self.noise }
    }

    /// Power of one look at a line of power `snr` in noise of power 1, behind a filter that is not open.
    pub(super) fn look(self, snr: f64, draws: &mut Draws) -> f64 {
        let look = self.behind(snr);
        look.factor * Gamma::new(look.order, 1.0).map_or(look.order, |gamma| gamma.sample(draws))
    }

    /// The logarithm of the power that the share exp(-t) of all looks tops.
    pub(super) fn log_power(self, snr: f64, log_t: f64) -> f64 {
        if self.is_open() {
            return rice::log_power(snr, log_t);
        }
        let look = self.behind(snr);
        (look.factor * gamma_power(look.order, log_t.exp())).ln()
    }
}

impl GammaLook {
    fn at(snr: f64, logs: f64) -> Self {
        let Moments { mean, variance } = moments::of_log(snr);
        let order = order_of_log_variance(variance / logs);
        Self { order, factor: (mean - digamma(order)).exp() }
    }
}
