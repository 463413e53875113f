//! A time as the wall shows it, and in UTC.

use jiff::Timestamp;
use jiff::tz::TimeZone;

/// A moment in the machine's own zone.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Wall {
    /// The date.
    pub date: String,
    /// Hours and minutes.
    pub time: String,
    /// The offset of the zone; `UTC` where there is none.
    pub zone: String,
    /// Date, and hours and minutes, in UTC, where that is another time.
    pub utc: Option<(String, String)>,
}

/// A moment as the machine's own zone has it.
#[must_use]
pub fn local(at: Timestamp) -> Wall {
    Wall::of(at, TimeZone::system())
}

impl Wall {
    fn of(at: Timestamp, zone: TimeZone) -> Self {
        let zoned = at.to_zoned_datetime(zone);
        let (date, time) = (zoned.strftime("%Y-%m-%d").to_string(), zoned.strftime("%H:%M").to_string());
        if zoned.offset().is_zero() {
            return Self { date, time, zone: "UTC".to_owned(), utc: None };
        }
        let utc = (at.strftime("%Y-%m-%d").to_string(), at.strftime("%H:%M").to_string());
        Self { date, time, zone: zoned.strftime("%:z").to_string(), utc: Some(utc) }
    }

    /// Hours and minutes, in UTC as well.
    #[must_use]
    pub fn both(&self) -> String {
        match &self.utc {
            Some((_, utc)) => format!("{} ({utc} UTC)", self.time),
            None => format!("{} UTC", self.time),
        }
    }
}

#[cfg(test)]
mod tests {
    use jiff::tz::Offset;

    use super::*;

    #[test]
    fn a_time_is_told_in_both() {
        let at: Timestamp = "2026-05-09T22:05:40Z".parse().unwrap();
        let east = Wall::of(at, TimeZone::fixed(Offset::from_seconds(19_800).unwrap()));
        assert_eq!((east.date.as_str(), east.zone.as_str()), ("2026-05-10", "+05:30"));
        assert_eq!(east.both(), "03:35 (22:05 UTC)");
        assert_eq!(east.utc.unwrap().0, "2026-05-09");
        let utc = Wall::of(at, TimeZone::UTC);
        assert_eq!((utc.both().as_str(), utc.zone.as_str(), utc.utc), ("22:05 UTC", "UTC", None));
    }
}
