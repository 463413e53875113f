//! A moment as people read it: by the clock on their wall, and in UTC, which the record is kept in.

use jiff::Timestamp;
use jiff::tz::Offset;

/// `2026-11-26 19:21:18 +01:00 (2026-11-26 18:21:18 UTC)`; once where both are the same.
#[must_use]
pub fn when(at: Timestamp, local: Offset) -> String {
    const FORMAT: &str = "%Y-%m-%d %H:%M:%S";
    let utc = at.strftime(FORMAT);
    if local == Offset::UTC {
        return format!("{utc} UTC");
    }
    format!("{} {} ({utc} UTC)", local.to_datetime(at).strftime(FORMAT), shown(local))
}

/// `+01:00`.
#[must_use]
pub fn shown(offset: Offset) -> String {
    let minutes = offset.seconds() / 60;
    let sign = if minutes < 0 { '-' } else { '+' };
    format!("{sign}{:02}:{:02}", minutes.abs() / 60, minutes.abs() % 60)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn local_time_stands_first_and_utc_behind_it() {
        let at: Timestamp = "2026-11-26T23:21:18Z".parse().unwrap();
        let east = Offset::from_seconds(5 * 3600 + 1800).unwrap();
        assert_eq!(when(at, Offset::UTC), "2026-11-26 23:21:18 UTC");
        assert_eq!(when(at, east), "2026-11-27 04:51:18 +05:30 (2026-11-26 23:21:18 UTC)");
        assert_eq!(when(at, -east), "2026-11-26 17:51:18 -05:30 (2026-11-26 23:21:18 UTC)");
    }
}
