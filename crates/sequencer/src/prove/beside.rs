//! Known lines beside the unit's carrier, both through one combiner: as many on a key-down as its time allows.

use std::time::Duration;

use spurline_instrument::KeyError;
use spurline_keyholder::LeaseError;
use spurline_plan::{Beside, Job, PlannedLine, SETTLE, Way, carrier_look};
use spurline_record::{Acquisition, InterlockName, KnownLine, ProofOutcome};
use spurline_units::{Db, Dbm, Hertz, Seconds};

use super::{Proceeding, Work, attended, line};
use crate::carrier::{ABSENT_DB, seen};
use crate::fault::RunFault;
use crate::interlock::{Aim, before_proof};
use crate::trace;

/// Round trips to generator and analyser for one line, beside its sweeps.
const LINE_EXTRA: Duration = Duration::from_millis(700);
/// The carrier's look and what comes before it.
const CARRIER_EXTRA: Duration = Duration::from_millis(800);
/// How far below its window the carrier may be behind a combiner and still be there.
const PRESENT_DB: f64 = 20.0;

impl Work<'_> {
    /// Reads every line beside the carrier.
    pub(super) async fn all_beside(
        &mut self,
        job: &Job,
        carrier: Beside<'_>,
        planned: &[PlannedLine],
    ) -> Result<(), RunFault> {
        let Some(first) = planned.first() else { return Ok(()) };
        if let (Some(supply), Some(setting)) = (&mut self.rack.supply, job.plan.supplies.first()) {
            supply.feed(setting.set, setting.limit).await?;
        }
        if let Some(unit) = &mut self.rack.unit {
            unit.tune(carrier.channel.carrier, &carrier.power.name).await?;
        }
        self.switch(first.way).await?;
        let way = &job.bench.ways[first.way];
        self.no_carrier(job, way, carrier).await?;
        let mut rest = planned;
        while !rest.is_empty() {
            let (now, later) = rest.split_at(fitting(rest, job.plan.key.longest));
            self.key_down(job, way, carrier, now).await?;
            rest = later;
        }
        Ok(())
    }

    async fn carrier_seen(
        &mut self,
        job: &Job,
        way: &Way,
        carrier: Beside<'_>,
        keyed: bool,
    ) -> Result<(Option<Dbm>, Acquisition), RunFault> {
        let at_input = job.carrier_at_analyser(way, carrier.channel, carrier.power)?;
        let frequency = carrier.channel.carrier;
        let look = carrier_look(job.bench.analyser_profile(), frequency, at_input);
        let work = self.rack.analyser.acquire("carrier", keyed, &look.settings, look.sweeps);
        let look = attended(self.key, self.clock, keyed, work).await??;
        Ok((seen(&look, &way.branch.path, frequency)?, look))
    }

    /// That no carrier is there while the key is up.
    async fn no_carrier(&mut self, job: &Job, way: &Way, carrier: Beside<'_>) -> Result<(), RunFault> {
        let (level, look) = self.carrier_seen(job, way, carrier, false).await?;
        let most = carrier.power.window.low().dbm() - Db::new(ABSENT_DB);
        match level.filter(|level| *level > most) {
            Some(level) if trace::stands_out(&look, carrier.channel.carrier, look.settings.rbw) => {
                Err(RunFault::CarrierStays { level })
            }
            _ => Ok(()),
        }
    }

    async fn key_down(
        &mut self,
        job: &Job,
        way: &Way,
        carrier: Beside<'_>,
        planned: &[PlannedLine],
    ) -> Result<(), RunFault> {
        self.wait_and_key(job, way, carrier).await?;
        self.doing("carrier");
        attended(self.key, self.clock, true, self.clock.sleep(SETTLE)).await?;
        let (level, _) = self.carrier_seen(job, way, carrier, true).await?;
        if let Some(level) = level
            && let Some(source) = job.overload(way, carrier.channel.carrier, level.to_watts())?
        {
            return Err(RunFault::Overload { level, source });
        }
        let least = carrier.power.window.low().dbm() - Db::new(PRESENT_DB);
        let present = level.is_some_and(|level| level >= least);
        let mut read: Vec<KnownLine> = Vec::with_capacity(planned.len());
        for line in planned {
            read.push(if present {
                self.read(line, true).await?
            } else {
                no_carrier(line, way, carrier.channel.carrier)
            });
        }
        let held = self.key.up().await?;
        self.keyed.comes_up(job.plan.key, self.clock.now());
        (self.tell)(Proceeding::KeyUp(Seconds::from(held)));
        for line in read {
            self.keep(line);
        }
        self.doing("see the carrier go");
        self.no_carrier(job, way, carrier).await
    }

    /// Key down, once unit and parts have rested and everything holds that must.
    async fn wait_and_key(&mut self, job: &Job, way: &Way, carrier: Beside<'_>) -> Result<(), RunFault> {
        let longest = job.plan.key.longest;
        let heating = job.heating(way, carrier.channel.carrier, job.most_of(carrier.power))?;
        match self.keyed.wait(job.plan.key, self.clock.now(), &heating) {
            Ok(due) if due > Seconds::default() => self.rest(due.duration()).await?,
            Ok(_) => {}
            Err(hot) => {
                let why = format!("`{}` would become too warm, however long it rests", hot.part);
                return Err(RunFault::Interlock { name: InterlockName::PartTemperature, why });
            }
        }
        loop {
            before_proof(job, way, carrier, self.arming)?;
            match self.key.down(longest.duration()).await {
                Err(KeyError::Lease(LeaseError::Resting(span))) => self.rest(span).await?,
                Err(refused) if refused.is_before_it_was_told() => return Err(refused.into()),
                down => {
                    self.keyed.goes_down(self.clock.now(), Aim::Measure, heating);
                    // Told to go down it may have done so, whatever it answered.
                    (self.tell)(Proceeding::KeyDown(longest));
                    return down.map_err(RunFault::from);
                }
            }
        }
    }
}

impl Work<'_> {
    async fn rest(&mut self, span: Duration) -> Result<(), RunFault> {
        self.doing(&format!("let the unit rest for {:.0}", Seconds::from(span)));
        self.clock.sleep(span).await;
        self.rack.check().await
    }
}

fn no_carrier(planned: &PlannedLine, way: &Way, carrier: Hertz) -> KnownLine {
    let reason = format!("the unit gave no carrier at {carrier} to read it beside");
    line::unread(planned, way.name.clone(), ProofOutcome::Undecided, reason)
}

/// How many lines fit into one key-down; at least one.
fn fitting(planned: &[PlannedLine], longest: Seconds) -> usize {
    let mut left = longest.duration().saturating_sub(SETTLE + CARRIER_EXTRA);
    let fit = planned.iter().take_while(|line| {
        let sweeps = line.look.settings.sweep_time.duration() * line.look.sweeps;
        let taken = left.checked_sub(sweeps * 2 + LINE_EXTRA);
        left = taken.unwrap_or_default();
        taken.is_some()
    });
    fit.count().max(1)
}
