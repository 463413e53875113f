//! One instrument, shared by its connections, with what goes wrong with it.

use std::pin::pin;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError, Weak};
use std::time::Duration;

use async_trait::async_trait;
use bytes::Bytes;
use spurline_clock::{Clock, Moment};
use spurline_scpi::{DecodeError, Element, ErrorCode, Response, StatusByte, Unit};
use tokio::sync::{Notify, watch};
use tokio::task::JoinSet;

use super::delivery::Delivery;
use super::faults::{Faults, Layout, Outage, Power, Taken, is_no_error};
use super::port::{Admission, Connection, Cut, Port};
use crate::bench::{Does, Fault};
use crate::draw::Seed;
use crate::instruments::{Device, Execution, Instrument, Step};

/// One instrument, shared by its connections.
pub(crate) struct Shared<D: Device> {
    /// Itself, for what it does when nobody waits for it.
    me: Weak<Self>,
    /// Makes the device anew, as it is when it has just been switched on.
    make: Box<dyn Fn() -> D + Send + Sync>,
    running: Mutex<Running<D>>,
    faults: Mutex<Faults>,
    clock: Clock,
    /// The last refusal of new connections.
    outage: watch::Sender<Option<Outage>>,
    /// A message was carried out: what another connection waits for may have changed.
    changed: Notify,
    /// Work that nobody waits for. It ends with the instrument.
    late: Mutex<JoinSet<()>>,
}

/// The instrument since it was last switched on.
struct Running<D: Device> {
    instrument: Instrument<D>,
    /// How often it was switched on.
    starts: u64,
    /// Nothing is carried out before this moment.
    busy_until: Option<Moment>,
    slow: Option<Slow>,
}

/// Work that takes longer than it should: for the instrument, time stands still just before its end.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Slow {
    /// When the work should have ended.
    should: Moment,
    /// When it ends.
    ends: Moment,
}

/// What the instrument's time stops short of.
const JUST_BEFORE: Duration = Duration::from_nanos(1);
/// More entries than any error queue here holds.
const MOST_ERRORS: usize = 64;

impl<D: Device> Running<D> {
    fn new(device: D) -> Self {
        Self { instrument: Instrument::new(device), starts: 1, busy_until: None, slow: None }
    }

    /// The moment as the instrument has it.
    fn time(&self, now: Moment) -> Moment {
        match self.slow {
            Some(slow) if now < slow.ends => now.min(slow.should.before(JUST_BEFORE).unwrap_or(now)),
            _ => now,
        }
    }

    fn step(&mut self, execution: &mut Execution<D::Command>, now: Moment) -> Step {
        let time = self.time(now);
        self.instrument.step(execution, time)
    }

    /// The answer to a query that changes nothing and waits for nothing, asked by nobody.
    fn probe(&mut self, query: &[u8], now: Moment) -> Option<Bytes> {
        match self.step(&mut Execution::new(query), now) {
            Step::Done(answer) => answer,
            Step::WaitUntil(_) => None,
        }
    }

    /// When the work ends that is under way, as far as the instrument knows.
    fn works_until(&mut self, now: Moment) -> Option<Moment> {
        match self.step(&mut Execution::new(b"*OPC?"), now) {
            Step::WaitUntil(moment) => Some(moment),
            Step::Done(_) => None,
        }
    }

    /// When to go on with what waits until `moment` by the instrument's time.
    fn really(&self, moment: Moment) -> Moment {
        match self.slow {
            Some(slow) if moment >= slow.should => moment.max(slow.ends),
            _ => moment,
        }
    }
}

impl<D: Device> Shared<D> {
    /// The instrument just after it was switched on.
    pub(crate) fn new(
        make: impl Fn() -> D + Send + Sync + 'static,
        faults: impl IntoIterator<Item = Fault>,
        seed: Seed,
        clock: Clock,
    ) -> Arc<Self> {
        let faults = Faults::new(faults, seed, clock.now());
        Arc::new_cyclic(|me| Self {
            me: me.clone(),
            running: Mutex::new(Running::new(make())),
            make: Box::new(make),
            outage: watch::Sender::new(faults.outage(clock.now())),
            faults: Mutex::new(faults),
            clock,
            changed: Notify::new(),
            late: Mutex::default(),
        })
    }

    fn running(&self) -> MutexGuard<'_, Running<D>> {
        self.running.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn faults(&self) -> MutexGuard<'_, Faults> {
        self.faults.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn note(&self, errors: &[ErrorCode]) {
        let mut running = self.running();
        errors.iter().for_each(|error| running.instrument.note(*error));
    }

