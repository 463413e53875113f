//! A run judged again from its raw looks, without instruments: by another rule, another decision, other facts, or other
//! tables of the path. The same functions give the verdicts that gave them in the run.
//!
//! What the run did not look at stays unknown: where a new limit would have asked for more looks, the reading is
//! undecided, and where a look of the run found the method at fault, it stays invalid.

mod carrier;
mod corrected;
mod exchange;
mod line;
mod looks;
mod search;
mod spectrum;
mod state;

use spurline_path::PathError;
use spurline_plan::Job;
use spurline_record::{JudgedFrom, Reading, VerdictReading};

use state::{InState, Kept};

/// A reading from its raw looks.
fn raw(reading: Reading) -> VerdictReading {
    VerdictReading { reading, from: JudgedFrom::Raw }
}

/// A reading as it was.
fn recorded(reading: &Reading) -> VerdictReading {
    VerdictReading { reading: reading.clone(), from: JudgedFrom::Recorded }
}

/// Judges the readings of a run again, in their order: `was` is the job that the run was made with, `job` the one that
/// counts now.
///
/// # Errors
///
/// If a path of `job` does not cover a frequency that was read.
pub fn judge_again(job: &Job, was: &Job, readings: &[Reading]) -> Result<Vec<VerdictReading>, PathError> {
    let mut judged = Vec::with_capacity(readings.len());
    let mut kept = Kept::default();
    let mut rest = readings;
    while let Some(first) = rest.first() {
        let count = rest.iter().take_while(|reading| state::are_of_one(first, reading)).count().max(1);
        let (these, others) = rest.split_at(count);
        let in_state = looks::is_of_a_state(first).then(|| InState::of(job, was, first, &mut kept)).flatten();
        match in_state {
            Some(state) => judged.extend(state.judge(these)?),
            None => {
                for reading in these {
                    judged.push(corrected::judge(job, was, None, reading)?);
                }
            }
        }
        rest = others;
    }
    Ok(judged)
}
