//! One channel and power setting: a key-down for each way that is used, the readings, key up.

use spurline_clock::Clock;
use spurline_instrument::KeyHandle;
use spurline_plan::{Channel, Extent, Job, PowerSetting, SWITCH_SETTLE, ScopeForecast, State, Way, packed};
use spurline_record::{
    Acquisition, Derivation, EventKind, NotedCarrier, Outcome, Part, Proof, Quantity, Reading, Reason,
    ReasonCode, Scope,
};
use spurline_transport::Tap;
use spurline_units::{Amperes, Dbm, Volts};

use crate::by_hand::Watch;
use crate::dispatcher::Dispatcher;
use crate::fault::RunFault;
use crate::interlock::Chain;
use crate::key_down::{Beyond, Carrier};
use crate::mending::mended;
use crate::modulation::{Kept, Prepared};
use crate::possible::{self, MeasuredCarrier};
use crate::rack::Rack;
use crate::search::Searching;
use crate::spectrum::Seen;
use crate::work::{Work, Works};

/// What all scopes of a run share.
pub(crate) struct Measuring<'a, 'd> {
    pub(crate) job: &'a Job,
    pub(crate) rack: &'a mut Rack,
    pub(crate) key: &'a KeyHandle,
    pub(crate) clock: Clock,
    pub(crate) tap: &'a Tap,
    pub(crate) out: &'a mut Dispatcher<'d>,
    pub(crate) done: &'a mut Done,
    /// Channel and power setting that are being measured, for the transcript.
    pub(crate) place: String,
    /// The carriers of an earlier run on this bench.
    pub(crate) noted: &'a [NotedCarrier],
}

/// What has come of a run so far.
#[derive(Debug, Default)]
pub(crate) struct Done {
    /// The outcomes of the readings that are kept.
    pub(crate) outcomes: Vec<Outcome>,
    /// How many readings have a number that are kept, those that do not count among them.
    pub(crate) numbered: u32,
    /// The pieces of the plan that were done before the run broke off.
    pub(crate) parts: Vec<Part>,
    /// Readings of the scope that is being measured: they are kept together once it is complete, so that all of
    /// them belong to the same key-downs, and so that nothing is written while the key is down.
    pub(crate) held: Vec<Reading>,
    /// What of the carrier's spectrum was seen in a key-down and is not judged for good.
    pub(crate) seen: Vec<Seen>,
    /// The level of the tone that was found for a channel.
    pub(crate) set_up: Option<Kept>,
    /// Whether the record says that the key is down.
    pub(crate) key_is_down: bool,
    /// What shows whether a person keys, while one who was told to has not been seen to let go.
    pub(crate) thumb: Option<Watch>,
    /// Whether the scope that is measured next verifies the path.
    pub(crate) verify: bool,
    /// What the search of the scope has come to.
    pub(crate) search: Searching,
    /// What the supply gave on the last key-down on which it was asked.
    pub(crate) drawn: Option<(Volts, Amperes)>,
    /// What the chain of interlocks knows.
    pub(crate) chain: Chain,
}

/// One channel and power setting.
pub(crate) struct Case<'a> {
    pub(crate) channel: &'a Channel,
    pub(crate) power: &'a PowerSetting,
    pub(crate) supply: Option<String>,
    /// What is measured in it.
    pub(crate) extent: Extent,
}

impl<'a> Case<'a> {
    /// That of a state of the plan.
    pub(crate) fn of(state: &State<'a>) -> Self {
        Self {
            channel: state.channel,
            power: state.power,
            supply: state.supply.map(|supply| supply.name.clone()),
            extent: state.extent(),
        }
    }

    /// The piece of the plan that it is.
    pub(crate) fn part(&self) -> Part {
        Part::State {
            supply: self.supply.clone(),
            channel: self.channel.name.clone(),
            power_setting: self.power.name.clone(),
        }
    }

    /// What its readings by one way belong to.
    pub(crate) fn scope(&self, way: &Way) -> Scope {
        Scope {
            channel: self.channel.name.clone(),
            carrier: self.channel.carrier,
            power_setting: self.power.name.clone(),
            supply: self.supply.clone(),
            path: way.name.clone(),
        }
    }
}

impl<'d> Measuring<'_, 'd> {
    /// The same work by a plan that knows more.
    fn with<'b>(&'b mut self, job: &'b Job) -> Measuring<'b, 'd> {
        Measuring {
            job,
            rack: self.rack,
            key: self.key,
            clock: self.clock,
            tap: self.tap,
            out: self.out,
            done: self.done,
            noted: self.noted,
            place: self.place.clone(),
        }
    }
}

