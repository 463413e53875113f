//! One key-down: what is looked at before, between key down and key up, and after.

use std::time::Duration;

use spurline_clock::Moment;
use spurline_instrument::KeyError;
use spurline_keyholder::LeaseError;
use spurline_plan::{
    Approach, GLIMPSE_LONGEST, LineTask, Look, Modulation, SETTLE, Way, carrier_look, first_look, next_look,
    suited, width_look, zero_span_look,
};
use spurline_profile::AnalyserProfile;
use spurline_record::{Acquisition, EventKind, MeterReading, Outcome, Reading, Reason};
use spurline_units::{Db, Dbm, Hertz, Seconds};

use crate::ambient::{self, AT_THE_BEGINNING, AT_THE_END, BEFORE, Source};
use crate::by_hand;
use crate::carrier::{
    self, ABSENT_DB, AgainLooks, CARRIER_LOOK, CarrierAgain, CarrierLooks, JudgedCarrier, WIDTH_LOOK,
};
use crate::fault::RunFault;
use crate::interlock::{Aim, Air};
use crate::keyed::beating;
use crate::line::{Line, LineCase};
use crate::possible::{self, MeasuredCarrier};
use crate::scope::{Case, Measuring};
use crate::trace;
use crate::work::Work;

const METER_READINGS: usize = 3;
/// Of bursts: a reading holds no whole number of them, many that begin at other moments do in the mean.
const BURST_READINGS: usize = 12;
/// Each begins this share of a period later: by the golden ratio no two begin alike.
const LATER: f64 = 0.381_966;
/// How often a power meter that still shows something after key up is asked again, and how soon.
const METER_TRIES: u32 = 5;
const METER_AGAIN_AFTER: Duration = Duration::from_millis(200);

/// What a key-down finds out about the carrier.
pub(crate) enum Carrier {
    /// Everything.
    First,
    /// That it has come again and is the one of the key-down before.
    Again(MeasuredCarrier),
}

/// One harmonic that is within reach, with its look taken while the unit was not keyed.
pub(crate) struct Planned {
    pub(crate) order: u32,
    pub(crate) task: LineTask,
    pub(crate) look: Look,
    pub(crate) unkeyed: Acquisition,
    /// The same with the unit off, if something was there.
    pub(crate) off: Option<Acquisition>,
    pub(crate) source: Source,
}

/// How much of a key-down is left for more than what was planned.
#[derive(Clone, Copy)]
pub(crate) struct Left {
    ends: Moment,
    /// What the looks that are still to come need.
    reserved: Seconds,
}

/// More looks than this at one line have never decided it.
const MOST_LOOKS: usize = 8;
/// What the last look and key up need.
const END_EXTRA: f64 = 1.0;

/// One harmonic that is not.
pub(crate) struct Beyond {
    pub(crate) order: u32,
    pub(crate) why: String,
}

impl Measuring<'_, '_> {
    fn profile(&self) -> &AnalyserProfile {
        self.job.bench.analyser_profile()
    }

    /// The look at the carrier by a way.
    pub(crate) fn carrier_look(&self, case: &Case<'_>, way: &Way) -> Result<Look, RunFault> {
        let at_input = self.job.carrier_at_analyser(way, case.channel, case.power)?;
        let look = carrier_look(self.profile(), case.channel.carrier, at_input);
        Ok(suited(look, &self.job.plan.modulation))
    }

    /// The level of the carrier that is there while the unit is keyed, if one is.
    pub(crate) async fn carrier_now(&mut self, case: &Case<'_>, way: &Way) -> Result<Option<Dbm>, RunFault> {
        let look = self.carrier_look(case, way)?;
        let seen = self.keyed_look("carrier moved", &look).await?;
        self.present(case, way, &seen)
    }

    /// The level and the look of a carrier that is there although the unit is not keyed.
    pub(crate) async fn carrier_before_key(
        &mut self,
        case: &Case<'_>,
        way: &Way,
    ) -> Result<Option<(Dbm, Acquisition)>, RunFault> {
        self.doing("look while the unit is not keyed")?;
        let look = self.carrier_look(case, way)?;
        let before = self.look("unkeyed carrier", &look).await?;
        let present = self.present(case, way, &before)?;
        self.done.chain.air = present.map_or(Air::Free, Air::Taken);
        Ok(present.map(|level| (level, before)))
    }

