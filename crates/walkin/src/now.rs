//! A time as the wall shows it.

use jiff::Timestamp;
use jiff::tz::TimeZone;

/// A moment in the machine's own zone: date, and time with its offset.
#[must_use]
pub fn local(at: Timestamp) -> (String, String) {
    let zoned = at.to_zoned_datetime(TimeZone::system());
    (zoned.strftime("%Y-%m-%d").to_string(), zoned.strftime("%H:%M %:z").to_string())
}
