//! The glimpse: where a plan has no lower power that could show the path before full power, the first key-down of a run is
//! as short as one can be, with all the attenuation that the analyser has.

use spurline_path::PathError;
use spurline_units::{Db, Dbm, Seconds};

use crate::forecast::time_of_looks;
use crate::job::Job;
use crate::model::{Channel, Key, PowerSetting};
use crate::settings::{HIGHEST_REFERENCE, Look, noise_at_input, steps, suited, zero_span_look};
use crate::way::Way;

/// The lease of a glimpse: it takes about a second, and what is slower than this is no glimpse. After one the unit rests
/// for three times as long as it was keyed, however long it rests otherwise.
pub const GLIMPSE_LONGEST: Seconds = Seconds::new(3.0);

/// A carrier so far above the noise is measured too high by 0.04 dB: 10 log10(1 + 10^-2).
const ABOVE_NOISE_DB: f64 = 20.0;

impl Key {
    /// Whether a glimpse can be told from other key-downs by its lease: after one the unit rests for less.
    #[must_use]
    pub fn has_brief(&self) -> bool {
        self.longest > GLIMPSE_LONGEST
    }
}

impl Job {
    /// Whether a run begins with a glimpse, unless a proof of the bench holds: no power setting lies below another, and
    /// the bench file does not set the proof of the path aside.
    #[must_use]
    pub fn glimpses(&self) -> bool {
        let states = self.states();
        let most = |power: &PowerSetting| power.window.high().watts();
        let alike = states
            .first()
            .is_some_and(|first| states.iter().all(|state| most(state.power) <= most(first.power)));
        self.bench.verify_path != Some(false) && alike
    }

    /// How a glimpse looks: in zero span, with the most attenuation behind which the carrier still stands out of the
    /// noise, and the highest reference level.
    ///
    /// # Errors
    ///
    /// If the path does not cover the carrier.
    pub fn glimpse(&self, way: &Way, channel: &Channel, power: &PowerSetting) -> Result<Look, PathError> {
        let profile = self.bench.analyser_profile();
        let expected = self.carrier_at_analyser(way, channel, power)?;
        let least = power.window.low().dbm() - way.branch.path.loss_at(channel.carrier)?.total;
        let mut look = suited(zero_span_look(profile, channel.carrier, expected), &self.plan.modulation);
        let rbw = look.settings.rbw;
        let seen =
            |attenuation: &Db| least - noise_at_input(profile, rbw, *attenuation) >= Db::new(ABOVE_NOISE_DB);
        let most = steps(profile).filter(seen).last().unwrap_or_default();
        look.settings.attenuation = look.settings.attenuation.max(most);
        look.settings.reference_level = Dbm::new(HIGHEST_REFERENCE);
        Ok(look)
    }

    /// How long the key is down for a glimpse.
    ///
    /// # Errors
    ///
    /// If the path does not cover the carrier.
    pub fn time_of_glimpse(
        &self,
        way: &Way,
        channel: &Channel,
        power: &PowerSetting,
    ) -> Result<Seconds, PathError> {
        Ok(time_of_looks(&[self.glimpse(way, channel, power)?]))
    }
}
