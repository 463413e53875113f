//! The carrier's power along the voltage of its supply: at each voltage a key-down with the carrier, its harmonics and the
//! current that is drawn.

mod verdict;

use spurline_plan::{Channel, Extent, PowerSetting, SeriesPoint};
use spurline_record::{EventKind, Outcome, Part, Quantity, Reading, ReasonCode};
use spurline_units::{Amperes, Volts};

use crate::fault::RunFault;
use crate::key_down::Beyond;
use crate::keyed::beating;
use crate::mending::mended;
use crate::scope::{Case, Measuring};
use crate::work::Work;

/// What came at one voltage.
struct Taken {
    point: SeriesPoint,
    carrier: Reading,
    harmonics: Vec<Reading>,
    /// What the supply gave while the unit was keyed.
    drawn: Option<(Volts, Amperes)>,
}

impl Taken {
    /// Whether the unit did not transmit at all.
    fn is_silent(&self) -> bool {
        self.carrier.outcome == Outcome::Invalid && self.carrier.has_reason(ReasonCode::NotKeyed)
    }

    /// Whether it transmitted, and its power was measured.
    fn is_measured(&self) -> bool {
        self.carrier.outcome != Outcome::Invalid
    }
}

impl Measuring<'_, '_> {
    /// The series of supply voltages, if the plan wants one.
    pub(crate) async fn supply_series(&mut self) -> Result<(), RunFault> {
        let job = self.job;
        let (Some(series), Some((channel, power))) = (&job.plan.supply_series, job.series_case()) else {
            return Ok(());
        };
        if self.done.parts.contains(&Part::SupplySeries) {
            return Ok(());
        }
        let points = job.series_points();
        let lines = series.harmonics_up_to.saturating_sub(1) as usize;
        let judged = points.iter().filter(|point| point.judged).count();
        let supply = Some(series.of.0.clone());
        let case = Case { channel, power, supply, extent: Extent::Everything };
        let scope = case.scope(job.carrier_way());
        self.emit(EventKind::ScopeStarted { scope, readings: (1 + judged * lines) as u32 })?;
        let mut taken: Vec<Taken> = Vec::with_capacity(points.len());
        for point in &points {
            taken.push(mended!(self, self.at_voltage(channel, power, point)));
        }
        // A unit that has fallen silent is told from a bench that has by going back to where it transmitted.
        let silent = taken.iter().any(|taken| taken.point.judged && taken.is_silent());
        let was_there = taken.iter().find(|taken| taken.is_measured()).map(|taken| taken.point.clone());
        let back = match was_there.filter(|_| silent) {
            Some(point) => Some(mended!(self, self.at_voltage(channel, power, &point))),
            None => None,
        };
        mended!(self, self.home_again());
        let blank = self.blank_of(&case, job.carrier_way(), Quantity::PowerOverSupply);
        for reading in verdict::judge(job, series, taken, back, blank) {
            self.finish(reading)?;
        }
        self.keep(Some(Part::SupplySeries))
    }

    /// The unit is left as it was found.
    async fn home_again(&mut self) -> Result<(), RunFault> {
        self.feed_home().await?;
        let home = self.home();
        Ok(self.rack.unit.tune(home.channel.carrier, &home.power.name).await?)
    }

    /// Everything at one voltage.
    async fn at_voltage(
        &mut self,
        channel: &Channel,
        power: &PowerSetting,
        point: &SeriesPoint,
    ) -> Result<Taken, RunFault> {
        let case = Case { channel, power, supply: Some(point.label()), extent: Extent::Everything };
        self.place = format!("{} {}", channel.name, case.supply.as_deref().unwrap_or_default());
        self.tap.step(&self.place);
        self.rack.check().await?;
        self.doing(&format!("feed the unit with {}", point.setting.set))?;
        self.rack.feed(&point.setting).await?;
        // A unit whose voltage was changed may have begun anew.
        self.rack.unit.tune(channel.carrier, &power.name).await?;
        self.done.drawn = None;
        self.both_ways(&case).await?;
        let held = std::mem::take(&mut self.done.held);
        let (carriers, mut harmonics): (Vec<Reading>, Vec<Reading>) =
            held.into_iter().partition(|reading| reading.quantity == Quantity::CarrierPower);
        // Where nothing was keyed there is a reading of everything that a channel has.
        let highest = self.job.plan.supply_series.as_ref().map_or(1, |series| series.harmonics_up_to);
        harmonics.retain(|reading| reading.order.is_some_and(|order| order <= highest));
        // Each key-down reads the carrier: the worst of them counts, the first among equals.
        let carrier = carriers.into_iter().rev().max_by_key(|reading| reading.outcome);
        let carrier = carrier.unwrap_or_else(|| self.blank(&case, self.job.carrier_way(), None));
        Ok(Taken { point: point.clone(), carrier, harmonics, drawn: self.done.drawn.take() })
    }

    /// The carrier by its way, the harmonics by theirs.
    async fn both_ways(&mut self, case: &Case<'_>) -> Result<(), RunFault> {
        let (first, second) = (self.job.carrier_way(), self.job.harmonics_way());
        self.switch(case, first).await?;
        if let Some((level, look)) = self.carrier_before_key(case, first).await? {
            return self.refuse_to_key(case, level, look);
        }
        let one = self.job.one_key_down();
        let mut works = vec![Work::Drawn];
        let mut beyond = Vec::new();
        if one {
            let (lines, out) = self.lines_of_series(case).await?;
            works.extend(lines);
            beyond = out;
        }
        let mut carrier = self.key_downs(case, first, None, works).await?;
        if let Some(before) = carrier.clone().ok().filter(|_| !one && self.has_lines()) {
            self.bears(second, case.channel.carrier, Some(before.level))?;
            self.switch(case, second).await?;
            if let Some((level, _)) = self.carrier_before_key(case, second).await? {
                // It came up on its own after it had been seen to go: no relay may move any more.
                return Err(self.stays(level));
            }
            let (lines, out) = self.lines_of_series(case).await?;
            beyond = out;
            carrier = self.key_downs(case, second, Some(before), lines).await?;
        }
        self.all_beyond(case, &carrier, &beyond)
    }

    fn has_lines(&self) -> bool {
        self.job.plan.supply_series.as_ref().is_some_and(|series| series.harmonics_up_to > 1)
    }

    /// The harmonics of the series that are within reach, each looked at without the key, and the others.
    async fn lines_of_series(&mut self, case: &Case<'_>) -> Result<(Vec<Work>, Vec<Beyond>), RunFault> {
        let highest = self.job.plan.supply_series.as_ref().map_or(1, |series| series.harmonics_up_to);
        let (planned, beyond) = self.unkeyed_looks(case, 2..=highest).await?;
        let works = planned.into_iter().map(|planned| Work::Harmonic(Box::new(planned)));
        Ok((works.collect(), beyond))
    }

    /// Asks the supply what it gives.
    pub(crate) async fn read_drawn(&mut self) -> Result<(), RunFault> {
        let Some(supply) = &mut self.rack.supply else { return Ok(()) };
        let measured = beating(self.key, self.clock, supply.measured()).await??;
        self.done.drawn = Some(measured);
        Ok(())
    }
}
