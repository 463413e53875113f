//! All sessions of one instrument: who comes in, and whose second connection a connection is.

use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use spurline_clock::Clock;
use spurline_wire::hislip::{FatalKind, Greeting, Kind, Message, Version, Welcome};
use tokio::sync::oneshot;

use super::channel::Channel;
use super::session::Session;
use super::{VENDOR, asynchronous, synchronous};
use crate::bench::Busy;
use crate::server::delivery::Then;
use crate::server::locks::Locks;
use crate::server::port::{Admission, Connection, Guest, Port};
use crate::server::seats::{Seat, Seats};

/// Sessions at a time, whatever the bench file allows.
const MOST_SESSIONS: usize = 64;

/// The sessions of one instrument.
pub(super) struct Hub<P: Port> {
    port: Arc<P>,
    seats: Arc<Seats>,
    locks: Arc<Locks>,
    device: String,
    clock: Clock,
    sessions: Mutex<Sessions>,
}

#[derive(Default)]
struct Sessions {
    last: u16,
    /// Those that stand, and the way to hand a second connection to those that wait for it.
    all: BTreeMap<u16, Option<oneshot::Sender<Channel>>>,
}

/// A session's number; free again when dropped, with all locks that it had.
struct Number<'h, P: Port> {
    hub: &'h Hub<P>,
    id: u16,
}

impl<P: Port> Hub<P> {
    pub(super) fn new(port: Arc<P>, seats: Arc<Seats>, device: String, clock: Clock) -> Self {
        Self { port, seats, locks: Arc::default(), device, clock, sessions: Mutex::default() }
    }

    pub(super) fn clock(&self) -> Clock {
        self.clock
    }

    fn sessions(&self) -> MutexGuard<'_, Sessions> {
        self.sessions.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// A client's first connection, to the end of its session (clause 6.1).
    pub(super) async fn receive(&self, channel: Channel, greeting: Greeting) {
        let connection = match self.port.admit() {
            Admission::Serve(connection) => connection,
            Admission::Close => return,
            Admission::Ignore => std::future::pending().await,
        };
        let _guest = Guest::of(&self.port, connection);
        if !greeting.sub_address.eq_ignore_ascii_case(self.device.as_bytes()) {
            let text = format!("the device here is `{}`", self.device);
            return channel.fatal(FatalKind::Initialization, &text, self.clock).await;
        }
        let full = "all clients that can be served are connected";
        let _seat = match self.seat().await {
            Ok(seat) => seat,
            Err(Busy::Close) => return,
            Err(Busy::Wait | Busy::Refuse) => {
                return channel.fatal(FatalKind::Clients, full, self.clock).await;
            }
        };
        let (sender, second) = oneshot::channel();
        let Some(number) = self.number(sender) else {
            return channel.fatal(FatalKind::Clients, full, self.clock).await;
        };
        self.serve(channel, connection, &number, second).await;
    }

    /// A seat, as the bench file says.
    async fn seat(&self) -> Result<Seat, Busy> {
        match (self.seats.take(), self.seats.busy()) {
            (Some(seat), _) => Ok(seat),
            (None, Busy::Wait) => Ok(self.seats.wait().await),
            (None, busy) => Err(busy),
        }
    }

    fn number(&self, sender: oneshot::Sender<Channel>) -> Option<Number<'_, P>> {
        let mut sessions = self.sessions();
        if sessions.all.len() >= MOST_SESSIONS {
            return None;
        }
        let mut id = sessions.last.wrapping_add(1);
        while sessions.all.contains_key(&id) {
            id = id.wrapping_add(1);
        }
        sessions.last = id;
        sessions.all.insert(id, Some(sender));
        Some(Number { hub: self, id })
    }

    async fn serve(
        &self,
        mut first: Channel,
        connection: Connection,
        number: &Number<'_, P>,
        second: oneshot::Receiver<Channel>,
    ) {
        let welcome = Welcome { version: Version::ONE, session: number.id, overlapped: false };
        if first.writer.send(&welcome.message()).await.is_err() {
            return;
        }
        let mut second = tokio::select! {
            second = second => match second {
                Ok(second) => second,
                Err(_) => return,
            },
            message = first.reader.next() => {
                if let Ok(Some(_)) = message {
                    first.fatal(FatalKind::Channels, "expected the second connection first", self.clock).await;
                }
                return;
            }
        };
        let joined = Message::bare(Kind::AsyncInitializeResponse, 0, VENDOR.into());
        if second.writer.send(&joined).await.is_err() {
            return;
        }
        let client = u64::from(number.id);
        let session = Session::new(
            self.port.clone(),
            connection,
            self.locks.clone(),
            client,
            &first.writer,
            &second.writer,
            self.clock,
        );
        let then = tokio::select! {
            biased;
            then = synchronous::hear(&session, &mut first.reader) => then,
            then = synchronous::answer(&session) => then,
            then = asynchronous::hear(&session, &mut second.reader) => then,
            () = session.exchange.work() => Then::Close,
        };
        match then {
            Then::Reset => [&first, &second].into_iter().for_each(Channel::reset),
            Then::Stay | Then::Close => {
                tokio::join!(first.end(self.clock), second.end(self.clock));
            }
        }
    }

    /// A client's second connection, which is handed to its session.
    pub(super) async fn join(&self, session: u32, channel: Channel) {
        let id = u16::try_from(session).ok();
        let waits = id.and_then(|id| self.sessions().all.get_mut(&id).and_then(Option::take));
        let refused = match waits {
            Some(waits) => waits.send(channel).err(),
            None => Some(channel),
        };
        if let Some(channel) = refused {
            channel
                .fatal(FatalKind::Initialization, "no session waits for this connection", self.clock)
                .await;
        }
    }
}

impl<P: Port> Drop for Number<'_, P> {
    fn drop(&mut self) {
        self.hub.sessions().all.remove(&self.id);
        self.hub.locks.forget(self.id.into());
    }
}
