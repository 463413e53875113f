//! Which times a plan is due at.

use croner::Cron;
use croner::parser::{CronParser, Seconds, Year};
use jiff::Timestamp;
use jiff::tz::TimeZone;

use crate::local::Local;

/// A plan that is measured at certain times.
#[derive(Clone, Debug)]
pub struct Schedule {
    /// Its name.
    pub name: String,
    /// On which bench.
    pub bench: String,
    /// By which plan.
    pub plan: String,
    /// When.
    pub times: Cron,
    /// In which time zone.
    pub zone: TimeZone,
}

/// Minute, hour, day of the month, month, day of the week, as `crontab` has them.
///
/// # Errors
///
/// What is wrong with it, in words.
pub(crate) fn parse(text: &str) -> Result<Cron, String> {
    let parser = CronParser::builder().seconds(Seconds::Disallowed).year(Year::Disallowed).build();
    parser.parse(text).map_err(|error| error.to_string())
}

impl Schedule {
    /// When it is due next after a moment; `None` if never.
    #[must_use]
    pub fn next(&self, after: Timestamp) -> Option<Timestamp> {
        let local = Local { at: after, zone: self.zone.clone() };
        self.times.find_next_occurrence(&local, false).ok().map(|next| next.at)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn next(times: &str, zone: &str, after: &str) -> String {
        let schedule = Schedule {
            name: "n".to_owned(),
            bench: "b".to_owned(),
            plan: "p".to_owned(),
            times: parse(times).unwrap(),
            zone: TimeZone::get(zone).unwrap(),
        };
        schedule.next(after.parse().unwrap()).unwrap().to_string()
    }

    /// By the calendar: 26 November 2026 is a Thursday.
    #[test]
    fn the_next_time_is_that_of_its_zone() {
        assert_eq!(next("0 2 * * MON-FRI", "UTC", "2026-11-26T02:00:00Z"), "2026-11-27T02:00:00Z");
        assert_eq!(next("0 2 * * MON-FRI", "UTC", "2026-11-27T02:00:00Z"), "2026-11-30T02:00:00Z");
        assert_eq!(next("30 23 26 11 *", "UTC", "2026-11-26T23:29:59Z"), "2026-11-26T23:30:00Z");
    }

    /// The last Sunday of March has no 02:30 in Berlin, that of October has two (EU directive 2000/84/EC): a night has one
    /// run all the same.
    #[test]
    fn a_night_when_the_clocks_change_has_one_run() {
        let first = next("30 2 * * *", "Europe/Berlin", "2026-10-24T12:00:00Z");
        assert_eq!(first, "2026-10-25T00:30:00Z");
        assert_eq!(next("30 2 * * *", "Europe/Berlin", &first), "2026-10-26T01:30:00Z");
        let spring = next("30 2 * * *", "Europe/Berlin", "2026-03-28T12:00:00Z");
        assert!(spring.starts_with("2026-03-29T01:"), "{spring}");
    }

    #[test]
    fn seconds_and_nonsense_are_refused() {
        for text in ["* * * * * *", "61 * * * *", "now", "", "0 2 * * MON-"] {
            assert!(parse(text).is_err(), "{text}");
        }
    }
}
