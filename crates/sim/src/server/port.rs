//! One instrument as a link sees it.

use std::sync::Arc;
use std::time::Duration;

use async_trait::async_trait;
use spurline_clock::Clock;
use spurline_scpi::{DecodeError, StatusByte};

use super::delivery::Delivery;

/// Which of an instrument's connections: they are numbered from 1 in the order in which they were made.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub(crate) struct Connection(pub(crate) u64);

/// What an instrument does with a connection that is being made.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Admission {
    /// It serves it.
    Serve(Connection),
    /// It closes it at once.
    Close,
    /// It leaves it open and never listens to it.
    Ignore,
}

/// What becomes of connections when new ones are refused.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Cut {
    /// All of them end.
    All,
    /// Those that are there stay.
    NewOnly,
}

/// One instrument behind any number of connections. All methods may be called from several at once.
///
/// What only a bad instrument does is left out by default.
#[async_trait]
pub(crate) trait Port: Send + Sync + 'static {
    /// A connection is being made.
    fn admit(&self) -> Admission;

    /// A connection that was served has ended.
    fn left(&self, connection: Connection);

    /// Bytes have come in and are about to be cut into messages; they may not arrive as they were sent.
    fn hear(&self, _connection: Connection, _fresh: &mut [u8]) {}

    /// Carries out one program message and gives what goes out for it, in order; may take its time.
    async fn take(&self, connection: Connection, message: &[u8]) -> Vec<Delivery>;

    /// What came cannot be a program message.
    fn unreadable(&self, error: DecodeError);

    /// A new message came before the last answer was read, which is lost.
    fn interrupted(&self);

    /// A group execute trigger.
    fn trigger(&self);

    /// Device clear: what was under way on the connection is given up.
    fn clear(&self, connection: Connection);

    /// The status byte, asked beside the messages; `answering` tells whether an answer waits.
    fn status(&self, answering: bool) -> StatusByte;

    /// Whether anything that comes beside the messages is answered on the connection: status, clear, lock.
    fn attends(&self, _connection: Connection) -> bool {
        true
    }

    /// Whether somebody else holds the instrument's lock, so that a lock is refused and messages are not taken.
    fn is_locked_elsewhere(&self) -> bool {
        false
    }

    /// Whether a reply to a call of long ago goes out before the right one, on a link of calls and replies; asked once
    /// an answer.
    fn repeats_old_reply(&self, _connection: Connection) -> bool {
        false
    }

    /// Whether the instrument asks for service now, without a reason; asked once a message, after it was taken.
    fn cries_for_service(&self, _connection: Connection) -> bool {
        false
    }

    /// Whether a serial port carries the exclusive flag of a program that is gone.
    fn is_left_exclusive(&self) -> bool {
        false
    }

    /// Ready when new connections are refused.
    async fn cut(&self) -> Cut;

    /// Ready when connections are taken again after a cut; never, if it is for ever.
    async fn mended(&self);
}

/// How often a lock that somebody else holds is looked at.
const LOOK_AGAIN: Duration = Duration::from_millis(50);

/// Ready when nobody outside holds the instrument's lock.
pub(crate) async fn free_of_others<P: Port>(port: &P, clock: Clock) {
    while port.is_locked_elsewhere() {
        clock.sleep(LOOK_AGAIN).await;
    }
}

/// A client that is being served; the port is told when it has gone, however that came about.
pub(crate) struct Guest<P: Port>(Arc<P>, Connection);

impl<P: Port> Guest<P> {
    /// A client whom the port has admitted.
    pub(crate) fn of(port: &Arc<P>, connection: Connection) -> Self {
        Self(port.clone(), connection)
    }
}

impl<P: Port> Drop for Guest<P> {
    fn drop(&mut self) {
        self.0.left(self.1);
    }
}
