//! The analyser's attenuator, and what the analyser itself makes of a carrier behind it.

use spurline_profile::AnalyserProfile;
use spurline_units::{Db, Dbm};

use crate::mixer::own_product;

/// Total level at the mixer at which own products are usually small.
const MIXER_LEVEL: f64 = -20.0;

/// The most that the analyser itself makes at a harmonic, referred to its input; `None` where nobody guarantees it.
#[must_use]
pub fn own_product_at_input(
    profile: &AnalyserProfile,
    order: u32,
    carrier_at_input: Dbm,
    attenuation: Db,
) -> Option<Dbm> {
    own_product(&profile.limits, order, carrier_at_input - attenuation).map(|level| level + attenuation)
}

/// Every attenuation that can be set, the least first.
pub(crate) fn steps(profile: &AnalyserProfile) -> impl Iterator<Item = Db> + '_ {
    let (low, high, step) = (
        profile.ranges.attenuation.low().get(),
        profile.ranges.attenuation.high().get(),
        profile.ranges.attenuation_step.get(),
    );
    let count = ((high - low) / step).floor() as u32;
    (0..=count).map(move |n| Db::new(low + f64::from(n) * step))
}

/// By how much more the carrier may come to the mixer than is usual, before it is compressed.
pub(crate) fn more_at_mixer(profile: &AnalyserProfile) -> Db {
    (profile.limits.linear_to - Dbm::new(MIXER_LEVEL)).max(Db::new(0.0))
}

/// The least attenuation that keeps the mixer at or below its usual level; the most there is, if none does.
pub(crate) fn least_attenuation(profile: &AnalyserProfile, at_input: Dbm) -> Db {
    let most = profile.limits.linear_to.min(Dbm::new(MIXER_LEVEL));
    steps(profile)
        .find(|attenuation| at_input - *attenuation <= most)
        .unwrap_or(profile.ranges.attenuation.high())
}