    /// The level of a carrier in a look in which there should be none. Noise behind a path that holds the carrier
    /// back can come to as much at the connector, and is none.
    fn present(&self, case: &Case<'_>, way: &Way, look: &Acquisition) -> Result<Option<Dbm>, RunFault> {
        let carrier = case.channel.carrier;
        let level = carrier::seen(look, &way.branch.path, carrier)?;
        let most = by_hand::least_of(case);
        let is_line = trace::stands_out(look, carrier, look.settings.rbw);
        Ok(level.filter(|level| *level > most && is_line))
    }

    /// A look while the unit is not keyed.
    pub(crate) async fn look(&mut self, purpose: &str, look: &Look) -> Result<Acquisition, RunFault> {
        Ok(self.rack.analyser.acquire(purpose, false, &look.settings, look.sweeps).await?)
    }

    /// A look while the key is down, with the lease kept alive.
    pub(crate) async fn keyed_look(&mut self, purpose: &str, look: &Look) -> Result<Acquisition, RunFault> {
        let work = self.rack.analyser.acquire(purpose, true, &look.settings, look.sweeps);
        Ok(beating(self.key, self.clock, work).await??)
    }

    /// The harmonics of some orders that are within reach, each looked at, and those that are not.
    pub(crate) async fn unkeyed_looks(
        &mut self,
        case: &Case<'_>,
        orders: impl Iterator<Item = u32>,
    ) -> Result<(Vec<Planned>, Vec<Beyond>), RunFault> {
        let (mut planned, mut beyond) = (Vec::new(), Vec::new());
        for order in orders {
            let findings = self.job.findings_over_window(case.channel, case.power, order);
            match self.job.approach(case.channel, case.power, order, &findings)? {
                Approach::Beyond(why) => beyond.push(Beyond { order, why }),
                Approach::Within { task, look, .. } => {
                    let unkeyed = self.look(BEFORE, &look).await?;
                    let source = Source::Unknown;
                    planned.push(Planned { order, task, look, unkeyed, off: None, source });
                }
            }
        }
        self.with_the_unit_off(case, &mut planned).await?;
        Ok((planned, beyond))
    }

    /// Keys, reads, brings the key up whatever came of it, and sees the carrier go.
    pub(crate) async fn key_down(
        &mut self,
        case: &Case<'_>,
        way: &Way,
        carrier: Carrier,
        works: Vec<Work>,
    ) -> Result<Result<MeasuredCarrier, Reason>, RunFault> {
        let first = self.done.held.len();
        let keyed = self.keyed(case, way, carrier, works).await;
        // Whatever came of it, nothing needs the carrier any more.
        let done = self.up_after(keyed).await;
        if done.as_ref().is_err_and(RunFault::is_still_down) {
            return done;
        }
        let gone = if done.is_ok() { self.confirm_gone(case, way).await } else { Ok(()) };
        self.judge_spectra(case)?;
        let carrier = done?;
        gone?;
        self.after_spectra(case).await?;
        self.after_key_up(first).await?;
        Ok(carrier)
    }

    /// Everything between key down and key up; the caller brings the key up.
    async fn keyed(
        &mut self,
        case: &Case<'_>,
        way: &Way,
        carrier: Carrier,
        works: Vec<Work>,
    ) -> Result<Result<MeasuredCarrier, Reason>, RunFault> {
        let first = self.done.held.len();
        let ends = match self.wait_and_key(case, way, Aim::Measure).await {
            Ok(ends) => ends,
            Err(fault) => match by_hand::nobody_keyed(&fault) {
                Some(reason) => return self.nobody_keyed(case, way, &carrier, &works, reason).map(Err),
                None => return Err(fault),
            },
        };
        self.doing("carrier")?;
        self.settle().await?;
        let blank = self.blank(case, way, None);
        let at_input = self.job.carrier_at_analyser(way, case.channel, case.power)?;
        let (level, measured, zero_span, left) = match carrier {
            Carrier::First => {
                let looks = self.carrier_looks(case, at_input).await?;
                let zero_span = looks.zero_span.clone();
                let JudgedCarrier { reading, measured } = carrier::judge(self.job, case.power, looks, blank)?;
                let level = reading.level();
                self.finish(reading)?;
                (level, measured, zero_span, None)
            }
            Carrier::Again(before) => {
                let looks = AgainLooks {
                    zero_span: self.zero_span(case, at_input).await?,
                    meter: self.meter_readings(case.channel.carrier).await?,
                };
                let zero_span = looks.zero_span.clone();
                let again = carrier::judge_again(self.job, way, case.power, &before, looks, blank)?;
                let CarrierAgain { reading, measured, left, variation } = again;
                let level = reading.as_ref().and_then(Reading::level);
                if let Some(reading) = reading {
                    self.finish(reading)?;
                }
                (level, measured, zero_span, left.map(|look| (look, variation)))
            }
        };
        self.bears(way, case.channel.carrier, level)?;
        if let Some(level) = level {
            self.done.chain.measured(case, level);
        }
        self.ask_supply(case, &works, first).await?;
        let mut reserved = works.iter().fold(Seconds::new(END_EXTRA), |sum, work| sum + work.time());
        for work in works {
            reserved = reserved - work.time();
            let readings = match &measured {
                // What the supply gives tells why a carrier did not come.
                _ if matches!(work, Work::Drawn) => {
                    self.read_drawn().await?;
                    Vec::new()
                }
                Ok(carrier) => self.perform(case, carrier, work, Left { ends, reserved }).await?,
                Err(reason) => self.not_done(case, &work, reason),
            };
            for reading in readings {
                self.finish(reading)?;
            }
        }
        if let (Some(left), Some(reading)) = (left, self.done.held.get_mut(first)) {
            holds_the_beginning(reading, left);
        }
        self.carrier_at_the_end(case, &zero_span, first).await?;
        Ok(measured)
    }

