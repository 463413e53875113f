//! The message exchange of one client on a link that carries whole messages (IEEE 488.2 clause 6.3): program messages
//! in, one after another, answers out, and what becomes of an answer that nobody fetches.

mod input;
mod state;

use std::pin::pin;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::task::Poll;

use spurline_clock::Clock;
use tokio::sync::Notify;

use super::locks::{Client, Locks};
use super::port::{Connection, Port};
use input::Order;
use state::State;
pub(super) use state::{Epoch, Fetched, Out};

/// The exchange between one client and an instrument.
pub(super) struct Exchange<P: Port> {
    port: Arc<P>,
    connection: Connection,
    locks: Arc<Locks>,
    client: Client,
    clock: Clock,
    state: Mutex<State>,
    /// Something in the state is not as it was.
    changed: Notify,
}

impl<P: Port> Exchange<P> {
    pub(super) fn new(
        port: Arc<P>,
        connection: Connection,
        locks: Arc<Locks>,
        client: Client,
        clock: Clock,
    ) -> Self {
        Self { port, connection, locks, client, clock, state: Mutex::default(), changed: Notify::new() }
    }

    fn state(&self) -> MutexGuard<'_, State> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Ready when `check` gives something.
    async fn until<T>(&self, mut check: impl FnMut(&mut State) -> Option<T> + Send) -> T {
        loop {
            let mut changed = pin!(self.changed.notified());
            // Before the look, so that nothing that happens behind it is missed.
            changed.as_mut().enable();
            if let Some(found) = check(&mut self.state()) {
                return found;
            }
            changed.await;
        }
    }

    /// Takes a piece of the message `id`, which ends with it if `end` says so. With the first piece of a message an
    /// answer is lost that the client has not got.
    pub(super) fn put(&self, id: u32, piece: &[u8], end: bool) {
        let mut state = self.state();
        self.interrupt_unread(&mut state, id);
        let mut piece = piece.to_vec();
        self.port.hear(self.connection, &mut piece);
        for error in state.input.put(id, &piece, end) {
            self.port.unreadable(error);
        }
        drop(state);
        self.changed.notify_waiters();
    }

    /// Takes a trigger, which keeps its place among the messages.
    pub(super) fn trigger(&self, id: u32) {
        let mut state = self.state();
        self.interrupt_unread(&mut state, id);
        state.input.trigger(id);
        drop(state);
        self.changed.notify_waiters();
    }

    fn interrupt_unread(&self, state: &mut State, by: u32) {
        if !state.input.is_within() && state.is_answering() {
            state.interrupt(by);
            self.port.interrupted();
        }
    }

    /// The client has got the last answer.
    pub(super) fn delivered(&self) {
        self.state().undelivered = false;
    }

    /// Whether there is an answer that the client has not got.
    pub(super) fn is_answering(&self) -> bool {
        self.state().is_answering()
    }

    /// The client wants to read: error -420 if it has asked nothing.
    pub(super) fn reads(&self) {
        if self.state().is_idle() {
            self.port.unterminated();
        }
    }

    /// Ready when something has come in or gone out.
    pub(super) async fn changes(&self) {
        self.changed.notified().await;
    }

    /// Ready when one more message can wait.
    pub(super) async fn room(&self) {
        self.until(|state| state.input.has_room().then_some(())).await;
    }

    /// Ready when the messages so far have been begun, or wait behind one that takes its time: what can be done at
    /// once has been done.
    pub(super) async fn begun(&self) {
        self.until(|state| (!state.begins && (state.input.is_empty() || state.busy)).then_some(())).await;
    }

    /// The next that goes out, with the epoch that it belongs to.
    pub(super) async fn next(&self) -> (Out, Epoch) {
        self.until(State::next).await
    }

    /// Whether what went out in `epoch` is still wanted: nothing has interrupted or cleared it.
    pub(super) fn is_wanted(&self, epoch: Epoch) -> bool {
        self.state().epoch == epoch
    }

    /// How often the exchange was cleared.
    pub(super) fn clears(&self) -> u64 {
        self.state().clears
    }

    /// At most `limit` bytes of the answer, up to the character `end_at` if it comes first.
    pub(super) async fn fetch(&self, limit: usize, end_at: Option<u8>) -> Fetched {
        self.until(|state| state.fetch(limit, end_at)).await
    }

    /// Device clear: whatever came in and whatever would go out is dropped, and what is under way is given up.
    pub(super) fn clear(&self) {
        self.state().clear();
        self.port.clear(self.connection);
        self.changed.notify_waiters();
    }

    /// Carries out what comes in, for ever.
    pub(super) async fn work(&self) {
        loop {
            let (id, order, clears) = self.until(State::begin).await;
            let mut carried = pin!(self.carry_out(id, order, clears));
            let done = std::future::poll_fn(|context| Poll::Ready(carried.as_mut().poll(context).is_ready()));
            let done = done.await;
            self.state().begins = false;
            self.changed.notify_waiters();
            if !done {
                tokio::select! {
                    biased;
                    () = self.until(|state| (state.clears != clears).then_some(())) => {}
                    () = carried => {}
                }
            }
            self.state().busy = false;
            self.changed.notify_waiters();
        }
    }

    async fn carry_out(&self, id: u32, order: Order, clears: u64) {
        self.locks.open_to(self.client).await;
        let deliveries = match order {
            Order::Message(message) => self.port.take(self.connection, &message).await,
            Order::Trigger => {
                self.port.trigger();
                Vec::new()
            }
        };
        if self.port.cries_for_service(self.connection) {
            self.state().output.push_back(Out::ServiceRequest);
            self.changed.notify_waiters();
        }
        for delivery in deliveries {
            if !delivery.wait.is_zero() {
                self.clock.sleep(delivery.wait).await;
            }
            let mut state = self.state();
            if state.clears != clears {
                return;
            }
            if let Some(by) = state.input.waiting() {
                state.interrupt(by);
                self.port.interrupted();
                return;
            }
            state.output.push_back(Out::Answer { to: id, delivery });
            drop(state);
            self.changed.notify_waiters();
        }
    }
}

#[cfg(test)]
mod tests;
