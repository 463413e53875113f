//! Where the carrier is.

use spurline_plan::{Plan, never_keyed as protected};
use spurline_record::{Interlock, InterlockName};
use spurline_units::Hertz;

use super::Aim;

/// The carrier is at no frequency of distress and safety, whatever it is keyed into.
pub(super) fn never_keyed(carrier: Hertz) -> Interlock {
    const NAME: InterlockName = InterlockName::NeverKeyed;
    match protected(carrier) {
        Some(range) => {
            Interlock::trips(NAME, format!("{carrier} lies within {range}, kept for distress and safety"))
        }
        None => Interlock::holds(NAME, format!("{carrier} is no frequency of distress and safety")),
    }
}

/// The carrier is where the plan may key; elsewhere only into a load, to see that it stays silent.
pub(super) fn authorised(plan: &Plan, carrier: Hertz, aim: Aim) -> Interlock {
    const NAME: InterlockName = InterlockName::AuthorisedBand;
    match (plan.authorised_at(carrier), aim) {
        (Some(why), _) => Interlock::holds(NAME, why),
        (None, Aim::Silence) => {
            let why = format!("{carrier} is no channel: keyed into a load, where it must stay silent");
            Interlock::holds(NAME, why)
        }
        (None, Aim::Glimpse | Aim::Measure) => {
            let why = format!("{carrier} is no channel of the plan, and in no band that it authorises");
            Interlock::trips(NAME, why)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The single frequencies and the band of ITU Radio Regulations, Appendix 15, on their edges.
    #[test]
    fn distress_and_safety_is_never_keyed() {
        for megahertz in [121.5, 243.0, 156.525, 156.8, 406.0, 406.1] {
            let found = never_keyed(Hertz::new(megahertz * 1e6));
            assert!(!found.holds && found.why.contains("distress"), "{found:?}");
        }
        assert!(never_keyed(Hertz::new(146e6)).holds);
    }
}
