//! Moments as they are shown: by the clock of this machine, and in UTC.

use jiff::Timestamp;

/// A moment for people.
pub(crate) fn when(at: Timestamp) -> String {
    spurline_report::when(at, spurline_runner::offset(at))
}

/// Day, and time with its offset, for a narrow column; `None` where the time here is UTC, which the names of runs have.
pub(crate) fn in_a_column(at: Timestamp) -> Option<String> {
    let offset = spurline_runner::offset(at);
    let here = offset.to_datetime(at);
    let shown = || format!("{} {}", here.strftime("%Y-%m-%d\n%H:%M"), spurline_report::offset_shown(offset));
    (offset != jiff::tz::Offset::UTC).then(shown)
}
