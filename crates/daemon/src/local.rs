//! A moment in a time zone, as the finder of times wants it.

use std::cmp::Ordering;

use croner::errors::CronError;
use croner::{CivilDateTime, CronDateTime, Resolution, Weekday};
use jiff::civil::DateTime;
use jiff::tz::{AmbiguousOffset, TimeZone};
use jiff::{SignedDuration, Timestamp};

/// A moment in a time zone.
#[derive(Clone, Debug)]
pub(crate) struct Local {
    /// The moment.
    pub(crate) at: Timestamp,
    /// The time zone.
    pub(crate) zone: TimeZone,
}

impl Local {
    fn civil(&self) -> DateTime {
        self.zone.to_datetime(self.at)
    }

    fn at(&self, at: Timestamp) -> Self {
        Self { at, zone: self.zone.clone() }
    }
}

impl CronDateTime for Local {
    fn to_civil(&self) -> CivilDateTime {
        let civil = self.civil();
        let part = |part: i8| u32::from(part.unsigned_abs());
        CivilDateTime::from_ymd_hms(
            i32::from(civil.year()),
            part(civil.month()),
            part(civil.day()),
            part(civil.hour()),
            part(civil.minute()),
            part(civil.second()),
        )
        .expect("it is a date and a time of day already")
    }

    fn civil_weekday(&self) -> Weekday {
        let days = self.civil().weekday().to_sunday_zero_offset();
        Weekday::from_days_from_sunday(u32::from(days.unsigned_abs()))
    }

    fn resolve_civil(&self, civil: CivilDateTime) -> Result<Resolution<Self>, CronError> {
        let small = |part: u32| i8::try_from(part).map_err(|_| CronError::InvalidDate);
        let year = i16::try_from(civil.year()).map_err(|_| CronError::InvalidDate)?;
        let wanted = DateTime::new(
            year,
            small(civil.month())?,
            small(civil.day())?,
            small(civil.hour())?,
            small(civil.minute())?,
            small(civil.second())?,
            0,
        );
        let found = self.zone.to_ambiguous_timestamp(wanted.map_err(|_| CronError::InvalidDate)?);
        let moment = |found: Result<Timestamp, jiff::Error>| {
            found.map(|at| self.at(at)).map_err(|_| CronError::InvalidTime)
        };
        Ok(match found.offset() {
            AmbiguousOffset::Unambiguous { .. } => Resolution::Single(moment(found.unambiguous())?),
            AmbiguousOffset::Fold { .. } => {
                Resolution::Ambiguous(moment(found.earlier())?, moment(found.later())?)
            }
            AmbiguousOffset::Gap { .. } => Resolution::Gap,
        })
    }

    fn checked_add_seconds(&self, seconds: i64) -> Option<Self> {
        self.at.checked_add(SignedDuration::from_secs(seconds)).ok().map(|at| self.at(at))
    }

    fn cmp_instant(&self, other: &Self) -> Ordering {
        self.at.cmp(&other.at)
    }
}