    /// The readings of a key-down that did not come to be, and why nothing else is measured.
    fn nobody_keyed(
        &mut self,
        case: &Case<'_>,
        way: &Way,
        carrier: &Carrier,
        works: &[Work],
        reason: Reason,
    ) -> Result<Reason, RunFault> {
        if matches!(carrier, Carrier::First) {
            let blank = self.blank(case, way, None);
            self.finish(Reading { reason: Some(reason.clone()), ..blank })?;
        }
        for work in works {
            for reading in self.not_done(case, work, &reason) {
                self.finish(reading)?;
            }
        }
        Ok(reason)
    }

    /// Looks at the carrier once more: what changed while its harmonics were read says nothing about them.
    async fn carrier_at_the_end(
        &mut self,
        case: &Case<'_>,
        at_first: &Acquisition,
        first: usize,
    ) -> Result<(), RunFault> {
        self.doing("the carrier once more")?;
        let look = Look { settings: at_first.settings, sweeps: 1 };
        let last = self.keyed_look(AT_THE_END, &look).await?;
        let (change, reason) = carrier::changed(self.job, case.power, at_first, &last);
        if let Some(reason) = &reason {
            self.done.search.doubt(reason);
        }
        for reading in &mut self.done.held[first..] {
            told_of_change(reading, change, reason.as_ref());
        }
        if let Some(reading) = self.done.held.get_mut(first) {
            reading.acquisitions.push(last);
        }
        Ok(())
    }

    /// That the bench bears the carrier that was measured, whatever the plan expected; else the run ends here.
    pub(crate) fn bears(&self, way: &Way, carrier: Hertz, level: Option<Dbm>) -> Result<(), RunFault> {
        let Some(level) = level else { return Ok(()) };
        match self.job.overload(way, carrier, level.to_watts())? {
            Some(source) => Err(RunFault::Overload { level, source }),
            None => Ok(()),
        }
    }

    /// Key down, once the unit has rested.
    pub(crate) async fn wait_and_key(
        &mut self,
        case: &Case<'_>,
        way: &Way,
        aim: Aim,
    ) -> Result<Moment, RunFault> {
        let longest = self.longest(aim);
        self.let_rest(case, way).await?;
        loop {
            self.confirm_switched(way).await?;
            self.interlocks(case, way, aim).await?;
            let heating = self.heating(case, way)?;
            if self.is_by_hand() {
                return self.keyed_by_hand(case, way, aim, heating).await;
            }
            // Before it is told: whatever dies then, the record has that the unit may have been keyed.
            self.done.key_is_down = true;
            self.emit(EventKind::KeyDown { lease: longest })?;
            match self.key.down(longest.duration()).await {
                Err(KeyError::Lease(LeaseError::Resting(span))) => {
                    self.not_keyed()?;
                    self.rest(span).await?;
                }
                Err(refused) if refused.is_before_it_was_told() => {
                    self.not_keyed()?;
                    return Err(refused.into());
                }
                down => {
                    // Told to go down it may have done so, whatever it answered.
                    self.done.chain.air = Air::Unknown;
                    self.done.chain.keyed.goes_down(self.clock.now(), aim, heating);
                    down?;
                    return Ok(self.clock.now().after(longest.duration()));
                }
            }
        }
    }

    /// The key was refused before its line was told anything.
    fn not_keyed(&mut self) -> Result<(), RunFault> {
        self.done.key_is_down = false;
        self.emit(EventKind::KeyUp { held: Seconds::default() })
    }

