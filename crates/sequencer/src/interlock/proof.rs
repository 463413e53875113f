//! The chain before the unit is keyed while a bench is proven: what can be known without a run.

use spurline_plan::{Beside, Job, Overload, Way};
use spurline_record::{Interlock, InterlockName};

use super::{Aim, Arming, bench, frequency};
use crate::fault::RunFault;

/// Looks at what must hold before the carrier of a proof is keyed. How long the unit rests, and how warm the parts become,
/// is kept by waiting.
///
/// # Errors
///
/// [`RunFault::Interlock`] for the first that does not hold; the key is up.
pub(crate) fn before_proof(
    job: &Job,
    way: &Way,
    carrier: Beside<'_>,
    arming: Arming,
) -> Result<(), RunFault> {
    let frequency = carrier.channel.carrier;
    let found = [
        bench::armed(arming),
        bench::battery(job, arming),
        frequency::never_keyed(frequency),
        frequency::authorised(&job.plan, frequency, Aim::Measure),
    ];
    if let Some(Interlock { name, why, .. }) = found.into_iter().find(|interlock| !interlock.holds) {
        return Err(RunFault::Interlock { name, why });
    }
    match job.planned_overload(way, frequency, carrier.power)? {
        None => Ok(()),
        Some(overload) => {
            let name = match overload {
                Overload::Part { .. } => InterlockName::PartRatings,
                Overload::Input { .. } => InterlockName::InstrumentInput,
            };
            let why = format!("{:.2} at {frequency}: {overload}", job.most_of(carrier.power));
            Err(RunFault::Interlock { name, why })
        }
    }
}
