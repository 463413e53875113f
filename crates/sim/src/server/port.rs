//! One instrument as a link sees it.

use std::sync::Arc;

use async_trait::async_trait;
use spurline_scpi::{DecodeError, StatusByte};

use super::delivery::Delivery;

/// What an instrument does with a connection that is being made.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Admission {
    /// It serves it.
    Serve,
    /// It closes it at once.
    Close,
    /// It leaves it open and never listens to it.
    Ignore,
}

/// One instrument behind any number of connections. All methods may be called from several at once.
#[async_trait]
pub(crate) trait Port: Send + Sync + 'static {
    /// A connection is being made.
    fn admit(&self) -> Admission;

    /// A connection that was served has ended.
    fn left(&self);

    /// Carries out one program message and gives what goes out for it, in order; may take its time.
    async fn take(&self, message: &[u8]) -> Vec<Delivery>;

    /// What came cannot be a program message.
    fn unreadable(&self, error: DecodeError);

    /// A new message came before the last answer was read, which is lost.
    fn interrupted(&self);

    /// A group execute trigger.
    fn trigger(&self);

    /// Device clear: what was under way is given up.
    fn clear(&self);

    /// The status byte, asked beside the messages; `answering` tells whether an answer waits.
    fn status(&self, answering: bool) -> StatusByte;

    /// Ready when all connections end and new ones are refused.
    async fn cut(&self);

    /// Ready when connections are taken again after a cut; never, if it is for ever.
    async fn mended(&self);
}

/// A client that is being served; the port is told when it has gone, however that came about.
pub(crate) struct Guest<P: Port>(Arc<P>);

impl<P: Port> Guest<P> {
    /// A client whom the port has admitted.
    pub(crate) fn of(port: &Arc<P>) -> Self {
        Self(port.clone())
    }
}

impl<P: Port> Drop for Guest<P> {
    fn drop(&mut self) {
        self.0.left();
    }
}
