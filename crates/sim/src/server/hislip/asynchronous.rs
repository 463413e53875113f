//! The connection beside the messages: device clear, status, locks, sizes.

use std::future::Future;
use std::pin::Pin;
use std::sync::atomic::Ordering;
use std::time::Duration;

use spurline_wire::hislip::{DELIVERED, ErrorKind, FatalKind, Kind, Message, read_size, size};

use super::MOST_PAYLOAD;
use super::channel::{ChannelError, Reader};
use super::session::Session;
use super::synchronous::unknown;
use crate::server::delivery::Then;
use crate::server::locks::{Granted, Released};
use crate::server::port::{Port, free_of_others};

/// A request for a lock that waits for somebody else.
type Request<'s> = Pin<Box<dyn Future<Output = Message> + Send + 's>>;

/// What is said of a request for a lock (table 12).
mod lock {
    pub(super) const FAILURE: u8 = 0;
    pub(super) const SUCCESS: u8 = 1;
    pub(super) const SUCCESS_SHARED: u8 = 2;
    pub(super) const ERROR: u8 = 3;
}

/// Answers what the client asks beside the messages until it goes.
pub(super) async fn hear<P: Port>(session: &Session<'_, P>, reader: &mut Reader) -> Then {
    let mut request: Option<Request<'_>> = None;
    loop {
        let granted = async {
            match &mut request {
                Some(request) => request.await,
                None => std::future::pending().await,
            }
        };
        let response = tokio::select! {
            biased;
            granted = granted => {
                request = None;
                granted
            }
            message = reader.next() => match message {
                Ok(Some(Message { kind: Kind::FatalError, .. }) | None) | Err(ChannelError::Io) => {
                    return Then::Close;
                }
                Err(ChannelError::TooLarge(text)) => Message::error(ErrorKind::TooLarge, &text),
                Err(ChannelError::Decode(error)) => {
                    // It is over whether this is still heard or not.
                    drop(session.asynchronous.send(&Message::fatal(FatalKind::Header, &error.to_string())).await);
                    return Then::Close;
                }
                Ok(Some(Message { kind: Kind::Error, .. })) => continue,
                Ok(Some(_)) if !session.port.attends(session.connection) => continue,
                Ok(Some(message)) if message.kind == Kind::AsyncLock && message.control == 1 => {
                    if request.is_none() {
                        request = Some(Box::pin(lock_request(session, message)));
                        continue;
                    }
                    Message::bare(Kind::AsyncLockResponse, lock::ERROR, 0)
                }
                Ok(Some(message)) => respond(session, &message),
            }
        };
        if session.asynchronous.send(&response).await.is_err() {
            return Then::Close;
        }
    }
}

fn respond<P: Port>(session: &Session<'_, P>, message: &Message) -> Message {
    match (message.kind, message.control) {
        (Kind::AsyncMaximumMessageSize, _) => match read_size(message) {
            Some(most) => {
                let most = usize::try_from(most).unwrap_or(usize::MAX).clamp(1, MOST_PAYLOAD);
                session.most.store(most, Ordering::SeqCst);
                size(Kind::AsyncMaximumMessageSizeResponse, MOST_PAYLOAD as u64)
            }
            None => Message::error(ErrorKind::Unidentified, "expected a size of 8 bytes"),
        },
        (Kind::AsyncDeviceClear, _) => {
            // Before the answer, so that nothing goes out on the other connection behind it.
            session.clearing.store(true, Ordering::SeqCst);
            session.exchange.clear();
            Message::bare(Kind::AsyncDeviceClearAcknowledge, 0, 0)
        }
        (Kind::AsyncStatusQuery, control) => {
            if control & DELIVERED != 0 {
                session.exchange.delivered();
            }
            let status = session.port.status(session.exchange.is_answering());
            Message::bare(Kind::AsyncStatusResponse, status.bits(), 0)
        }
        (Kind::AsyncLock, 0) => {
            let control = match session.locks.release(session.client) {
                Some(Released::Exclusive) => lock::SUCCESS,
                Some(Released::Shared) => lock::SUCCESS_SHARED,
                None => lock::ERROR,
            };
            Message::bare(Kind::AsyncLockResponse, control, 0)
        }
        (Kind::AsyncLockInfo, _) => {
            let elsewhere = session.port.is_locked_elsewhere();
            let (exclusive, holders) = session.locks.held();
            let (exclusive, holders) = (exclusive || elsewhere, holders + u32::from(elsewhere));
            Message::bare(Kind::AsyncLockInfoResponse, exclusive.into(), holders)
        }
        // Nobody is at the front panel.
        (Kind::AsyncRemoteLocalControl, 0..=6) => Message::bare(Kind::AsyncRemoteLocalResponse, 0, 0),
        (Kind::AsyncRemoteLocalControl | Kind::AsyncLock, control) => {
            Message::error(ErrorKind::Control, &format!("the control code {control} is not known"))
        }
        (kind, _) => unknown(kind),
    }
}

/// A lock, as soon as it is to be had; failing that when the client's time is up.
async fn lock_request<P: Port>(session: &Session<'_, P>, message: Message) -> Message {
    let span = Duration::from_millis(message.parameter.into());
    let wanted = async {
        free_of_others(&*session.port, session.clock).await;
        session.locks.take(session.client, &message.payload).await
    };
    let control = match session.clock.within(span, wanted).await {
        Ok(Granted::Yes) => lock::SUCCESS,
        Ok(Granted::Twice) => lock::ERROR,
        Ok(Granted::No) | Err(_) => lock::FAILURE,
    };
    Message::bare(Kind::AsyncLockResponse, control, 0)
}