    /// Lets the links know when new connections begin to be refused.
    fn tell_outage(&self) {
        let outage = self.faults().outage(self.clock.now());
        self.outage.send_if_modified(|told| {
            let differs = outage.is_some() && *told != outage;
            if differs {
                *told = outage;
            }
            differs
        });
    }

    /// Everything is lost but what an instrument keeps without power.
    fn switch_off_and_on(&self, now: Moment) {
        let mut running = self.running();
        running.starts += 1;
        (running.busy_until, running.slow) = (None, None);
        running.instrument.power_cycle((self.make)(), now);
        drop(running);
        self.changed.notify_waiters();
    }

    /// Carries out a message; nothing comes of it if the instrument is switched off meanwhile.
    async fn carry_out(&self, message: &[u8], taken: &Taken) -> Option<Bytes> {
        let mut execution = Execution::new(message);
        let starts = self.running().starts;
        loop {
            let mut changed = pin!(self.changed.notified());
            // Before the step, so that nothing that happens behind it is missed.
            changed.as_mut().enable();
            let now = self.clock.now();
            let step = {
                let mut running = self.running();
                if running.starts != starts {
                    return None;
                }
                running.step(&mut execution, now)
            };
            match step {
                Step::Done(answer) => {
                    self.slow_down(taken, now);
                    self.changed.notify_waiters();
                    return answer;
                }
                Step::WaitUntil(moment) => {
                    self.slow_down(taken, now);
                    let moment = self.running().really(moment);
                    tokio::select! {
                        () = self.clock.sleep_until(moment) => {}
                        () = changed => {}
                    }
                }
            }
        }
    }

    /// Work that is under way takes longer, if a fault says so.
    fn slow_down(&self, taken: &Taken, now: Moment) {
        let mut faults = self.faults();
        if faults.is_empty() {
            return;
        }
        let mut running = self.running();
        let Some(should) = running.works_until(now) else { return };
        if running.slow.is_some_and(|slow| slow.should == should) {
            return;
        }
        if let Some(times) = faults.slowed(taken, now) {
            let ends = now.after(should.since(now).saturating_mul(times));
            running.slow = Some(Slow { should, ends });
        }
    }

    /// Waits until the instrument is not busy any more.
    async fn wait_until_free(&self) {
        let busy_until = self.running().busy_until;
        if let Some(moment) = busy_until {
            self.clock.sleep_until(moment).await;
        }
    }

    /// Carries out a part of a message when nobody waits for it any more.
    fn carry_out_later(&self, span: Duration, part: Vec<u8>) {
        let (me, clock) = (self.me.clone(), self.clock);
        let starts = self.running().starts;
        let mut late = self.late.lock().unwrap_or_else(PoisonError::into_inner);
        while late.try_join_next().is_some() {}
        late.spawn(async move {
            clock.sleep(span).await;
            let Some(me) = me.upgrade() else { return };
            let mut running = me.running();
            if running.starts == starts {
                running.step(&mut Execution::new(&part), clock.now());
            }
            drop(running);
            me.changed.notify_waiters();
        });
    }

    /// Takes what is in the error queue out of it.
    fn take_errors(&self, now: Moment) -> Vec<Unit> {
        let mut running = self.running();
        let entries = std::iter::from_fn(|| {
            let answer = running.probe(b"SYST:ERR?", now)?;
            Response::parse(answer).ok()?.units.pop().filter(|entry| !is_no_error(entry))
        });
        entries.take(MOST_ERRORS).collect()
    }

    /// How the values stand in the blocks of the answer, if it has any.
    fn layout(&self, response: Option<&Response>, now: Moment) -> Layout {
        let units = response.iter().flat_map(|response| &response.units);
        let has_block =
            units.flat_map(|unit| &unit.elements).any(|element| matches!(element, Element::Block(_)));
        let ask = |query| has_block.then(|| self.running().probe(query, now)).flatten().unwrap_or_default();
        Layout::from_answers(&ask(b"FORM?"), &ask(b"FORM:BORD?"))
    }

