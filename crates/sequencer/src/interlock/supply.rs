//! What the supply gives before the unit is keyed.

use spurline_record::{Interlock, InterlockName};
use spurline_units::{Amperes, Volts};

use crate::fault::RunFault;
use crate::scope::{Case, Measuring};

/// A supply that gives so much less than it was told to does not feed the unit (common practice: a receiver hardly loads
/// its cable).
const LEAST_SHARE: f64 = 0.9;
/// So near to its limit the supply limits the current.
const AT_LIMIT: f64 = 0.98;

impl Measuring<'_, '_> {
    /// Asks the supply, where the plan has one: the voltage is there, and the current plausible.
    pub(super) async fn supply_feeds(&mut self, case: &Case<'_>) -> Result<Interlock, RunFault> {
        const NAME: InterlockName = InterlockName::Supply;
        if self.job.plan.supplies.is_empty() {
            return Ok(Interlock::holds(NAME, "the plan sets no supply"));
        }
        let Some(fed) = self.rack.fed_with().cloned() else {
            return Ok(Interlock::trips(NAME, "the supply was never told to feed the unit"));
        };
        let Some(supply) = &mut self.rack.supply else {
            return Ok(Interlock::trips(NAME, "the bench has no supply"));
        };
        let (volts, amperes) = supply.measured().await?;
        // Along a series of voltages the unit may well be off.
        let of_plan = |name: &String| self.job.plan.supplies.iter().any(|supply| supply.name == *name);
        let draws = case.supply.as_ref().is_some_and(of_plan);
        Ok(match plausible((volts, amperes), (fed.set, fed.limit), draws) {
            Ok(()) => Interlock::holds(
                NAME,
                format!("{} feeds the unit, below its limit of {}", fed.set, fed.limit),
            ),
            Err(why) => Interlock::trips(NAME, why),
        })
    }
}

/// Why what a supply gives to a unit that receives is not plausible.
fn plausible(
    (volts, amperes): (Volts, Amperes),
    (set, limit): (Volts, Amperes),
    draws: bool,
) -> Result<(), String> {
    if volts.get() < set.get() * LEAST_SHARE {
        return Err(format!("the supply gives {volts} of the {set} that it was told to"));
    }
    if amperes.get() >= limit.get() * AT_LIMIT {
        return Err(format!("the supply gives {amperes} to a unit that is not keyed: its limit is {limit}"));
    }
    if draws && amperes.get() <= 0.0 {
        return Err(format!(
            "the unit draws {amperes} from the supply: something else feeds it, or nothing does"
        ));
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_supply_that_does_not_feed_the_unit_is_told() {
        let told = (Volts::new(7.4), Amperes::new(2.5));
        let gives =
            |volts, amperes, draws| plausible((Volts::new(volts), Amperes::new(amperes)), told, draws);
        assert_eq!(gives(7.39, 0.15, true), Ok(()));
        assert!(gives(0.02, 0.0, true).unwrap_err().contains("of the 7.4 V"));
        assert!(gives(7.4, 2.48, true).unwrap_err().contains("its limit"));
        assert!(gives(7.4, 0.0, true).unwrap_err().contains("something else feeds it"));
        assert_eq!(gives(7.4, 0.0, false), Ok(()));
    }
}
