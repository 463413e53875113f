//! One client: what its two connections share.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicUsize};

use spurline_clock::Clock;

use super::MOST_PAYLOAD;
use super::channel::Writer;
use crate::server::exchange::Exchange;
use crate::server::locks::{Client, Locks};
use crate::server::port::{Connection, Port};

/// A session.
pub(super) struct Session<'c, P: Port> {
    pub(super) port: Arc<P>,
    pub(super) connection: Connection,
    pub(super) locks: Arc<Locks>,
    pub(super) client: Client,
    pub(super) exchange: Exchange<P>,
    pub(super) clock: Clock,
    /// The connection of messages and answers.
    pub(super) synchronous: &'c Writer,
    /// The connection beside it.
    pub(super) asynchronous: &'c Writer,
    /// A device clear has begun, and the client has not said that it is through with it.
    pub(super) clearing: AtomicBool,
    /// The most bytes of a payload that the client takes.
    pub(super) most: AtomicUsize,
}

impl<'c, P: Port> Session<'c, P> {
    pub(super) fn new(
        port: Arc<P>,
        connection: Connection,
        locks: Arc<Locks>,
        client: Client,
        synchronous: &'c Writer,
        asynchronous: &'c Writer,
        clock: Clock,
    ) -> Self {
        Self {
            exchange: Exchange::new(port.clone(), connection, locks.clone(), client, clock),
            port,
            connection,
            locks,
            client,
            clock,
            synchronous,
            asynchronous,
            clearing: AtomicBool::new(false),
            most: AtomicUsize::new(MOST_PAYLOAD),
        }
    }
}
