//! The carrier of a key-down, judged again.

use spurline_path::PathError;
use spurline_record::{Acquisition, Reading, Reason};
use spurline_units::Db;

use super::looks::{Looks, blank};
use super::state::InState;
use crate::carrier::{
    AgainLooks, CARRIER_LOOK, CarrierAgain, CarrierLooks, JudgedCarrier, WIDTH_LOOK, judge, judge_again,
};
use crate::possible::MeasuredCarrier;

/// The carrier as a key-down shows it.
pub(super) struct Carrier {
    /// Its own reading, if the first of the key-down is one.
    pub(super) reading: Option<Reading>,
    pub(super) measured: Result<MeasuredCarrier, Reason>,
    /// The look at the beginning, if another reading holds it.
    pub(super) left: Option<(Acquisition, Option<Db>)>,
}

impl InState<'_> {
    /// Judges the carrier of the key-down that begins with a reading; `None` if its looks are not all there.
    pub(super) fn carrier(&self, first: &Reading, looks: &Looks) -> Result<Option<Carrier>, PathError> {
        let Some(zero_span) = looks.beginning.clone() else { return Ok(None) };
        let (job, power) = (self.job, self.case.power);
        let all = looks.keyed_for(CARRIER_LOOK).zip(looks.keyed_for(WIDTH_LOOK));
        if let Some((carrier, width)) = all {
            let looks = CarrierLooks {
                zero_span,
                carrier: carrier.clone(),
                width: width.clone(),
                meter: first.meter.clone(),
            };
            let JudgedCarrier { reading, measured } = judge(job, power, looks, blank(first))?;
            return Ok(Some(Carrier { reading: Some(reading), measured, left: None }));
        }
        let Some(before) = &self.carrier else { return Ok(None) };
        let before = match before {
            Ok(before) => before,
            Err(reason) => {
                let left = first.meter.is_empty().then_some((zero_span, None));
                return Ok(Some(Carrier { reading: None, measured: Err(reason.clone()), left }));
            }
        };
        let way = self.way(first);
        let looks = AgainLooks { zero_span, meter: first.meter.clone() };
        let again = judge_again(job, way, power, before, looks, blank(first))?;
        let CarrierAgain { reading, measured, left, variation } = again;
        Ok(Some(Carrier { reading, measured, left: left.map(|look| (look, variation)) }))
    }
}
