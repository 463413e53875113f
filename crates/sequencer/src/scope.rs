//! One channel and power setting: unkeyed looks, one key-down, carrier and harmonics, key up.

use spurline_clock::{Clock, Moment};
use spurline_instrument::KeyHandle;
use spurline_judge::Budget;
use spurline_plan::{Channel, Job, Look, PowerSetting, SETTLE, carrier_look, line_look, zero_span_look};
use spurline_record::{
    Acquisition, Derivation, EventKind, MeterReading, Outcome, Proof, Quantity, Reading, Reason, ReasonCode,
    Scope,
};
use spurline_transport::Tap;
use spurline_units::{Db, Dbm, Hertz, Seconds};

use crate::carrier::{self, ABSENT_DB, CarrierFigures, CarrierLooks};
use crate::conversion::{self, COVERAGE};
use crate::dispatcher::Dispatcher;
use crate::fault::RunFault;
use crate::keyed::beating;
use crate::line::{self, LineCase, LineLooks};
use crate::possible::{self, MeasuredCarrier};
use crate::rack::Rack;

/// After a key-down the unit rests at least this many times as long as it was keyed.
const REST_FACTOR: u32 = 3;
const METER_READINGS: usize = 3;

/// What all scopes of a run share.
pub(crate) struct Measuring<'a, 'd> {
    pub(crate) job: &'a Job,
    pub(crate) rack: &'a mut Rack,
    pub(crate) key: &'a KeyHandle,
    pub(crate) clock: Clock,
    pub(crate) tap: &'a Tap,
    pub(crate) out: &'a mut Dispatcher<'d>,
    pub(crate) outcomes: &'a mut Vec<Outcome>,
    pub(crate) rested: Moment,
}

/// One channel and power setting.
pub(crate) struct Case<'a> {
    pub(crate) channel: &'a Channel,
    pub(crate) power: &'a PowerSetting,
    pub(crate) supply: Option<String>,
}

/// One harmonic that is within reach, with its look taken while the unit was not keyed.
struct Planned {
    order: u32,
    frequency: Hertz,
    look: Look,
    unkeyed: Acquisition,
}

/// One harmonic that is not.
struct Beyond {
    order: u32,
    frequency: Hertz,
    why: String,
}

impl Measuring<'_, '_> {
    /// Measures everything that the plan wants in this state.
    pub(crate) async fn scope(&mut self, case: &Case<'_>) -> Result<(), RunFault> {
        let scope = self.scope_of(case);
        let readings = self.job.plan.measure.harmonics_up_to;
        self.emit(EventKind::ScopeStarted { scope: scope.clone(), readings })?;
        self.tap.step(&format!("{} {}", case.channel.name, case.power.name));
        self.rack.unit.tune(case.channel.carrier, &case.power.name).await?;
        let at_input = self.expected_at_input(case)?;
        self.doing("look while the unit is not keyed")?;
        let before = self
            .look("unkeyed carrier", false, &carrier_look(self.profile(), case.channel.carrier, at_input))
            .await?;
        if let Some(level) = self.present(case, &before)? {
            return self.refuse_to_key(case, &scope, level, before);
        }
        let (planned, beyond) = self.unkeyed_looks(case, at_input).await?;
        self.rest().await?;
        let keyed = self.keyed(case, &scope, at_input, &planned).await;
        // Whatever came of it, nothing needs the carrier any more.
        let up = self.key_up().await;
        let carrier = keyed?;
        up?;
        self.confirm_gone(case, at_input).await?;
        for beyond in beyond {
            let reading = self.beyond(&scope, &carrier, &beyond);
            self.finish(reading)?;
        }
        Ok(())
    }

    fn scope_of(&self, case: &Case<'_>) -> Scope {
        Scope {
            channel: case.channel.name.clone(),
            carrier: case.channel.carrier,
            power_setting: case.power.name.clone(),
            supply: case.supply.clone(),
            path: "analyser".to_owned(),
        }
    }

    fn profile(&self) -> &spurline_profile::AnalyserProfile {
        self.job.bench.analyser_profile()
    }