    /// The longest that the unit is keyed for.
    pub(crate) fn longest(&self, aim: Aim) -> Seconds {
        let longest = self.job.plan.key.longest;
        if aim == Aim::Glimpse { longest.min(GLIMPSE_LONGEST) } else { longest }
    }

    /// Lets the unit come to its full power.
    pub(crate) async fn settle(&mut self) -> Result<(), RunFault> {
        Ok(beating(self.key, self.clock, self.clock.sleep(SETTLE)).await?)
    }

    async fn zero_span(&mut self, case: &Case<'_>, at_input: Dbm) -> Result<Acquisition, RunFault> {
        let look = zero_span_look(self.profile(), case.channel.carrier, at_input);
        let look = suited(look, &self.job.plan.modulation);
        self.keyed_look(AT_THE_BEGINNING, &look).await
    }

    async fn carrier_looks(&mut self, case: &Case<'_>, at_input: Dbm) -> Result<CarrierLooks, RunFault> {
        let carrier = case.channel.carrier;
        let modulation = &self.job.plan.modulation;
        let look = suited(carrier_look(self.profile(), carrier, at_input), modulation);
        let width = width_look(self.profile(), carrier, at_input);
        let mut looks = CarrierLooks {
            zero_span: self.zero_span(case, at_input).await?,
            carrier: self.keyed_look(CARRIER_LOOK, &look).await?,
            width: self.keyed_look(WIDTH_LOOK, &width).await?,
            meter: self.meter_readings(carrier).await?,
        };
        if !carrier::cross_check_holds(self.job, &looks, carrier)? {
            // Once more before it is called a fault: one bad moment is not a wrong path.
            looks.carrier = self.keyed_look(CARRIER_LOOK, &look).await?;
            looks.meter = self.meter_readings(carrier).await?;
        }
        Ok(looks)
    }

    /// Readings of the power meter; none without one.
    pub(crate) async fn meter_readings(&mut self, carrier: Hertz) -> Result<Vec<MeterReading>, RunFault> {
        let burst = match self.job.plan.modulation {
            Modulation::Burst { period, .. } => Some(period),
            Modulation::None | Modulation::Tone { .. } | Modulation::Am { .. } => None,
        };
        let count = if burst.is_some() { BURST_READINGS } else { METER_READINGS };
        let mut readings = Vec::with_capacity(count);
        if let Some(meter) = &mut self.rack.meter {
            for _ in 0..count {
                let work = meter.read(carrier);
                readings.extend(beating(self.key, self.clock, work).await??);
                if let Some(period) = burst {
                    let on = self.clock.sleep((period * LATER).duration());
                    beating(self.key, self.clock, on).await?;
                }
            }
        }
        Ok(readings)
    }

    /// Looks at a line until it is decided, or nothing more helps, or the time is over.
    pub(crate) async fn harmonic(
        &mut self,
        case: &Case<'_>,
        carrier: &MeasuredCarrier,
        planned: Planned,
        left: Left,
    ) -> Result<Reading, RunFault> {
        let blank = self.blank(case, self.job.harmonics_way(), Some(planned.order));
        let Planned { order, mut task, look, unkeyed, off, source } = planned;
        self.doing(&format!("harmonic {order} at {}", task.frequency))?;
        let possible = possible::limits(self.job, carrier, task.frequency);
        let case = LineCase::new(self.job, &task, carrier, &possible);
        let look = if case.occupied > task.occupied {
            // Wider than the plan knew.
            task.occupied = case.occupied;
            suited(first_look(self.profile(), &task), &self.job.plan.modulation)
        } else {
            look
        };
        let line = Line::new(case, ambient::looks(unkeyed, off), source)?;
        let line = self.looked_until_decided(line, &task, vec![look], None, left).await?;
        Ok(line.finish(blank)?)
    }

