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
    /// Every state of the plan. The supply changes least often: with another voltage the unit starts anew. Where the
    /// path is verified the lowest power comes first, so that a wrong path is found out before full power.
    #[must_use]
    pub fn states(&self) -> Vec<State<'_>> {
        let supplies: Vec<Option<&SupplySetting>> = match self.plan.supplies.as_slice() {
            [] => vec![None],
            several => several.iter().map(Some).collect(),
        };
        let mut states: Vec<State<'_>> = Vec::new();
        for supply in supplies {
            for channel in &self.plan.channels {
                let wanted = supply.is_none_or(|supply| {
                    channel.supplies.is_empty() || channel.supplies.contains(&supply.name)
                });
                let powers = channel.powers.iter().filter(|_| wanted);
                states.extend(powers.map(|power| State { supply, channel, power }));
            }
        }
        if self.verifies_path() {
            lowest_first(&mut states);
        }
        states
    }
}

/// Brings the lowest power that goes with the first supply to the front.
fn lowest_first(states: &mut [State<'_>]) {
    let first = states.first().and_then(|state| state.supply).map(|supply| &supply.name);
    let fed_alike =
        states.iter().take_while(|state| state.supply.map(|supply| &supply.name) == first).enumerate();
    let most = |state: &State<'_>| state.power.window.high().watts().get();
    let lowest = fed_alike.min_by(|one, other| most(one.1).total_cmp(&most(other.1))).map(|(place, _)| place);
    if let Some(place) = lowest {
        states[..=place].rotate_right(1);
    }
}
