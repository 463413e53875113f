//! What the carrier puts into the parts of the path and into the inputs at its ends.

use spurline_plan::{Overload, Way};
use spurline_record::{Interlock, InterlockName};

use crate::fault::RunFault;
use crate::scope::{Case, Measuring};

impl Measuring<'_, '_> {
    /// Parts and inputs bear the most that the plan lets the unit give, and what it was measured to give.
    pub(super) fn loads(&self, case: &Case<'_>, way: &Way) -> Result<[Interlock; 2], RunFault> {
        let carrier = case.channel.carrier;
        let most = self.job.most_of(case.power);
        let planned = self.job.planned_overload(way, carrier, case.power)?.map(|overload| (most, overload));
        let measured = match self.done.chain.measured_on(case) {
            Some(level) => {
                let power = level.to_watts();
                self.job.overload(way, carrier, power)?.map(|overload| (power, overload))
            }
            None => None,
        };
        let holds = |name, what: &str| {
            Interlock::holds(name, format!("{most} at {carrier} by {} is within what {what}", way.name))
        };
        let mut found = [
            holds(InterlockName::PartRatings, "every part is rated for"),
            holds(InterlockName::InstrumentInput, "every input bears, with room to spare"),
        ];
        // What was measured comes last: it says more than what was planned.
        for (power, overload) in planned.into_iter().chain(measured) {
            let place = usize::from(matches!(overload, Overload::Input { .. }));
            let why = format!("{power:.2} at {carrier}: {overload}");
            found[place] = Interlock::trips(found[place].name, why);
        }
        Ok(found)
    }
}