impl Measuring<'_, '_> {
    /// Measures everything that the plan wants in this state; from the beginning again if a link failed on the way
    /// and could be mended.
    pub(crate) async fn scope(&mut self, case: &Case<'_>) -> Result<(), RunFault> {
        let scope = case.scope(self.job.carrier_way());
        let readings = ScopeForecast::of(self.job, case.channel, case.power, case.extent)?.count() as u32;
        self.emit(EventKind::ScopeStarted { scope, readings })?;
        mended!(self, self.try_scope(case));
        let changed = self.verify(case);
        match changed {
            // On another path everything is measured anew.
            Some(fault) => {
                self.keep(None)?;
                Err(fault)
            }
            None => self.keep(Some(case.part())),
        }
    }

    pub(crate) async fn try_scope(&mut self, case: &Case<'_>) -> Result<(), RunFault> {
        let first = self.job.carrier_way();
        self.place = format!("{} {}", case.channel.name, case.power.name);
        self.tap.step(&self.place);
        // What has died or lost its settings since it was last spoken to is found out before the unit is.
        self.rack.check().await?;
        self.rack.unit.tune(case.channel.carrier, &case.power.name).await?;
        self.switch(case, first).await?;
        if let Some((level, look)) = self.carrier_before_key(case, first).await? {
            return self.refuse_to_key(case, level, look);
        }
        if let Some(nothing) = self.glimpse(case, first).await? {
            return self.nothing_at_all(case, nothing).await;
        }
        match self.prepared(case, first).await? {
            Prepared::AsPlanned => self.by_ways(case).await,
            Prepared::Measured(job) => {
                self.with(&job).by_ways(case).await?;
                self.tone_away().await
            }
            Prepared::Failed(reason) => self.nothing_modulated(case, &reason).await,
        }
    }

    /// Carrier, works and leaks, by the ways that the plan uses; the path stands as the first one wants it.
    async fn by_ways(&mut self, case: &Case<'_>) -> Result<(), RunFault> {
        let (first, second) = (self.job.carrier_way(), self.job.harmonics_way());
        let one = self.job.one_key_down();
        let Works { works, mut beyond } = self.works(case, first).await?;
        let mut carrier = self.key_downs(case, first, None, works).await?;
        if !one {
            let before = match carrier {
                Ok(carrier) => carrier,
                Err(reason) => return self.none_of_the_harmonics(case, &reason),
            };
            // What was measured decides whether the other way bears it, not what was expected.
            self.bears(second, case.channel.carrier, Some(before.level))?;
            self.switch(case, second).await?;
            if let Some((level, _)) = self.carrier_before_key(case, second).await? {
                // It came up on its own after it had been seen to go: no relay may move any more.
                return Err(self.stays(level));
            }
            let by_second = self.works(case, second).await?;
            beyond = by_second.beyond;
            carrier = self.key_downs(case, second, Some(before), by_second.works).await?;
        }
        self.finish_search(case, &carrier).await?;
        self.look_for_leaks(case).await?;
        self.all_beyond(case, &carrier, &beyond)?;
        self.over_time(case, &carrier).await
    }

    /// As many key-downs by a way as the works need; `before` is the carrier, once it has been measured.
    pub(crate) async fn key_downs(
        &mut self,
        case: &Case<'_>,
        way: &Way,
        before: Option<MeasuredCarrier>,
        works: Vec<Work>,
    ) -> Result<Result<MeasuredCarrier, Reason>, RunFault> {
        let fixed = self.job.time_of_carrier(way, case.channel, case.power, true)?;
        let mut carrier = before.map(Ok);
        for works in packed(works, fixed, self.job.plan.key.longest, Work::time) {
            carrier = Some(match carrier {
                None => self.key_down(case, way, Carrier::First, works).await?,
                // Where nothing is to be done there is nothing to key for.
                Some(Ok(before)) if works.is_empty() => Ok(before),
                Some(Ok(before)) => self.key_down(case, way, Carrier::Again(before), works).await?,
                Some(Err(reason)) => {
                    for work in &works {
                        for reading in self.not_done(case, work, &reason) {
                            self.finish(reading)?;
                        }
                    }
                    Err(reason)
                }
            });
        }
        Ok(carrier.expect("there is a key-down even without works"))
    }

    /// Switches the path. Never under power: before anything moves the key is brought up and confirmed to be, and a
    /// power meter, whose branch no relay changes, must show nothing.
    pub(crate) async fn switch(&mut self, case: &Case<'_>, way: &Way) -> Result<(), RunFault> {
        if way.set.is_empty() {
            return Ok(());
        }
        self.doing(&format!("switch the path to {}", way.name))?;
        self.key_up().await?;
        if let Some(level) = self.meter_sees(case).await? {
            return Err(self.stays(level));
        }
        for (place, card) in self.rack.switches.iter_mut().enumerate() {
            let contacts = way.contacts_of(place);
            if !contacts.is_empty() {
                card.set(&contacts).await?;
            }
        }
        self.clock.sleep(SWITCH_SETTLE).await;
        Ok(())
    }

