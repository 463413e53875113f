//! One link: a client's way to the instrument.

use std::sync::Arc;

use spurline_clock::Clock;
use tokio::sync::Notify;
use tokio::task::AbortHandle;

use crate::server::exchange::Exchange;
use crate::server::locks::{Client, Locks};
use crate::server::port::{Connection, Guest, Port};
use crate::server::seats::Seat;

/// A link, until it is destroyed or its connection ends.
pub(super) struct Link<P: Port> {
    pub(super) id: i32,
    pub(super) client: Client,
    pub(super) connection: Connection,
    pub(super) exchange: Arc<Exchange<P>>,
    locks: Arc<Locks>,
    /// A call in progress is to be given up.
    pub(super) aborted: Notify,
    works: AbortHandle,
    _guest: Guest<P>,
    _seat: Seat,
}

impl<P: Port> Link<P> {
    pub(super) fn new(
        id: i32,
        port: &Arc<P>,
        (connection, guest): (Connection, Guest<P>),
        locks: &Arc<Locks>,
        seat: Seat,
        clock: Clock,
    ) -> Self {
        let client = u64::from(id.unsigned_abs());
        let exchange = Arc::new(Exchange::new(port.clone(), connection, locks.clone(), client, clock));
        let worker = exchange.clone();
        let works = tokio::spawn(async move { worker.work().await }).abort_handle();
        Self {
            id,
            client,
            connection,
            exchange,
            locks: locks.clone(),
            aborted: Notify::new(),
            works,
            _guest: guest,
            _seat: seat,
        }
    }
}

impl<P: Port> Drop for Link<P> {
    fn drop(&mut self) {
        self.works.abort();
        self.locks.forget(self.client);
    }
}
