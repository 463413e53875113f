//! The states of supply, channel and power setting that a plan goes through, in their order.

use crate::job::Job;
use crate::model::{Channel, Extent, PowerSetting, SupplySetting};

/// One state.
#[derive(Clone, Copy, Debug)]
pub struct State<'a> {
    /// The supply, if the plan names one.
    pub supply: Option<&'a SupplySetting>,
    /// The channel.
    pub channel: &'a Channel,
    /// The power setting.
    pub power: &'a PowerSetting,
}

impl State<'_> {
    /// What is measured in it.
    #[must_use]
    pub fn extent(&self) -> Extent {
        self.supply.map_or(Extent::Everything, |supply| supply.extent)
    }
}

impl Job {
    /// Every state of the plan. The supply changes least often: with another voltage the unit starts anew.
    #[must_use]
    pub fn states(&self) -> Vec<State<'_>> {
        let supplies: Vec<Option<&SupplySetting>> = match self.plan.supplies.as_slice() {
            [] => vec![None],
            several => several.iter().map(Some).collect(),
        };
        let mut states = Vec::new();
        for supply in supplies {
            for channel in &self.plan.channels {
                let wanted = supply.is_none_or(|supply| {
                    channel.supplies.is_empty() || channel.supplies.contains(&supply.name)
                });
                let powers = channel.powers.iter().filter(|_| wanted);
                states.extend(powers.map(|power| State { supply, channel, power }));
            }
        }
        states
    }
}
