//! In which order channels and power settings are measured, and whether the first of them verifies the path.

use crate::job::Job;
use crate::model::{Channel, PowerSetting};

impl Job {
    /// Every channel with each of its power settings, in the order of the plan; but where the path is verified, the
    /// lowest setting of the plan comes first, so that a wrong path is found out before full power.
    #[must_use]
    pub fn in_order(&self) -> Vec<(&Channel, &PowerSetting)> {
        let channels = self.plan.channels.iter();
        let mut all: Vec<_> =
            channels.flat_map(|channel| channel.powers.iter().map(move |power| (channel, power))).collect();
        if self.verifies_path() {
            let power = |(_, power): &(&Channel, &PowerSetting)| power.window.high().watts().get();
            let lowest = all.iter().enumerate().min_by(|one, other| power(one.1).total_cmp(&power(other.1)));
            if let Some((place, _)) = lowest {
                let lowest = all.remove(place);
                all.insert(0, lowest);
            }
        }
        all
    }

    /// Whether the first setting that is measured verifies the path: as the bench file says, else where the plan has
    /// settings that differ.
    #[must_use]
    pub fn verifies_path(&self) -> bool {
        let powers = || self.plan.channels.iter().flat_map(|channel| &channel.powers);
        let several = || powers().any(|one| powers().any(|other| one.window != other.window));
        self.bench.verify_path.unwrap_or_else(several)
    }
}
