//! Steps of a handshake, each with a time of its own; and what can be had without waiting.

use std::future::{Future, poll_fn};
use std::pin::pin;
use std::task::Poll;
use std::time::Duration;

use spurline_clock::Clock;
use spurline_scpi::harmless;

use crate::link::LinkError;

/// Who must answer, and how quickly.
#[derive(Clone, Debug)]
pub(crate) struct Steps {
    pub(crate) address: String,
    pub(crate) clock: Clock,
    pub(crate) within: Duration,
}

impl Steps {
    /// Waits for one step.
    pub(crate) async fn wait<T>(
        &self,
        expected: &'static str,
        work: impl Future<Output = Result<T, LinkError>>,
    ) -> Result<T, LinkError> {
        match self.clock.within(self.within, work).await {
            Ok(done) => done,
            Err(_) => Err(LinkError::Mute {
                address: self.address.clone(),
                expected,
                seconds: self.within.as_secs_f64(),
            }),
        }
    }

    pub(crate) fn protocol(
        &self,
        protocol: &'static str,
        source: impl Into<Box<dyn std::error::Error + Send + Sync>>,
    ) -> LinkError {
        LinkError::Protocol { address: self.address.clone(), protocol, source: source.into() }
    }

    pub(crate) fn refused(&self, asked: &'static str, why: impl ToString, fatal: bool) -> LinkError {
        LinkError::Refused { address: self.address.clone(), asked, why: why.to_string(), fatal, busy: false }
    }

    /// Refused because of another program, for good.
    pub(crate) fn busy(&self, asked: &'static str, why: impl ToString) -> LinkError {
        LinkError::Refused {
            address: self.address.clone(),
            asked,
            why: why.to_string(),
            fatal: true,
            busy: true,
        }
    }
}

/// What `work` gives if it need not wait. It must be one that may be dropped half way.
pub(crate) async fn at_once<T>(work: impl Future<Output = T>) -> Option<T> {
    let mut work = pin!(work);
    poll_fn(|context| match work.as_mut().poll(context) {
        Poll::Ready(done) => Poll::Ready(Some(done)),
        Poll::Pending => Poll::Ready(None),
    })
    .await
}

/// Words of an instrument, fit to be shown, and not too long.
pub(crate) fn words(bytes: &[u8]) -> String {
    const MOST: usize = 200;
    harmless(&String::from_utf8_lossy(&bytes[..bytes.len().min(4 * MOST)]), MOST)
}
