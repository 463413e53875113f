//! The connection of program messages and answers.

use std::io;
use std::sync::atomic::Ordering;
use std::time::Duration;

use bytes::Bytes;
use spurline_wire::hislip::{DELIVERED, ErrorKind, FatalKind, Kind, Message};

use super::channel::{ChannelError, Reader};
use super::session::Session;
use crate::server::delivery::{Delivery, Then};
use crate::server::exchange::{Epoch, Out};
use crate::server::port::Port;

/// Takes what the client sends until it goes; says how the connection ends.
pub(super) async fn hear<P: Port>(session: &Session<'_, P>, reader: &mut Reader) -> Then {
    loop {
        let message = match reader.next().await {
            Ok(Some(message)) => message,
            Ok(None) | Err(ChannelError::Io) => return Then::Close,
            Err(ChannelError::TooLarge(text)) => {
                if session.synchronous.send(&Message::error(ErrorKind::TooLarge, &text)).await.is_err() {
                    return Then::Close;
                }
                continue;
            }
            Err(ChannelError::Decode(error)) => {
                return fatal(session, FatalKind::Header, &error.to_string()).await;
            }
        };
        let told = match message.kind {
            Kind::FatalError => return Then::Close,
            Kind::Initialize | Kind::AsyncInitialize => {
                return fatal(session, FatalKind::Initialization, "the session stands already").await;
            }
            kind if session.clearing.load(Ordering::SeqCst) => cleared(session, kind).await,
            Kind::Data | Kind::DataEnd | Kind::Trigger => {
                take(session, &message).await;
                Ok(())
            }
            Kind::Error => Ok(()),
            kind => complain(session, kind).await,
        };
        if told.is_err() {
            return Then::Close;
        }
    }
}

async fn take<P: Port>(session: &Session<'_, P>, message: &Message) {
    session.exchange.room().await;
    // What was sent before a device clear and waited for room until now is dropped with the rest (clause 6.12).
    if session.clearing.load(Ordering::SeqCst) {
        return;
    }
    if message.control & DELIVERED != 0 {
        session.exchange.delivered();
    }
    if message.kind == Kind::Trigger {
        session.exchange.trigger(message.parameter);
    } else {
        session.exchange.put(message.parameter, &message.payload, message.kind == Kind::DataEnd);
    }
}

/// Between the beginning of a device clear and its end everything is dropped (clause 6.12).
async fn cleared<P: Port>(session: &Session<'_, P>, kind: Kind) -> io::Result<()> {
    if kind != Kind::DeviceClearComplete {
        return Ok(());
    }
    session.clearing.store(false, Ordering::SeqCst);
    session.synchronous.send(&Message::bare(Kind::DeviceClearAcknowledge, 0, 0)).await
}

async fn complain<P: Port>(session: &Session<'_, P>, kind: Kind) -> io::Result<()> {
    session.synchronous.send(&unknown(kind)).await
}

/// What is said of a kind of message that is not known, or has no business here.
pub(super) fn unknown(kind: Kind) -> Message {
    let number = u8::from(kind);
    let (error, text) = match kind {
        Kind::Other(128..) => (ErrorKind::Vendor, format!("the vendor's message {number} is not known")),
        Kind::Other(_) => (ErrorKind::Kind, format!("the message type {number} is not known")),
        _ => (ErrorKind::Kind, format!("the message type {number} is not for this connection, or not now")),
    };
    Message::error(error, &text)
}

async fn fatal<P: Port>(session: &Session<'_, P>, kind: FatalKind, text: &str) -> Then {
    // It is over whether this is still heard or not.
    drop(session.synchronous.send(&Message::fatal(kind, text)).await);
    Then::Close
}

/// Sends the answers, for as long as the connection is to last.
pub(super) async fn answer<P: Port>(session: &Session<'_, P>) -> Then {
    loop {
        let (out, epoch) = session.exchange.next().await;
        let sent = match out {
            Out::Answer { to, delivery } => send(session, to, &delivery, epoch).await,
            Out::Interrupted { by } => interrupted(session, by).await,
            Out::ServiceRequest => request_service(session).await,
        };
        match sent {
            Ok(Then::Stay) => {}
            Ok(then) => return then,
            Err(_) => return Then::Close,
        }
    }
}

/// One answer, in as many messages as the client's size asks for. It stops when the answer is no longer wanted.
async fn send<P: Port>(
    session: &Session<'_, P>,
    to: u32,
    delivery: &Delivery,
    epoch: Epoch,
) -> io::Result<Then> {
    let most = session.most.load(Ordering::SeqCst);
    let (size, gap) = delivery.pieces.unwrap_or((most, Duration::ZERO));
    let wanted = || session.exchange.is_wanted(epoch);
    let mut rest: Bytes = delivery.bytes.clone();
    loop {
        let piece = rest.split_to(rest.len().min(size).min(most).max(usize::from(!rest.is_empty())));
        let last = rest.is_empty();
        let kind = if last && delivery.end { Kind::DataEnd } else { Kind::Data };
        if kind == Kind::DataEnd || !piece.is_empty() {
            session.synchronous.send_if(&Message::new(kind, 0, to, piece), wanted).await?;
        }
        if !gap.is_zero() {
            session.clock.sleep(gap).await;
        }
        if !wanted() {
            return Ok(Then::Stay);
        }
        if last {
            return Ok(delivery.then);
        }
    }
}

/// A request for service without the bit that would say so.
async fn request_service<P: Port>(session: &Session<'_, P>) -> io::Result<Then> {
    let status = session.port.status(session.exchange.is_answering()).bits();
    session.asynchronous.send(&Message::bare(Kind::AsyncServiceRequest, status, 0)).await?;
    Ok(Then::Stay)
}

/// Both connections tell the client (clause 3.1.2), unless a device clear has made the two signs pointless.
async fn interrupted<P: Port>(session: &Session<'_, P>, by: u32) -> io::Result<Then> {
    let clears = session.exchange.clears();
    let wanted = || session.exchange.clears() == clears;
    session.synchronous.send_if(&Message::bare(Kind::Interrupted, 0, by), wanted).await?;
    session.asynchronous.send_if(&Message::bare(Kind::AsyncInterrupted, 0, by), wanted).await?;
    Ok(Then::Stay)
}
