//! What cannot be worked out from raw looks: the recorded figure is moved by what the loss of the path changes, its
//! uncertainty gets the lines of the new path, and it is held against the new limit.

use spurline_path::PathError;
use spurline_plan::Job;
use spurline_record::{Reading, VerdictReading};

use super::recorded as as_recorded;
use crate::possible::MeasuredCarrier;

/// Judges a reading again by its recorded figure.
pub(super) fn judge(
    _job: &Job,
    _was: &Job,
    _carrier: Option<&MeasuredCarrier>,
    recorded: &Reading,
) -> Result<VerdictReading, PathError> {
    Ok(as_recorded(recorded))
}
