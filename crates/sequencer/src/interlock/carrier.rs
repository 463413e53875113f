//! Whether the air is free before the unit is keyed, and was after it.

use spurline_plan::Way;
use spurline_record::{Interlock, InterlockName};
use spurline_units::Dbm;

use crate::fault::RunFault;
use crate::scope::{Case, Measuring};

/// What is known of the carrier's frequency with the key up.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) enum Air {
    /// Nothing: nobody has looked since the unit was keyed last.
    #[default]
    Unknown,
    /// No carrier was there.
    Free,
    /// One was there although nothing had been keyed.
    Taken(Dbm),
    /// The carrier stayed when the key came up: nothing is keyed any more in this run.
    Stayed(Dbm),
}

fn stayed(level: Dbm) -> String {
    format!("{level} stayed when the key came up: nothing is keyed any more in this run")
}

impl Measuring<'_, '_> {
    /// Has the record told at once that the carrier stayed: no key-down comes any more that would look at the chain.
    pub(crate) fn tell_of_stay(&mut self, level: Dbm) {
        let trips = Interlock::trips(InterlockName::CarrierWent, stayed(level));
        // A carrier that stays is the greater fault, whether or not it could be written down.
        drop(self.hold(vec![trips]));
    }

    /// The carrier went with the last key-up, and none is there now. Where nobody has looked, somebody looks.
    pub(super) async fn air_is_free(
        &mut self,
        case: &Case<'_>,
        way: &Way,
    ) -> Result<[Interlock; 2], RunFault> {
        if self.done.chain.air == Air::Unknown {
            self.carrier_before_key(case, way).await?;
        }
        let (went, before) = (InterlockName::CarrierWent, InterlockName::NoCarrierBefore);
        let gone = || Interlock::holds(went, "no carrier stayed after a key-up");
        Ok(match self.done.chain.air {
            Air::Free => {
                [gone(), Interlock::holds(before, "no carrier was there when it was last looked for")]
            }
            Air::Unknown => [gone(), Interlock::trips(before, "nobody has looked for a carrier")],
            Air::Taken(level) => {
                let why = format!("{level} is at {} while the key is up", case.channel.carrier);
                [gone(), Interlock::trips(before, why)]
            }
            Air::Stayed(level) => {
                let why = stayed(level);
                [Interlock::trips(went, why.clone()), Interlock::trips(before, why)]
            }
        })
    }
}