    /// That the relays still stand as they were set, which a card that was reset meanwhile would not tell.
    pub(crate) async fn confirm_switched(&mut self, way: &Way) -> Result<(), RunFault> {
        for (place, card) in self.rack.switches.iter_mut().enumerate() {
            let contacts = way.contacts_of(place);
            if !contacts.is_empty() {
                card.confirm(&contacts).await?;
            }
        }
        Ok(())
    }

    pub(crate) fn all_beyond(
        &mut self,
        case: &Case<'_>,
        carrier: &Result<MeasuredCarrier, Reason>,
        beyond: &[Beyond],
    ) -> Result<(), RunFault> {
        for beyond in beyond {
            let reading = self.beyond(case, carrier, beyond);
            self.finish(reading)?;
        }
        Ok(())
    }

    fn beyond(&self, case: &Case<'_>, carrier: &Result<MeasuredCarrier, Reason>, beyond: &Beyond) -> Reading {
        let mut reading = self.blank(case, self.job.harmonics_way(), Some(beyond.order));
        possible::beyond(self.job, carrier.as_ref().ok(), &beyond.why, &mut reading);
        reading
    }

    /// Every harmonic is invalid for one reason.
    fn none_of_the_harmonics(&mut self, case: &Case<'_>, reason: &Reason) -> Result<(), RunFault> {
        for order in self.job.harmonics(case.extent) {
            let mut reading = self.blank(case, self.job.harmonics_way(), Some(order));
            reading.reason = Some(reason.clone());
            self.finish(reading)?;
        }
        self.no_search(case, reason)?;
        self.no_over_time(case, reason)
    }

    pub(crate) fn refuse_to_key(
        &mut self,
        case: &Case<'_>,
        level: Dbm,
        look: Acquisition,
    ) -> Result<(), RunFault> {
        let reason = before_key(level);
        let mut reading = self.blank(case, self.job.carrier_way(), None);
        reading.reason = Some(reason.clone());
        reading.acquisitions = vec![look];
        self.finish(reading)?;
        self.none_of_the_harmonics(case, &reason)
    }

    /// A reading that says nothing yet: of the carrier, or of the harmonic of an order.
    pub(crate) fn blank(&self, case: &Case<'_>, way: &Way, order: Option<u32>) -> Reading {
        let quantity = if order.is_some() { Quantity::Harmonic } else { Quantity::CarrierPower };
        let frequency = case.channel.carrier.harmonic(order.unwrap_or(1));
        Reading { order, frequency, ..self.blank_of(case, way, quantity) }
    }

    /// A reading of some quantity that says nothing yet.
    pub(crate) fn blank_of(&self, case: &Case<'_>, way: &Way, quantity: Quantity) -> Reading {
        let scope = case.scope(way);
        Reading {
            ordinal: self.done.numbered + self.done.held.len() as u32 + 1,
            name: None,
            series: None,
            quantity,
            order: None,
            frequency: scope.carrier,
            scope,
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
            remarks: Vec::new(),
        }
    }

    pub(crate) fn finish(&mut self, reading: Reading) -> Result<(), RunFault> {
        self.done.held.push(reading);
        Ok(())
    }

    /// Keeps all readings that are held, at once, and with them that a piece of the plan is done, if it is.
    pub(crate) fn keep(&mut self, part: Option<Part>) -> Result<(), RunFault> {
        let held = std::mem::take(&mut self.done.held);
        let outcomes: Vec<Outcome> = held.iter().map(|reading| reading.outcome).collect();
        let readings = held.into_iter().map(|reading| EventKind::ReadingFinished(Box::new(reading)));
        let events: Vec<EventKind> = readings.chain(part.map(EventKind::PartFinished)).collect();
        if events.is_empty() {
            return Ok(());
        }
        self.out.emit_all(events).map_err(RunFault::Record)?;
        self.done.numbered += outcomes.len() as u32;
        self.done.outcomes.extend(outcomes);
        Ok(())
    }

    pub(crate) fn doing(&mut self, what: &str) -> Result<(), RunFault> {
        if !self.place.is_empty() {
            self.tap.step(&format!("{}: {what}", self.place));
        }
        self.emit(EventKind::Doing(what.to_owned()))
    }

    pub(crate) fn emit(&mut self, kind: EventKind) -> Result<(), RunFault> {
        self.out.emit(kind).map_err(RunFault::Record)
    }
}

fn before_key(level: Dbm) -> Reason {
    let text = format!("{level} is at the carrier's frequency before the unit is keyed: it was not keyed");
    Reason::new(ReasonCode::CarrierBeforeKey, text)
}
