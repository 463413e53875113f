//! The carrier's power along a key-down of its own, from key down on.

use spurline_plan::{Extent, OverTime, Way, suited, zero_span_look};
use spurline_record::{Quantity, Reading, Reason};
use spurline_units::Seconds;

use crate::by_hand;
use crate::carrier::{Sample, Shown, judge_over_time};
use crate::fault::RunFault;
use crate::interlock::Aim;
use crate::keyed::beating;
use crate::possible::MeasuredCarrier;
use crate::scope::{Case, Measuring};

impl Measuring<'_, '_> {
    /// Follows the power of a carrier that was measured, if the plan wants that.
    pub(crate) async fn over_time(
        &mut self,
        case: &Case<'_>,
        carrier: &Result<MeasuredCarrier, Reason>,
    ) -> Result<(), RunFault> {
        let Some(over_time) = self.wanted_over_time(case) else { return Ok(()) };
        if let Err(reason) = carrier {
            return self.no_over_time(case, reason);
        }
        let way = self.job.carrier_way();
        if !self.job.one_key_down() {
            self.switch(case, way).await?;
        }
        let samples = self.samples(case, way, over_time).await;
        let samples = match self.up_after(samples).await {
            Ok(samples) => samples,
            Err(fault) => match by_hand::nobody_keyed(&fault) {
                Some(reason) => return self.no_over_time(case, &reason),
                None => return Err(fault),
            },
        };
        self.confirm_gone(case, way).await?;
        let blank = self.blank_of(case, way, Quantity::PowerOverTime);
        let reading = judge_over_time(self.job, case.power, samples, blank)?;
        self.finish(reading)
    }

    fn wanted_over_time(&self, case: &Case<'_>) -> Option<OverTime> {
        self.job.plan.measure.over_time.filter(|_| case.extent == Extent::Everything)
    }

    /// The reading where there is no carrier to follow.
    pub(crate) fn no_over_time(&mut self, case: &Case<'_>, reason: &Reason) -> Result<(), RunFault> {
        if self.wanted_over_time(case).is_none() {
            return Ok(());
        }
        let blank = self.blank_of(case, self.job.carrier_way(), Quantity::PowerOverTime);
        self.finish(Reading { reason: Some(reason.clone()), ..blank })
    }

    /// Everything between key down and key up; the caller brings the key up.
    async fn samples(
        &mut self,
        case: &Case<'_>,
        way: &Way,
        over_time: OverTime,
    ) -> Result<Vec<Sample>, RunFault> {
        let mut samples = Vec::with_capacity(over_time.count() as usize);
        self.wait_and_key(case, way, Aim::Measure).await?;
        let began = self.clock.now();
        self.doing(&format!("follow the power for {}", over_time.span))?;
        for number in 0..over_time.count() {
            if self.clock.now().since(began) > (over_time.span + over_time.every).duration() {
                // The instrument is slower than the plan: what there is will do, and the key comes up in time.
                break;
            }
            let due = began.after((over_time.every * f64::from(number)).duration());
            beating(self.key, self.clock, self.clock.sleep(due.since(self.clock.now()))).await?;
            let before = self.clock.now();
            let shown = self.shown(case, way).await?;
            // It belongs to the middle of the time that it took.
            let (from, to) = (before.since(began), self.clock.now().since(began));
            samples.push(Sample { at: Seconds::from((from + to) / 2), shown });
        }
        Ok(samples)
    }

    /// The power now: by the meter, or by the analyser where there is none.
    async fn shown(&mut self, case: &Case<'_>, way: &Way) -> Result<Shown, RunFault> {
        let carrier = case.channel.carrier;
        if let Some(meter) = &mut self.rack.meter {
            return Ok(Shown::Meter(beating(self.key, self.clock, meter.read(carrier)).await??));
        }
        let at_input = self.job.carrier_at_analyser(way, case.channel, case.power)?;
        let mut look = zero_span_look(self.job.bench.analyser_profile(), carrier, at_input);
        look.sweeps = 1;
        let look = suited(look, &self.job.plan.modulation);
        Ok(Shown::Analyser(Box::new(self.keyed_look("power over time", &look).await?)))
    }
}