    /// The carrier's level at the analyser's input at the upper end of its window.
    fn expected_at_input(&self, case: &Case<'_>) -> Result<Dbm, RunFault> {
        let loss = self.job.bench.analyser.path.loss_at(case.channel.carrier)?.total;
        Ok(case.power.window.high().dbm() - loss)
    }

    async fn look(&mut self, purpose: &str, keyed: bool, look: &Look) -> Result<Acquisition, RunFault> {
        Ok(self.rack.analyser.acquire(purpose, keyed, &look.settings, look.sweeps).await?)
    }

    /// A look while the key is down, with the lease kept alive.
    async fn keyed_look(&mut self, purpose: &str, look: &Look) -> Result<Acquisition, RunFault> {
        let work = self.rack.analyser.acquire(purpose, true, &look.settings, look.sweeps);
        Ok(beating(self.key, self.clock, work).await??)
    }

    /// The level of a carrier that is there although it should not be.
    fn present(&self, case: &Case<'_>, look: &Acquisition) -> Result<Option<Dbm>, RunFault> {
        let level = carrier::level_of(self.job, look, case.channel.carrier)?;
        let most = case.power.window.low().dbm() - Db::new(ABSENT_DB);
        Ok(level.filter(|level| *level > most))
    }

    async fn unkeyed_looks(
        &mut self,
        case: &Case<'_>,
        at_input: Dbm,
    ) -> Result<(Vec<Planned>, Vec<Beyond>), RunFault> {
        let (mut planned, mut beyond) = (Vec::new(), Vec::new());
        for order in 2..=self.job.plan.measure.harmonics_up_to {
            let frequency = case.channel.carrier.harmonic(order);
            let probe = line_look(self.profile(), frequency, order, at_input, None);
            if let Some(why) = self.job.beyond(frequency, probe.settings.span / 2.0) {
                beyond.push(Beyond { order, frequency, why });
                continue;
            }
            let loss = self.job.bench.analyser.path.loss_at(frequency)?.total;
            let window = case.power.window;
            let limits = [window.low(), window.high()].map(|power| {
                self.job
                    .limit(case.channel.carrier, power.watts(), frequency)
                    .ok()
                    .and_then(|finding| finding.level())
            });
            let strictest = limits.into_iter().flatten().reduce(Dbm::min);
            let look =
                line_look(self.profile(), frequency, order, at_input, strictest.map(|limit| limit - loss));
            let unkeyed = self.look("unkeyed", false, &look).await?;
            planned.push(Planned { order, frequency, look, unkeyed });
        }
        Ok((planned, beyond))
    }

    async fn rest(&mut self) -> Result<(), RunFault> {
        if self.clock.now() < self.rested {
            self.doing("let the unit rest")?;
            self.clock.sleep_until(self.rested).await;
        }
        Ok(())
    }

    /// Everything between key down and key up; the caller brings the key up.
    async fn keyed(
        &mut self,
        case: &Case<'_>,
        scope: &Scope,
        at_input: Dbm,
        planned: &[Planned],
    ) -> Result<Result<MeasuredCarrier, Reason>, RunFault> {
        let longest = self.job.plan.key.longest;
        self.doing("key down, carrier")?;
        self.key.down(longest.duration()).await?;
        self.emit(EventKind::KeyDown { lease: longest })?;
        beating(self.key, self.clock, self.clock.sleep(SETTLE)).await?;
        let looks = self.carrier_looks(case, at_input).await?;
        let figures = carrier::judge(self.job, case.power, case.channel.carrier, &looks)?;
        let carrier = measured(case, &figures);
        let standard = figures.budget.as_ref().map(Budget::combined).unwrap_or_default();
        let reading = self.carrier_reading(scope, figures, looks);
        self.finish(reading)?;
        for harmonic in planned {
            let reading = match &carrier {
                Ok(carrier) => self.harmonic(scope, carrier, standard, harmonic).await?,
                Err(reason) => {
                    let mut reading = self.blank(scope, Quantity::Harmonic, harmonic.frequency);
                    reading.order = Some(harmonic.order);
                    reading.reason = Some(reason.clone());
                    reading
                }
            };
            self.finish(reading)?;
        }
        Ok(carrier)
    }

