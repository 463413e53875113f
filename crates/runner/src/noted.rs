//! What an earlier run on a bench noted of its carriers, so that a path that changed since is found out.

use spurline_plan::Job;
use spurline_record::{InstrumentUsed, NotedCarrier, Outcome, Quantity, Role};
use spurline_sequencer::Begun;
use spurline_store::{Store, StoredRun};

use crate::failure::Failure;

/// How many earlier runs of a bench are looked at before none is taken.
const MOST_RUNS: u32 = 5;

/// The carriers of the newest run on the same bench, with the same instruments, that has some; none where the path is not
/// verified.
pub(crate) fn carriers(
    store: &Store,
    job: &Job,
    begun: &Begun,
    simulated: Option<u64>,
) -> Result<Vec<NotedCarrier>, Failure> {
    if !job.verifies_path() {
        return Ok(Vec::new());
    }
    for run in store.newest_finished_on(&job.bench.title, simulated, MOST_RUNS)? {
        let stored = store.load_readings(&run)?;
        let noted = of_run(&stored, job.bench.meter.is_none());
        if !noted.is_empty()
            && same_instruments(&stored.instruments, begun.instruments(), job.bench.meter.is_none())
        {
            return Ok(noted);
        }
    }
    Ok(Vec::new())
}

fn of_run(stored: &StoredRun, alone: bool) -> Vec<NotedCarrier> {
    let carriers = stored.readings.iter().filter(|reading| {
        reading.quantity == Quantity::CarrierPower
            && reading.outcome != Outcome::Invalid
            && (alone || reading.proof.cross_check.is_some())
    });
    carriers
        .filter_map(|reading| {
            Some(NotedCarrier {
                run: stored.header.id.clone(),
                scope: reading.scope.clone(),
                level: reading.level()?,
                difference: reading.proof.cross_check.map(|check| check.difference),
            })
        })
        .collect()
}

/// Without a power meter the unit's own level is what is compared, so that it must be the same unit.
fn same_instruments(one: &[InstrumentUsed], other: &[InstrumentUsed], alone: bool) -> bool {
    let mut roles = vec![Role::Analyser, Role::PowerMeter];
    if alone {
        roles.push(Role::UnitControl);
    }
    roles.into_iter().all(|role| {
        let of = |among: &[InstrumentUsed]| {
            among.iter().find(|used| used.role == role).map(|used| used.identity.serial.clone())
        };
        of(one) == of(other)
    })
}
