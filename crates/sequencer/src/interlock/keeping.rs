//! Whether what is measured can be kept, and dated.

use std::time::Duration;

use jiff::{SignedDuration, Timestamp};
use spurline_clock::{Clock, Moment};
use spurline_record::{EventKind, Interlock, InterlockName};

use crate::fault::RunFault;
use crate::scope::Measuring;

/// A date that is off by more than this against a clock that only counts has been set.
const JUMP: Duration = Duration::from_secs(5);

/// One moment, by the clock that only counts and by the date.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Dates {
    moment: Moment,
    date: Timestamp,
    told: bool,
}

impl Dates {
    pub(crate) fn now(clock: Clock) -> Self {
        Self { moment: clock.now(), date: clock.timestamp(), told: false }
    }

    /// By how much the date has moved against the count since then, if by more than is let pass.
    fn jumped(&self, now: &Self) -> Option<SignedDuration> {
        let counted = SignedDuration::try_from(now.moment.since(self.moment)).ok()?;
        let moved = now.date.duration_since(self.date) - counted;
        (moved.unsigned_abs() > JUMP).then_some(moved)
    }
}

impl Measuring<'_, '_> {
    pub(super) fn store(&mut self) -> Interlock {
        match self.out.ready() {
            Ok(why) => Interlock::holds(InterlockName::Store, why),
            Err(why) => Interlock::trips(InterlockName::Store, why),
        }
    }

    /// A date that was set while the run goes on spoils the times in the record, and nothing else.
    pub(super) fn clock_is_sane(&self) -> Interlock {
        let jumped = self.done.chain.dates.is_some_and(|dates| dates.told);
        let why = if jumped {
            "the machine's date was set while the run went on: its times are not all of one kind"
        } else {
            "the machine's date has gone with its clock"
        };
        Interlock::holds(InterlockName::Clock, why)
    }

    /// Tells once that the date was set.
    pub(super) fn tell_of_dates(&mut self) -> Result<(), RunFault> {
        let now = Dates::now(self.clock);
        let Some(dates) = &mut self.done.chain.dates else {
            self.done.chain.dates = Some(now);
            return Ok(());
        };
        let jumped = dates.jumped(&now).filter(|_| !dates.told);
        let Some(moved) = jumped else { return Ok(()) };
        dates.told = true;
        let seconds = moved.as_secs_f64();
        self.emit(EventKind::Note(format!(
            "the machine's date was set by {seconds:+.0} s while the run went on: times before and after do not compare"
        )))
    }
}

#[cfg(test)]
mod tests {
    use spurline_clock::{Pace, run};

    use super::*;

    #[test]
    fn a_date_that_was_set_is_found_out_both_ways() {
        run(Pace::Fast, |clock| async move {
            let began = Dates::now(clock);
            clock.sleep(Duration::from_secs(3600)).await;
            let now = Dates::now(clock);
            assert_eq!(began.jumped(&now), None);
            for (by, found) in [(4, None), (-4, None), (6, Some(6)), (-6, Some(-6)), (86_400, Some(86_400))] {
                let set = Dates { date: now.date + SignedDuration::from_secs(by), ..now };
                assert_eq!(began.jumped(&set).map(|moved| moved.as_secs()), found, "set by {by} s");
            }
        })
        .unwrap();
    }
}
