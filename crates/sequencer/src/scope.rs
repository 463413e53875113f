//! One channel and power setting: unkeyed looks, one key-down, carrier and harmonics, key up.

use spurline_clock::Clock;
use spurline_instrument::{KeyError, KeyHandle};
use spurline_keyholder::LeaseError;
use spurline_plan::{Approach, Channel, Job, Look, PowerSetting, SETTLE, carrier_look, zero_span_look};
use spurline_record::{
    Acquisition, Derivation, EventKind, MeterReading, Outcome, Proof, Quantity, Reading, Reason, ReasonCode,
    Scope,
};
use spurline_transport::Tap;
use spurline_units::{Db, Dbm, Hertz, Seconds};

use crate::carrier::{self, ABSENT_DB, CarrierLooks, JudgedCarrier};
use crate::dispatcher::Dispatcher;
use crate::fault::RunFault;
use crate::keyed::beating;
use crate::line::{self, LineCase};
use crate::possible::{self, MeasuredCarrier};
use crate::rack::Rack;

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
        let at_input = self.job.carrier_at_analyser(case.channel, case.power)?;
        self.doing("look while the unit is not keyed")?;
        let before = self
            .look("unkeyed carrier", false, &carrier_look(self.profile(), case.channel.carrier, at_input))
            .await?;
        if let Some(level) = self.present(case, &before)? {
            return self.refuse_to_key(&scope, level, before);
        }
        let (planned, beyond) = self.unkeyed_looks(case).await?;
        let keyed = self.keyed(case, &scope, at_input, planned).await;
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

    async fn unkeyed_looks(&mut self, case: &Case<'_>) -> Result<(Vec<Planned>, Vec<Beyond>), RunFault> {
        let (mut planned, mut beyond) = (Vec::new(), Vec::new());
        for order in 2..=self.job.plan.measure.harmonics_up_to {
            let frequency = case.channel.carrier.harmonic(order);
            let findings = self.job.findings_over_window(case.channel, case.power, order);
            match self.job.approach(case.channel, case.power, order, &findings)? {
                Approach::Beyond(why) => beyond.push(Beyond { order, frequency, why }),
                Approach::Within { look, .. } => {
                    let unkeyed = self.look("unkeyed", false, &look).await?;
                    planned.push(Planned { order, frequency, look, unkeyed });
                }
            }
        }
        Ok((planned, beyond))
    }

    /// Key down, once the unit has rested.
    async fn key_down(&mut self) -> Result<(), RunFault> {
        let longest = self.job.plan.key.longest;
        loop {
            match self.key.down(longest.duration()).await {
                Err(KeyError::Lease(LeaseError::Resting(span))) => {
                    self.doing("let the unit rest")?;
                    self.clock.sleep(span).await;
                }
                down => {
                    down?;
                    return self.emit(EventKind::KeyDown { lease: longest });
                }
            }
        }
    }

    /// Everything between key down and key up; the caller brings the key up.
    async fn keyed(
        &mut self,
        case: &Case<'_>,
        scope: &Scope,
        at_input: Dbm,
        planned: Vec<Planned>,
    ) -> Result<Result<MeasuredCarrier, Reason>, RunFault> {
        self.key_down().await?;
        self.doing("carrier")?;
        beating(self.key, self.clock, self.clock.sleep(SETTLE)).await?;
        let looks = self.carrier_looks(case, at_input).await?;
        let blank = self.blank(scope, None);
        let JudgedCarrier { reading, measured } = carrier::judge(self.job, case.power, looks, blank)?;
        self.finish(reading)?;
        for harmonic in planned {
            let reading = match &measured {
                Ok(carrier) => self.harmonic(scope, carrier, harmonic).await?,
                Err(reason) => {
                    let mut reading = self.blank(scope, Some(harmonic.order));
                    reading.reason = Some(reason.clone());
                    reading
                }
            };
            self.finish(reading)?;
        }
        Ok(measured)
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
        planned: Planned,
    ) -> Result<Reading, RunFault> {
        self.doing(&format!("harmonic {} at {}", planned.order, planned.frequency))?;
        let keyed = self.keyed_look("harmonic", &planned.look).await?;
        let possible = possible::limits(self.job, carrier, planned.frequency);
        let case = LineCase {
            job: self.job,
            order: planned.order,
            frequency: planned.frequency,
            carrier,
            possible: &possible,
        };
        let blank = self.blank(scope, Some(planned.order));
        Ok(line::judge(&case, keyed, planned.unkeyed, blank)?)
    }

    fn beyond(&self, scope: &Scope, carrier: &Result<MeasuredCarrier, Reason>, beyond: &Beyond) -> Reading {
        let mut reading = self.blank(scope, Some(beyond.order));
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

    /// A reading that says nothing yet: of the carrier, or of the harmonic of an order.
    fn blank(&self, scope: &Scope, order: Option<u32>) -> Reading {
        Reading {
            ordinal: self.outcomes.len() as u32 + 1,
            quantity: if order.is_some() { Quantity::Harmonic } else { Quantity::CarrierPower },
            scope: scope.clone(),
            order,
            frequency: scope.carrier.harmonic(order.unwrap_or(1)),
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

    fn refuse_to_key(&mut self, scope: &Scope, level: Dbm, look: Acquisition) -> Result<(), RunFault> {
        let text =
            format!("{level} is at the carrier's frequency before the unit is keyed: it was not keyed");
        let orders = (2..=self.job.plan.measure.harmonics_up_to).map(Some);
        let mut looks = vec![look];
        for order in std::iter::once(None).chain(orders) {
            let mut reading = self.blank(scope, order);
            reading.reason = Some(Reason::new(ReasonCode::CarrierBeforeKey, text.clone()));
            // The look belongs to the carrier's reading, which comes first.
            reading.acquisitions = std::mem::take(&mut looks);
            self.finish(reading)?;
        }
        Ok(())
    }

    async fn key_up(&mut self) -> Result<(), RunFault> {
        let held = self.key.up().await?;
        if !held.is_zero() {
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

    pub(crate) fn emit(&mut self, kind: EventKind) -> Result<(), RunFault> {
        self.out.emit(kind).map_err(RunFault::Record)
    }
}
