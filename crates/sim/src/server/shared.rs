//! One instrument, shared by its connections, with what goes wrong with it.

use std::pin::pin;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Mutex, MutexGuard, PoisonError};

use async_trait::async_trait;
use spurline_clock::{Clock, Moment};
use spurline_scpi::{DecodeError, ErrorCode, StatusByte};
use tokio::sync::{Notify, watch};

use super::delivery::Delivery;
use super::port::{Admission, Port};
use crate::bench::{Fault, FaultKind};
use crate::instruments::{Device, Execution, Instrument, Step};

/// One instrument, shared by its connections.
pub(crate) struct Shared<D: Device> {
    instrument: Mutex<Instrument<D>>,
    clock: Clock,
    fault: Option<Fault>,
    messages: AtomicU64,
    /// Since when the fault has been there.
    since: watch::Sender<Option<Moment>>,
    /// A message was carried out: what another connection waits for may have changed.
    changed: Notify,
}

impl<D: Device> Shared<D> {
    /// The instrument just after it was switched on.
    pub(crate) fn new(device: D, fault: Option<Fault>, clock: Clock) -> Self {
        Self {
            instrument: Mutex::new(Instrument::new(device)),
            clock,
            fault,
            messages: AtomicU64::new(0),
            since: watch::Sender::new(None),
            changed: Notify::new(),
        }
    }

    fn instrument(&self) -> MutexGuard<'_, Instrument<D>> {
        self.instrument.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Counts a message; the fault begins with the one after the last good one.
    fn count(&self) {
        let count = self.messages.fetch_add(1, Ordering::Relaxed) + 1;
        if self.fault.is_some_and(|fault| count == fault.after_messages + 1) {
            self.since.send_replace(Some(self.clock.now()));
        }
    }

    /// The fault, while it is there.
    fn out_of_order(&self) -> Option<FaultKind> {
        let fault = self.fault?;
        let since = (*self.since.borrow())?;
        let over = fault.lasts.is_some_and(|span| self.clock.now() >= since.after(span.duration()));
        (!over).then_some(fault.kind)
    }

    async fn carry_out(&self, message: &[u8]) -> Option<bytes::Bytes> {
        let mut execution = Execution::new(message);
        loop {
            let mut changed = pin!(self.changed.notified());
            // Before the step, so that nothing that happens behind it is missed.
            changed.as_mut().enable();
            let step = self.instrument().step(&mut execution, self.clock.now());
            match step {
                Step::Done(answer) => {
                    self.changed.notify_waiters();
                    return answer;
                }
                Step::WaitUntil(moment) => tokio::select! {
                    () = self.clock.sleep_until(moment) => {}
                    () = changed => {}
                },
            }
        }
    }
}

#[async_trait]
impl<D: Device> Port for Shared<D> {
    fn admit(&self) -> Admission {
        Admission::Serve
    }

    fn left(&self) {}

    async fn take(&self, message: &[u8]) -> Vec<Delivery> {
        self.count();
        if self.out_of_order().is_some() {
            return Vec::new();
        }
        let answer = self.carry_out(message).await;
        answer.iter().map(|answer| Delivery::proper(answer)).collect()
    }

    fn unreadable(&self, error: DecodeError) {
        self.instrument().note(error.code());
    }

    fn interrupted(&self) {
        self.instrument().note(ErrorCode::QUERY_INTERRUPTED);
    }

    fn trigger(&self) {
        self.instrument().note(ErrorCode::TRIGGER_IGNORED);
    }

    fn clear(&self) {
        self.changed.notify_waiters();
    }

    fn status(&self, answering: bool) -> StatusByte {
        self.instrument().status_byte(self.clock.now(), answering)
    }

    async fn cut(&self) {
        let mut since = self.since.subscribe();
        while self.out_of_order() != Some(FaultKind::CutLink) {
            if since.changed().await.is_err() {
                std::future::pending::<()>().await;
            }
        }
    }

    async fn mended(&self) {
        match self.fault.and_then(|fault| fault.lasts) {
            Some(span) => self.clock.sleep(span.duration()).await,
            None => std::future::pending().await,
        }
    }
}