    async fn carrier_looks(&mut self, case: &Case<'_>, at_input: Dbm) -> Result<CarrierLooks, RunFault> {
        let carrier = case.channel.carrier;
        let zero_span =
            self.keyed_look("zero span", &zero_span_look(self.profile(), carrier, at_input)).await?;
        let mut looks = CarrierLooks {
            zero_span,
            carrier: self.keyed_look("carrier", &carrier_look(self.profile(), carrier, at_input)).await?,
            meter: self.meter_readings(carrier).await?,
        };
        if !carrier::cross_check_holds(self.job, &looks, carrier)? {
            // Once more before it is called a fault: one bad moment is not a wrong path.
            looks.carrier =
                self.keyed_look("carrier", &carrier_look(self.profile(), carrier, at_input)).await?;
            looks.meter = self.meter_readings(carrier).await?;
        }
        Ok(looks)
    }

    async fn meter_readings(&mut self, carrier: Hertz) -> Result<Vec<MeterReading>, RunFault> {
        let mut readings = Vec::with_capacity(METER_READINGS);
        for _ in 0..METER_READINGS {
            let work = self.rack.meter.read(carrier);
            readings.extend(beating(self.key, self.clock, work).await??);
        }
        Ok(readings)
    }

    async fn harmonic(
        &mut self,
        scope: &Scope,
        carrier: &MeasuredCarrier,
        carrier_standard: Db,
        planned: &Planned,
    ) -> Result<Reading, RunFault> {
        self.doing(&format!("harmonic {} at {}", planned.order, planned.frequency))?;
        let keyed = self.keyed_look("harmonic", &planned.look).await?;
        let possible = possible::limits(self.job, carrier, planned.frequency);
        let case = LineCase {
            job: self.job,
            order: planned.order,
            frequency: planned.frequency,
            carrier: carrier.level,
            carrier_standard,
            possible: &possible,
        };
        let figures = line::judge(&case, &LineLooks { keyed: &keyed, unkeyed: &planned.unkeyed })?;
        let mut reading = self.blank(scope, Quantity::Harmonic, planned.frequency);
        reading.order = Some(planned.order);
        reading.limit = possible.recorded(carrier.level);
        reading.derivation = possible.derivation;
        reading.figure = figures.figure;
        reading.margin = figures.margin;
        reading.conformance_probability = figures.probability;
        reading.budget = figures.budget.as_ref().map(conversion::budget);
        reading.correction = figures.correction;
        reading.proof = figures.proof;
        reading.outcome = figures.outcome;
        reading.reason = figures.reason;
        reading.acquisitions = vec![planned.unkeyed.clone(), keyed];
        Ok(reading)
    }

    fn carrier_reading(&self, scope: &Scope, figures: CarrierFigures, looks: CarrierLooks) -> Reading {
        let mut reading = self.blank(scope, Quantity::CarrierPower, scope.carrier);
        reading.figure = figures.figure;
        reading.limit = Some(figures.limit);
        reading.derivation = figures.derivation;
        reading.margin = figures.margin;
        reading.conformance_probability = figures.probability;
        reading.budget = figures.budget.as_ref().map(conversion::budget);
        reading.correction = figures.correction;
        reading.proof = figures.proof;
        reading.outcome = figures.outcome;
        reading.reason = figures.reason;
        reading.acquisitions = vec![looks.zero_span, looks.carrier];
        reading.meter = looks.meter;
        reading
    }

    fn beyond(&self, scope: &Scope, carrier: &Result<MeasuredCarrier, Reason>, beyond: &Beyond) -> Reading {
        let mut reading = self.blank(scope, Quantity::Harmonic, beyond.frequency);
        reading.order = Some(beyond.order);
        let possible = carrier
            .as_ref()
            .ok()
            .map(|carrier| (possible::limits(self.job, carrier, beyond.frequency), carrier.level));
        let settled = possible.as_ref().and_then(|(possible, _)| possible.settled.clone());
        if let Some((possible, level)) = possible {
            reading.limit = possible.recorded(level);
            reading.derivation = possible.derivation;
        }
        let text = format!("beyond this bench: {}", beyond.why);
        (reading.outcome, reading.reason) = match settled {
            // Without a number there is nothing that this bench would have to reach.
            Some((Outcome::NoLimit, reason)) => (Outcome::NoLimit, Some(reason)),
            Some(_) | None => (Outcome::Undecided, Some(Reason::new(ReasonCode::BeyondThisBench, text))),
        };
        reading
    }

