//! The present moment, and a time as the wall shows it.

use jiff::Timestamp;
use jiff::tz::TimeZone;
use spurline_clock::{Moment, Pace};

/// The present moment by the machine's clock, and the date.
///
/// # Errors
///
/// If the system is out of something.
pub fn now() -> std::io::Result<(Moment, Timestamp)> {
    spurline_clock::run(Pace::Real, |clock| async move { (clock.now(), clock.timestamp()) })
}

/// A moment in the machine's own zone: date, and time with its offset.
#[must_use]
pub fn local(at: Timestamp) -> (String, String) {
    let zoned = at.to_zoned_datetime(TimeZone::system());
    (zoned.strftime("%Y-%m-%d").to_string(), zoned.strftime("%H:%M %:z").to_string())
}