    async fn take_with_faults(&self, connection: Connection, message: &[u8]) -> Vec<Delivery> {
        let mut taken = self.faults().take(connection, message, self.clock.now());
        self.tell_outage();
        if taken.power().is_some() {
            self.switch_off_and_on(self.clock.now());
        }
        if taken.is_lost() || taken.power() == Some(Power::Cycle) {
            return Vec::new();
        }
        self.wait_until_free().await;
        if let Some((span, part)) = taken.later() {
            self.carry_out_later(span, part);
        }
        let answer = match taken.heard() {
            Some(heard) => self.carry_out(heard, &taken).await,
            None => None,
        };
        self.note(taken.errors());
        let busy = taken.busy();
        if !busy.is_zero() {
            self.running().busy_until = Some(self.clock.now().after(busy));
            self.wait_until_free().await;
        }
        let mut response = answer.map(parsed);
        let now = self.clock.now();
        if taken.has_own_errors() {
            let made = self.take_errors(now);
            self.faults().keep_errors_apart(&taken, response.as_mut(), made);
        }
        let layout = self.layout(response.as_ref(), now);
        self.faults().answer(&mut taken, response, layout, now)
    }
}

/// The instrument's own answer, taken apart; as one bare field, should that not be possible.
fn parsed(answer: Bytes) -> Response {
    let whole = || Response { units: vec![Element::Text(answer.clone()).into()] };
    Response::parse(answer.clone()).unwrap_or_else(|_| whole())
}

#[async_trait]
impl<D: Device> Port for Shared<D> {
    fn admit(&self) -> Admission {
        let (admission, errors) = self.faults().admit(self.clock.now());
        self.note(&errors);
        admission
    }

    fn left(&self, connection: Connection) {
        self.faults().left(connection);
    }

    fn hear(&self, connection: Connection, fresh: &mut [u8]) {
        self.faults().hear(connection, fresh, self.clock.now());
    }

    async fn take(&self, connection: Connection, message: &[u8]) -> Vec<Delivery> {
        self.take_with_faults(connection, message).await
    }

    fn unreadable(&self, error: DecodeError) {
        self.note(&[error.code()]);
    }

    fn interrupted(&self) {
        self.running().instrument.interrupted();
        self.changed.notify_waiters();
    }

    fn unterminated(&self) {
        self.running().instrument.unterminated();
        self.changed.notify_waiters();
    }

    fn trigger(&self) {
        let mut running = self.running();
        let time = running.time(self.clock.now());
        running.instrument.trigger(time);
        drop(running);
        self.changed.notify_waiters();
    }

    fn clear(&self, connection: Connection) {
        self.faults().clear(connection);
        self.running().instrument.device_clear();
        self.changed.notify_waiters();
    }

    fn status(&self, answering: bool) -> StatusByte {
        let mut running = self.running();
        let time = running.time(self.clock.now());
        running.instrument.status_byte(time, answering)
    }

    fn requests_service(&self, answering: bool) -> Option<StatusByte> {
        let now = self.clock.now();
        let mut running = self.running();
        let time = running.time(now);
        if !running.instrument.requests_service(time, answering) {
            return None;
        }
        let answer = running.probe(b"*STB?", now)?;
        let bits = std::str::from_utf8(&answer).ok()?.parse().ok()?;
        Some(StatusByte::from_bits(bits).with(StatusByte::MASTER_SUMMARY))
    }

    async fn changes(&self) {
        let (until, now) = (self.running().works_until(self.clock.now()), self.clock.now());
        let worked = async {
            match until.map(|until| self.running().really(until)).filter(|until| *until > now) {
                Some(until) => self.clock.sleep_until(until).await,
                None => std::future::pending().await,
            }
        };
        tokio::select! {
            () = self.changed.notified() => {}
            () = worked => {}
        }
    }

    fn attends(&self, connection: Connection) -> bool {
        self.faults().attends(connection, self.clock.now())
    }

    fn is_locked_elsewhere(&self) -> bool {
        self.faults().stands(Does::LockedElsewhere, self.clock.now())
    }

    fn repeats_old_reply(&self, connection: Connection) -> bool {
        self.faults().repeats_old_reply(connection)
    }

    fn cries_for_service(&self, connection: Connection) -> bool {
        self.faults().cries_for_service(connection)
    }

    fn is_left_exclusive(&self) -> bool {
        self.faults().stands(Does::LeftExclusive, self.clock.now())
    }

    async fn cut(&self) -> Cut {
        let mut outage = self.outage.subscribe();
        loop {
            let told = *outage.borrow_and_update();
            let is_over = |outage: Outage| outage.until.is_some_and(|end| self.clock.now() >= end);
            if let Some(outage) = told.filter(|outage| !is_over(*outage)) {
                return outage.cut;
            }
            if outage.changed().await.is_err() {
                std::future::pending::<()>().await;
            }
        }
    }

    async fn mended(&self) {
        loop {
            let outage = self.faults().outage(self.clock.now());
            match outage.map(|outage| outage.until) {
                None => return,
                Some(Some(end)) => self.clock.sleep_until(end).await,
                Some(None) => std::future::pending().await,
            }
        }
    }
}
