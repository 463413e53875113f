//! HiSLIP (IVI-6.1) in synchronised mode: two connections a client, messages with identities, device clear, locks.
//!
//! Overlapped mode is not offered. Clause numbers are cited from memory.

mod asynchronous;
mod channel;
mod hub;
mod service;
mod session;
mod synchronous;

use std::sync::Arc;

use spurline_clock::Clock;
use spurline_wire::hislip::{FatalKind, Greeting, Kind};
use tokio::net::{TcpListener, TcpStream};

use super::listener;
use super::port::Port;
use super::seats::Seats;
use channel::{Channel, ChannelError};
use hub::Hub;

/// The most bytes of a payload that is taken.
const MOST_PAYLOAD: usize = 1 << 20;
/// Who made this server: nobody who is registered.
const VENDOR: u16 = u16::from_be_bytes(*b"XX");

/// Serves an instrument until it is dropped; `device` is the sub-address that clients must name.
pub(super) async fn serve<P: Port>(
    listener: TcpListener,
    port: Arc<P>,
    seats: Arc<Seats>,
    device: String,
    clock: Clock,
) {
    let hub = Arc::new(Hub::new(port.clone(), seats, device, clock));
    // A client has two connections, so that it is counted by its session and not here.
    listener::accept(listener, port, None, clock, |stream, _| welcome(stream, hub.clone())).await;
}

/// A new connection: its first message tells which of the two it is.
async fn welcome<P: Port>(stream: TcpStream, hub: Arc<Hub<P>>) {
    if stream.set_nodelay(true).is_err() {
        return;
    }
    let mut channel = Channel::new(stream);
    match channel.reader.next().await {
        Ok(Some(message)) => match (Greeting::read(&message), message.kind) {
            (Some(greeting), _) => hub.receive(channel, greeting).await,
            (None, Kind::AsyncInitialize) => hub.join(message.parameter, channel).await,
            _ => channel.fatal(FatalKind::Initialization, "expected `Initialize` first", hub.clock()).await,
        },
        Ok(None) | Err(ChannelError::Io) => {}
        Err(ChannelError::TooLarge(text)) => {
            channel.fatal(FatalKind::Initialization, &text, hub.clock()).await;
        }
        Err(ChannelError::Decode(error)) => {
            channel.fatal(FatalKind::Header, &error.to_string(), hub.clock()).await;
        }
    }
}
