//! What the supply gives before the unit is keyed.

use spurline_plan::SupplySetting;
use spurline_record::{Interlock, InterlockName, Outcome, Quantity, Reading, Reason, ReasonCode};
use spurline_units::{Amperes, Volts};

use crate::fault::RunFault;
use crate::scope::{Case, Measuring};
use crate::work::Work;

/// A supply that gives so much less than it was told to does not feed the unit (common practice: a receiver hardly loads
/// its cable).
const LEAST_SHARE: f64 = 0.9;
/// A supply that gives so little less than its limit, or than its voltage, has reached the limit (common practice).
const AT_LIMIT: f64 = 0.98;

/// Why a unit was not fed with what its supply was set to while it was keyed, if it was not.
pub(crate) fn limited((volts, amperes): (Volts, Amperes), setting: &SupplySetting) -> Option<String> {
    let reached =
        amperes.get() >= setting.limit.get() * AT_LIMIT || volts.get() < setting.set.get() * AT_LIMIT;
    reached.then(|| {
        format!(
            "the supply reached its limit of {} and gave {volts:.2} and {amperes:.2}: the unit was not fed with {}; allow more \
             current",
            setting.limit, setting.set
        )
    })
}

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

impl Measuring<'_, '_> {
    /// Asks the supply once what it gives to the keyed unit. Power below its window that the supply did not let the unit
    /// give is not charged to the unit.
    pub(crate) async fn ask_supply(
        &mut self,
        case: &Case<'_>,
        works: &[Work],
        first: usize,
    ) -> Result<(), RunFault> {
        let supplies = &self.job.plan.supplies;
        let setting = supplies.iter().find(|supply| case.supply.as_ref() == Some(&supply.name));
        // A series asks for itself.
        let Some(setting) = setting.filter(|_| !works.iter().any(|work| matches!(work, Work::Drawn))) else {
            return Ok(());
        };
        self.done.drawn = None;
        self.read_drawn().await?;
        let Some(why) = self.done.drawn.and_then(|drawn| limited(drawn, setting)) else { return Ok(()) };
        for reading in self.done.held[first..].iter_mut().filter(|reading| is_too_little(case, reading)) {
            if reading.outcome == Outcome::Exceeds {
                reading.outcome = Outcome::Undecided;
            }
            reading.reason = Some(Reason::new(ReasonCode::SupplyLimit, why.clone()));
        }
        Ok(())
    }
}

/// Whether a reading charges a unit with too little power, or with none.
fn is_too_little(case: &Case<'_>, reading: &Reading) -> bool {
    let below = reading.level().is_some_and(|level| level < case.power.window.low().dbm());
    let outside = reading.outcome == Outcome::Exceeds && below;
    let none = reading.has_reason(ReasonCode::NotKeyed);
    reading.quantity == Quantity::CarrierPower && (outside || none)
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
