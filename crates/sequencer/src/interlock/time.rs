//! How long the unit and the parts of the path rest before it is keyed again.

use std::time::Duration;

use spurline_clock::{Clock, Moment};
use spurline_plan::{Heating, Job, Key, Keying, MOST_RISE, Warmed, Way};
use spurline_record::{Interlock, InterlockName};
use spurline_units::{Seconds, Watts};

use super::Aim;
use crate::fault::RunFault;
use crate::resume::{Kept, hottest, keying};
use crate::run::Before;
use crate::scope::{Case, Measuring};

/// What the run has asked of the unit and of the parts of the path so far.
#[derive(Debug, Default)]
pub(crate) struct Keyed {
    /// Since when the key is down, and what that warms.
    down: Option<(Moment, Aim, Vec<Heating>)>,
    /// The key-downs that have ended, counted from the first: what the time was at a moment, and they.
    past: Option<(Moment, Seconds, Keying)>,
}

impl Keyed {
    /// What a run that goes on has asked of them before it broke off.
    pub(crate) fn before(job: &Job, kept: &Kept, clock: Clock) -> Self {
        let now = kept.went_on.unwrap_or_else(|| clock.timestamp());
        let past = keying(job.plan.key, &kept.keyed, &hottest(job), now);
        Self { down: None, past: past.map(|(since, keying)| (clock.now(), since, keying)) }
    }

    /// What was asked of them before this run: parts that are warm, and a key-down in which the carrier was found.
    pub(crate) fn after(key: Key, before: &Before, clock: Clock) -> Self {
        let mut keying = Keying::new(key);
        let mut since = Seconds::default();
        if let Some(found) = before.found {
            // What it warmed is among the warmth of the parts.
            keying.glimpsed(since, found.held, &[]);
            since = found.held + found.ago;
        }
        Self { down: None, past: Some((clock.now(), since, keying.warm_at(since, &before.warm))) }
    }

    pub(crate) fn goes_down(&mut self, now: Moment, aim: Aim, heating: Vec<Heating>) {
        self.down = Some((now, aim, heating));
    }

    pub(crate) fn comes_up(&mut self, key: Key, now: Moment) {
        let Some((down, aim, heating)) = self.down.take() else { return };
        let (start, since, keying) =
            self.past.get_or_insert_with(|| (down, Seconds::default(), Keying::new(key)));
        let at = |moment: Moment| *since + Seconds::from(moment.since(*start));
        match aim {
            Aim::Glimpse => keying.glimpsed(at(down), at(now), &heating),
            Aim::Measure | Aim::Silence => keying.keyed(at(down), at(now), &heating),
        }
    }

    /// How long to wait from now, or the part that becomes too warm however long that is.
    pub(crate) fn wait(&self, key: Key, now: Moment, heating: &[Heating]) -> Result<Seconds, Warmed> {
        match &self.past {
            Some((start, since, keying)) => keying.wait(*since + Seconds::from(now.since(*start)), heating),
            None => Keying::new(key).wait(Seconds::default(), heating),
        }
    }
}

impl Measuring<'_, '_> {
    /// What a case warms on a way: at the most that the plan lets it give, or that was measured of it.
    pub(crate) fn heating(&self, case: &Case<'_>, way: &Way) -> Result<Vec<Heating>, RunFault> {
        let planned = self.job.most_of(case.power);
        let measured = self.done.chain.measured_on(case).map_or(Watts::new(0.0), |level| level.to_watts());
        Ok(self.job.heating(way, case.channel.carrier, planned.max(measured))?)
    }

    /// Lets unit and parts rest for as long as they must before the unit is keyed again.
    pub(crate) async fn let_rest(&mut self, case: &Case<'_>, way: &Way) -> Result<(), RunFault> {
        let heating = self.heating(case, way)?;
        let due = self.done.chain.keyed.wait(self.job.plan.key, self.clock.now(), &heating);
        match due {
            Ok(due) if due > Seconds::default() => self.rest(due.duration()).await,
            // What no rest helps is the interlock's to tell.
            Ok(_) | Err(_) => Ok(()),
        }
    }

    pub(crate) async fn rest(&mut self, span: Duration) -> Result<(), RunFault> {
        self.doing(&format!("let the unit rest for {:.0}", Seconds::from(span)))?;
        self.clock.sleep(span).await;
        // Links die while nothing passes on them, and that must not be found out with the key down.
        self.rack.check().await
    }

    /// The unit has been keyed for no longer than it may be, and no part of the path becomes too warm.
    pub(super) fn rested(&self, case: &Case<'_>, way: &Way) -> Result<[Interlock; 2], RunFault> {
        let (duty, temperature) = (InterlockName::Duty, InterlockName::PartTemperature);
        let key = self.job.plan.key;
        let heating = self.heating(case, way)?;
        let kept = || {
            let why = format!("at most {} in a key-down and {} in any 5 min", key.longest, key.most_in_5_min);
            Interlock::holds(duty, why)
        };
        let percent = 100.0 * MOST_RISE;
        Ok(match self.done.chain.keyed.wait(key, self.clock.now(), &heating) {
            Ok(wait) if wait.duration() > ROUNDED => {
                let why = format!("the unit and what it is keyed into must rest for another {wait:.1}");
                [Interlock::trips(duty, why), Interlock::holds(temperature, "every part is warm as foretold")]
            }
            Ok(_) => {
                let why = format!(
                    "no part rises by more than {percent:.0} % of what it may in a key-down of {}",
                    key.longest
                );
                [kept(), Interlock::holds(temperature, why)]
            }
            Err(hot) => {
                let why = format!(
                    "`{}` would rise by {:.0} % of what it may, to {:.0} degC, in a key-down of {}; at most {percent:.0} % are \
                     let pass",
                    hot.part,
                    100.0 * hot.rise,
                    hot.temperature(),
                    key.longest
                );
                [kept(), Interlock::trips(temperature, why)]
            }
        })
    }
}

/// What is lost between two kinds of numbers.
const ROUNDED: Duration = Duration::from_millis(1);
