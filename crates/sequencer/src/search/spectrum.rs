//! The whole searched spectrum thinned for a drawing: in each of so many steps the highest point with and without the
//! key, and the limit there.

use spurline_path::PathError;
use spurline_plan::{Job, SearchLayout};
use spurline_record::{Column, Series, Unit};
use spurline_units::{Dbm, Hertz};

use super::Swept;
use crate::possible::{self, MeasuredCarrier};

/// More than a drawing has pixels across.
const STEPS: usize = 960;

/// The highest within one step, at the analyser's input.
#[derive(Clone, Copy)]
struct Step {
    at: Hertz,
    keyed: f32,
    unkeyed: f32,
}

/// Frequency, level with the key, level without, limit; all levels at the connector.
pub(super) fn series(
    job: &Job,
    carrier: &MeasuredCarrier,
    layout: &SearchLayout,
    swept: &[Swept],
) -> Result<Series, PathError> {
    let (low, high) = (layout.from.get().max(1.0), layout.to.get());
    let step_of = |at: Hertz| {
        let part = (at.get() / low).ln() / (high / low).ln();
        ((part * STEPS as f64) as usize).min(STEPS - 1)
    };
    let mut steps: Vec<Option<Step>> = vec![None; STEPS];
    for one in swept {
        let (Some(keyed), Some(unkeyed)) = (one.keyed.sweeps.first(), one.unkeyed.sweeps.first()) else {
            continue;
        };
        for (point, (with, without)) in keyed.levels.iter().zip(&unkeyed.levels).enumerate() {
            let at = one.keyed.settings.frequency_of(point);
            let step = &mut steps[step_of(at)];
            let known = step.get_or_insert(Step { at, keyed: *with, unkeyed: *without });
            if *with > known.keyed {
                (known.at, known.keyed) = (at, *with);
            }
            known.unkeyed = known.unkeyed.max(*without);
        }
    }
    let path = &job.harmonics_way().branch.path;
    let (mut frequency, mut with, mut without, mut limit) = (Vec::new(), Vec::new(), Vec::new(), Vec::new());
    for step in steps.into_iter().flatten() {
        let loss = path.loss_at(step.at)?.total;
        // To a hundredth of a decibel, as levels are shown.
        let level = |shown: f32| Some((((Dbm::new(f64::from(shown)) + loss).get()) * 100.0).round() / 100.0);
        let strictest = possible::limits(job, carrier, step.at).levels.into_iter().reduce(Dbm::min);
        frequency.push(Some(step.at.get().round()));
        with.push(level(step.keyed));
        without.push(level(step.unkeyed));
        limit.push(strictest.map(|limit| (limit.get() * 100.0).round() / 100.0));
    }
    let column = |name: &str, unit, values| Column { name: name.to_owned(), unit, values };
    Ok(Series {
        columns: vec![
            column("frequency", Unit::Hz, frequency),
            column("keyed", Unit::Dbm, with),
            column("not keyed", Unit::Dbm, without),
            column("limit", Unit::Dbm, limit),
        ],
    })
}