    /// Looks at a line, as at first planned in `tried`, until it is decided or nothing more helps or the time is over;
    /// `first` is that look if it has been taken.
    pub(crate) async fn looked_until_decided<'l>(
        &mut self,
        mut line: Line<'l>,
        task: &LineTask,
        mut tried: Vec<Look>,
        mut first: Option<Acquisition>,
        left: Left,
    ) -> Result<Line<'l>, RunFault> {
        let purpose = if task.order > 1 { "harmonic" } else { "spurious emission" };
        loop {
            let look = tried.last().expect("there is a first look");
            let seen = match first.take() {
                Some(seen) => seen,
                None => self.keyed_look(purpose, look).await?,
            };
            line.add(seen)?;
            let Some(hindrance) = line.hindrance()?.filter(|_| tried.len() < MOST_LOOKS) else { break };
            let time = left.time(self.clock.now());
            let next = next_look(self.profile(), task, &tried, hindrance, time);
            // What the modulation asks for may take longer than there is.
            let next =
                next.map(|look| suited(look, &self.job.plan.modulation)).filter(|look| look.time() <= time);
            let Some(next) = next.filter(|look| !tried.contains(look)) else { break };
            tried.push(next);
        }
        Ok(line)
    }

    /// Brings the key up, whatever came of what was done while it was down.
    pub(crate) async fn up_after<T>(&mut self, done: Result<T, RunFault>) -> Result<T, RunFault> {
        if done.as_ref().is_err_and(RunFault::is_still_down) {
            // It was tried for long enough: now the supply is the way off.
            return done;
        }
        let up = self.key_up().await;
        // That the key is not surely up matters more than what went wrong before; that it could not be written down
        // does not.
        if let Err(fault @ (RunFault::Key(_) | RunFault::CarrierStays { .. })) = up {
            return Err(fault);
        }
        let done = done?;
        up?;
        Ok(done)
    }

    pub(crate) async fn key_up(&mut self) -> Result<(), RunFault> {
        let by_hand = self.let_go().await?;
        let lease = self.key.up().await?;
        // What a thumb held had no need of the lease.
        let held = by_hand.unwrap_or(lease);
        self.done.chain.keyed.comes_up(self.job.plan.key, self.clock.now());
        if std::mem::take(&mut self.done.key_is_down) || !held.is_zero() {
            self.emit(EventKind::KeyUp { held: Seconds::from(held) })?;
        }
        Ok(())
    }

    /// The effect is verified, not the command: the carrier must be gone.
    pub(crate) async fn confirm_gone(&mut self, case: &Case<'_>, way: &Way) -> Result<(), RunFault> {
        self.doing("see the carrier go")?;
        let look = self.carrier_look(case, way)?;
        let after = self.look("after key up", &look).await?;
        let seen = self.present(case, way, &after)?;
        match seen.or(self.meter_sees(case).await?) {
            Some(level) => Err(self.stays(level)),
            None => {
                self.done.chain.air = Air::Free;
                Ok(())
            }
        }
    }

    /// A carrier that stays when the key comes up: nothing is keyed any more.
    pub(crate) fn stays(&mut self, level: Dbm) -> RunFault {
        self.done.chain.air = Air::Stayed(level);
        self.tell_of_stay(level);
        RunFault::CarrierStays { level }
    }

    /// The level that a power meter shows while there should be none: less than a carrier by far, and more than the
    /// least that it reads.
    pub(crate) async fn meter_sees(&mut self, case: &Case<'_>) -> Result<Option<Dbm>, RunFault> {
        let carrier = case.channel.carrier;
        let (Some(branch), Some(profile)) = (&self.job.bench.meter, self.job.bench.meter_profile()) else {
            return Ok(None);
        };
        let Some(meter) = &mut self.rack.meter else { return Ok(None) };
        let loss = branch.path.loss_at(carrier)?.total;
        let most = (case.power.window.low().dbm() - Db::new(ABSENT_DB) - loss).max(profile.level.low());
        let mut seen = None;
        for _ in 0..METER_TRIES {
            let mut shown = meter.read(carrier).await?;
            if shown.is_none() {
                // No number may be no power, or a bad answer: only twice in a row is it believed.
                shown = meter.read(carrier).await?;
            }
            seen = shown.map(|shown| shown.level).filter(|level| *level > most).map(|level| level + loss);
            if seen.is_none() {
                break;
            }
            // A sensor takes its time to come down.
            self.clock.sleep(METER_AGAIN_AFTER).await;
        }
        Ok(seen)
    }
}

/// No reading of the carrier's own holds the look at it: the first of its key-down does.
pub(crate) fn holds_the_beginning(reading: &mut Reading, (look, variation): (Acquisition, Option<Db>)) {
    reading.proof.carrier_variation = variation;
    reading.acquisitions.insert(0, look);
    reading.proof.read_from = reading.proof.read_from.map(|place| place + 1);
}

/// What the carrier did meanwhile decides about everything that was read.
pub(crate) fn told_of_change(reading: &mut Reading, change: Option<Db>, reason: Option<&Reason>) {
    reading.proof.carrier_change = change;
    if let Some(reason) = reason {
        if reading.reason.is_none() || reading.outcome != Outcome::Invalid {
            reading.reason = Some(reason.clone());
        }
        reading.outcome = Outcome::Invalid;
    }
}

impl Left {
    /// What may be spent now.
    pub(crate) fn time(&self, now: Moment) -> Seconds {
        Seconds::from(self.ends.since(now)) - self.reserved
    }
}
