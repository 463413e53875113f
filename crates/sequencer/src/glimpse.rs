//! The first key-down of a run where no lower power can show the path: as short as one can be, with all the attenuation
//! that the analyser has. Unless it shows the path to be what its tables say, nothing more is keyed.

use spurline_plan::{Look, Way};
use spurline_record::{Acquisition, EventKind, MeterReading, Reason, ReasonCode};

use crate::by_hand::nobody_keyed;
use crate::carrier::{Glimpsed, judge_glimpse, of_harmonics};
use crate::fault::RunFault;
use crate::interlock::{Aim, PathProof, limited};
use crate::scope::{Case, Measuring};

/// What its look is for.
const GLIMPSE: &str = "glimpse";

/// A glimpse that showed no carrier.
pub(crate) struct Nothing {
    look: Option<Acquisition>,
    meter: Vec<MeterReading>,
    reason: Reason,
}

impl Measuring<'_, '_> {
    /// Takes a glimpse, if the path is to be shown by one and has not been: what was seen, if that was no carrier.
    ///
    /// # Errors
    ///
    /// [`RunFault::PathChanged`] if the path is not what its tables say; the key is up, as after any other fault.
    pub(crate) async fn glimpse(&mut self, case: &Case<'_>, way: &Way) -> Result<Option<Nothing>, RunFault> {
        if self.done.chain.path != PathProof::Lowest || !self.job.glimpses() {
            return Ok(None);
        }
        let look = self.job.glimpse(way, case.channel, case.power)?;
        let seen = self.glimpsed(case, way, &look).await;
        let ((look, meter), found) = match self.up_after(seen).await {
            Ok(seen) => seen,
            Err(fault) => {
                let reason = nobody_keyed(&fault).ok_or(fault)?;
                return Ok(Some(Nothing { look: None, meter: Vec::new(), reason }));
            }
        };
        self.confirm_gone(case, way).await?;
        match found {
            Glimpsed::Right(how) => {
                let note = format!("a glimpse of `{}` has shown the path: {how}", case.power.name);
                self.path_is_as_it_was(&note);
                self.emit(EventKind::Note(note))?;
                Ok(None)
            }
            Glimpsed::Wrong(what) => {
                Err(RunFault::PathChanged { path: way.name.clone(), power: case.power.name.clone(), what })
            }
            Glimpsed::Nothing(why) => {
                Ok(Some(Nothing { look: Some(look), meter, reason: self.why_nothing(case, why) }))
            }
        }
    }

    /// Everything between key down and key up; the caller brings the key up.
    async fn glimpsed(
        &mut self,
        case: &Case<'_>,
        way: &Way,
        look: &Look,
    ) -> Result<((Acquisition, Vec<MeterReading>), Glimpsed), RunFault> {
        self.wait_and_key(case, way, Aim::Glimpse).await?;
        self.doing("a glimpse at the carrier")?;
        self.settle().await?;
        let carrier = case.channel.carrier;
        let mut seen = (self.keyed_look(GLIMPSE, look).await?, self.meter_readings(carrier).await?);
        let (mut found, level) = judge_glimpse(self.job, way, case.power, carrier, &seen)?;
        // What the bench cannot bear is not looked at twice.
        self.bears(way, carrier, level)?;
        if !matches!(found, Glimpsed::Right(_)) {
            // Once more before it is called a fault: one bad moment is not a wrong path.
            seen = (self.keyed_look(GLIMPSE, look).await?, self.meter_readings(carrier).await?);
            found = judge_glimpse(self.job, way, case.power, carrier, &seen)?.0;
        }
        self.done.drawn = None;
        if matches!(found, Glimpsed::Nothing(_)) {
            self.read_drawn().await?;
        }
        Ok((seen, found))
    }

    /// Why no carrier came: the supply may have held it back.
    fn why_nothing(&self, case: &Case<'_>, why: String) -> Reason {
        let supplies = &self.job.plan.supplies;
        let setting = supplies.iter().find(|supply| case.supply.as_ref() == Some(&supply.name));
        let held_back = self.done.drawn.zip(setting).and_then(|(drawn, setting)| limited(drawn, setting));
        match held_back {
            Some(why) => Reason::new(ReasonCode::SupplyLimit, why),
            None => Reason::new(ReasonCode::NotKeyed, why),
        }
    }

    /// Every reading of a scope whose carrier did not come.
    pub(crate) async fn nothing_at_all(&mut self, case: &Case<'_>, nothing: Nothing) -> Result<(), RunFault> {
        let Nothing { look, meter, reason } = nothing;
        let of_all_else = of_harmonics(&reason);
        self.no_set_up(case, &of_all_else)?;
        let mut reading = self.blank(case, self.job.carrier_way(), None);
        reading.acquisitions.extend(look);
        reading.meter = meter;
        reading.reason = Some(reason);
        self.nothing_of_the_scope(case, reading, of_all_else.clone()).await?;
        self.no_over_time(case, &of_all_else)
    }
}