    /// A reading that says nothing yet.
    fn blank(&self, scope: &Scope, quantity: Quantity, frequency: Hertz) -> Reading {
        Reading {
            ordinal: self.outcomes.len() as u32 + 1,
            quantity,
            scope: scope.clone(),
            order: None,
            frequency,
            at: self.clock.timestamp(),
            figure: None,
            limit: None,
            derivation: Derivation::default(),
            margin: None,
            conformance_probability: None,
            budget: None,
            correction: None,
            proof: Proof::default(),
            outcome: Outcome::Invalid,
            reason: None,
            acquisitions: Vec::new(),
            meter: Vec::new(),
        }
    }

    fn refuse_to_key(
        &mut self,
        case: &Case<'_>,
        scope: &Scope,
        level: Dbm,
        look: Acquisition,
    ) -> Result<(), RunFault> {
        let text =
            format!("{level} is at the carrier's frequency before the unit is keyed: it was not keyed");
        for order in 1..=self.job.plan.measure.harmonics_up_to {
            let quantity = if order == 1 { Quantity::CarrierPower } else { Quantity::Harmonic };
            let mut reading = self.blank(scope, quantity, case.channel.carrier.harmonic(order));
            reading.order = (order > 1).then_some(order);
            reading.reason = Some(Reason::new(ReasonCode::CarrierBeforeKey, text.clone()));
            if order == 1 {
                reading.acquisitions = vec![look.clone()];
            }
            self.finish(reading)?;
        }
        Ok(())
    }

    async fn key_up(&mut self) -> Result<(), RunFault> {
        let held = self.key.up().await?;
        if !held.is_zero() {
            let rest = self.job.plan.key.rest.duration().max(held * REST_FACTOR);
            self.rested = self.clock.now().after(rest);
            self.emit(EventKind::KeyUp { held: Seconds::from(held) })?;
        }
        Ok(())
    }

    /// The effect is verified, not the command: the carrier must be gone.
    async fn confirm_gone(&mut self, case: &Case<'_>, at_input: Dbm) -> Result<(), RunFault> {
        self.doing("see the carrier go")?;
        let look = carrier_look(self.profile(), case.channel.carrier, at_input);
        let after = self.look("after key up", false, &look).await?;
        match self.present(case, &after)? {
            Some(level) => Err(RunFault::CarrierStays { level }),
            None => Ok(()),
        }
    }

    fn finish(&mut self, reading: Reading) -> Result<(), RunFault> {
        let outcome = reading.outcome;
        self.emit(EventKind::ReadingFinished(Box::new(reading)))?;
        self.outcomes.push(outcome);
        Ok(())
    }

    fn doing(&mut self, what: &str) -> Result<(), RunFault> {
        self.emit(EventKind::Doing(what.to_owned()))
    }

    fn emit(&mut self, kind: EventKind) -> Result<(), RunFault> {
        self.out.emit(kind).map_err(RunFault::Record)
    }
}

/// The carrier for the limits of its harmonics, or why there is none.
fn measured(case: &Case<'_>, figures: &CarrierFigures) -> Result<MeasuredCarrier, Reason> {
    match (&figures.figure, &figures.budget, figures.usable) {
        (Some(figure), Some(budget), true) => Ok(MeasuredCarrier {
            nominal: case.channel.carrier,
            level: figure.level,
            expanded: budget.expanded(COVERAGE),
        }),
        _ => {
            let why = figures.reason.as_ref().map_or("", |reason| reason.text.as_str());
            Err(Reason::new(ReasonCode::CarrierInvalid, format!("its carrier could not be measured: {why}")))
        }
    }
}
