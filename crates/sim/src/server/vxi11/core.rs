//! The core channel: links, messages, status, locks (clause B.6).

use std::collections::BTreeMap;
use std::future::Future;
use std::sync::Arc;
use std::time::Duration;

use bytes::Bytes;
use spurline_wire::rpc::{Call, Outcome};
use spurline_wire::vxi11::{
    CORE, Code, CreateLink, Created, Generic, LinkId, Read, ReadDone, StatusDone, VERSION, Write, WriteDone,
    encode_error, flag, procedure,
};
use spurline_wire::xdr::{Reader, Writer, XdrError};
use tokio::net::TcpStream;

use super::MOST_RECEIVE;
use super::connection::Connection;
use super::hub::Hub;
use super::link::Link;
use super::output;
use crate::bench::Busy;
use crate::server::delivery::Then;
use crate::server::locks::Granted;
use crate::server::port::{Admission, Guest, Port, free_of_others};

/// What a call comes to.
pub(super) struct Answered {
    pub(super) outcome: Option<Outcome>,
    /// What was to be said to an earlier call, and comes first.
    pub(super) stale: Option<Outcome>,
    /// How long the instrument is silent before the next call.
    pub(super) gap: Duration,
    pub(super) then: Then,
}

impl From<Outcome> for Answered {
    fn from(outcome: Outcome) -> Self {
        Self { outcome: Some(outcome), stale: None, gap: Duration::ZERO, then: Then::Stay }
    }
}

impl From<Bytes> for Answered {
    fn from(results: Bytes) -> Self {
        Outcome::Done(results).into()
    }
}

impl From<Code> for Answered {
    fn from(code: Code) -> Self {
        encode_error(code).into()
    }
}

/// The connection ends without a reply.
const HANG_UP: Answered = Answered { outcome: None, stale: None, gap: Duration::ZERO, then: Then::Close };

/// The links of one connection.
struct Client<P: Port> {
    hub: Arc<Hub<P>>,
    links: BTreeMap<LinkId, Arc<Link<P>>>,
}

/// Takes calls, one after another, until the client goes. Its links go with it.
pub(super) async fn converse<P: Port>(stream: TcpStream, hub: Arc<Hub<P>>) {
    let Ok(mut connection) = Connection::new(stream) else { return };
    let clock = hub.clock;
    let mut client = Client { hub, links: BTreeMap::new() };
    while let Some(call) = connection.call().await {
        let xid = call.xid;
        let Some(answered) = connection.during(client.answer(call), clock).await else { return };
        if let Some(stale) = answered.stale
            && connection.reply(xid.wrapping_sub(1), stale).await.is_err()
        {
            return;
        }
        if let Some(outcome) = answered.outcome
            && connection.reply(xid, outcome).await.is_err()
        {
            return;
        }
        if !answered.gap.is_zero() && connection.during(clock.sleep(answered.gap), clock).await.is_none() {
            return;
        }
        match answered.then {
            Then::Stay => {}
            Then::Close => return,
            Then::Reset => return connection.reset(),
        }
    }
}

/// What is said of a call that is not one of the program; `None` if it is.
pub(super) fn program(call: &Call, program: u32, version: u32) -> Option<Outcome> {
    if call.program != program {
        return Some(Outcome::NoProgram);
    }
    if call.version != version {
        return Some(Outcome::NoVersion { low: version, high: version });
    }
    // RFC 5531 clause 11.1: every program has a procedure 0 that does nothing.
    (call.procedure == 0).then(|| Outcome::Done(Bytes::new()))
}

impl<P: Port> Client<P> {
    async fn answer(&mut self, call: Call) -> Answered {
        if let Some(outcome) = program(&call, CORE, VERSION) {
            return outcome.into();
        }
        if self.links.values().any(|link| !self.hub.port.attends(link.connection)) {
            std::future::pending::<()>().await;
        }
        self.carry_out(call).await.unwrap_or_else(|_| Outcome::BadArguments.into())
    }

    async fn carry_out(&mut self, call: Call) -> Result<Answered, XdrError> {
        let Call { procedure, arguments, .. } = call;
        Ok(match procedure {
            procedure::CREATE_LINK => self.create_link(CreateLink::decode(arguments)?).await,
            procedure::DEVICE_WRITE => self.write(Write::decode(arguments)?).await.encode().into(),
            procedure::DEVICE_READ => self.read(Read::decode(arguments)?).await,
            procedure::DEVICE_READSTB => self.status(Generic::decode(arguments)?).await.encode().into(),
            procedure::DEVICE_TRIGGER => {
                let generic = Generic::decode(arguments)?;
                self.act(generic, |link| link.exchange.trigger(0)).await.into()
            }
            procedure::DEVICE_CLEAR => {
                let generic = Generic::decode(arguments)?;
                self.act(generic, |link| link.exchange.clear()).await.into()
            }
            // Nobody is at the front panel.
            procedure::DEVICE_REMOTE | procedure::DEVICE_LOCAL => {
                self.act(Generic::decode(arguments)?, |_| {}).await.into()
            }
            procedure::DEVICE_LOCK => {
                let mut items = Reader::new(arguments);
                let (link, flags, span) = (items.i32()?, items.u32()?, items.u32()?);
                self.lock(link, flags, span).await.into()
            }
            procedure::DEVICE_UNLOCK => {
                let link = Reader::new(arguments).i32()?;
                self.unlock(link).into()
            }
            procedure::DEVICE_ENABLE_SRQ => self.known(Reader::new(arguments).i32()?).into(),
            procedure::DEVICE_DOCMD => Writer::new().u32(Code::NOT_SUPPORTED.0).opaque(&[]).bytes().into(),
            procedure::DESTROY_LINK => {
                let link = Reader::new(arguments).i32()?;
                let gone = self.links.remove(&link);
                gone.map_or(Code::INVALID_LINK, |_| Code::NONE).into()
            }
            procedure::CREATE_INTR_CHAN => Code::NOT_SUPPORTED.into(),
            procedure::DESTROY_INTR_CHAN => Code::NO_CHANNEL.into(),
            _ => Outcome::NoProcedure.into(),
        })
    }

    async fn create_link(&mut self, wanted: CreateLink) -> Answered {
        let connection = match self.hub.port.admit() {
            Admission::Serve(connection) => connection,
            Admission::Close => return HANG_UP,
            Admission::Ignore => std::future::pending().await,
        };
        // From here on, so that the port is told that the client has gone even if it gets no link.
        let guest = Guest::of(&self.hub.port, connection);
        let failed = |error| Created { error, link: 0, abort_port: 0, most_receive: 0 }.encode().into();
        if !wanted.device.eq_ignore_ascii_case(self.hub.device.as_bytes()) {
            return failed(Code::NOT_ACCESSIBLE);
        }
        let seats = &self.hub.seats;
        let seat = match (seats.take(), seats.busy()) {
            (Some(seat), _) => seat,
            (None, Busy::Wait) => seats.wait().await,
            (None, Busy::Refuse) => return failed(Code::RESOURCES),
            (None, Busy::Close) => return HANG_UP,
        };
        let Some(link) = self.hub.open(connection, guest, seat) else { return failed(Code::RESOURCES) };
        if wanted.lock {
            let granted = async {
                free_of_others(&*self.hub.port, self.hub.clock).await;
                self.hub.locks.take(link.client, &Bytes::new()).await
            };
            let span = milliseconds(wanted.lock_timeout);
            if self.hub.clock.within(span, granted).await.is_err() {
                return failed(Code::LOCKED);
            }
        }
        let created = Created {
            error: Code::NONE,
            link: link.id,
            abort_port: self.hub.abort_port.into(),
            most_receive: MOST_RECEIVE,
        };
        self.links.insert(link.id, link);
        created.encode().into()
    }

    fn link(&self, id: LinkId) -> Result<Arc<Link<P>>, Code> {
        self.links.get(&id).cloned().ok_or(Code::INVALID_LINK)
    }

    fn known(&self, id: LinkId) -> Code {
        self.link(id).map_or_else(|code| code, |_| Code::NONE)
    }

    /// The link, once no lock of another one is in its way.
    async fn unlocked(&self, id: LinkId, flags: u32, span: u32) -> Result<Arc<Link<P>>, Code> {
        let link = self.link(id)?;
        let open = async {
            free_of_others(&*self.hub.port, self.hub.clock).await;
            self.hub.locks.open_to(link.client).await;
        };
        let span = if flags & flag::WAIT_LOCK == 0 { Duration::ZERO } else { milliseconds(span) };
        match self.given_up(&link, self.hub.clock.within(span, open)).await? {
            Ok(()) => Ok(link),
            Err(_) => Err(Code::LOCKED),
        }
    }

    /// Waits for `work`, unless the abort channel gives the call up.
    async fn given_up<T>(&self, link: &Link<P>, work: impl Future<Output = T>) -> Result<T, Code> {
        tokio::select! {
            biased;
            () = link.aborted.notified() => Err(Code::ABORTED),
            done = work => Ok(done),
        }
    }

    async fn write(&self, write: Write) -> WriteDone {
        let size = u32::try_from(write.data.len()).unwrap_or(u32::MAX);
        match self.try_write(write, size).await {
            Ok(()) => WriteDone { error: Code::NONE, size },
            Err(error) => WriteDone { error, size: 0 },
        }
    }

    async fn try_write(&self, write: Write, size: u32) -> Result<(), Code> {
        if size > MOST_RECEIVE {
            return Err(Code::PARAMETER);
        }
        let link = self.unlocked(write.link, write.flags, write.lock_timeout).await?;
        let room = self.hub.clock.within(milliseconds(write.io_timeout), link.exchange.room());
        self.given_up(&link, room).await?.map_err(|_| Code::TIMEOUT)?;
        let end = write.flags & flag::END != 0;
        link.exchange.put(0, &write.data, end);
        if end {
            // What can be done at once is done when the reply goes out.
            self.given_up(&link, link.exchange.begun()).await?;
        }
        Ok(())
    }

    async fn read(&self, read: Read) -> Answered {
        let failed = |error| ReadDone { error, reason: 0, data: Bytes::new() }.encode().into();
        let link = match self.unlocked(read.link, read.flags, read.lock_timeout).await {
            Ok(link) => link,
            Err(code) => return failed(code),
        };
        let end_at = (read.flags & flag::TERMCHAR != 0).then_some(read.termchar);
        let limit = usize::try_from(read.request).unwrap_or(usize::MAX);
        link.exchange.reads();
        let fetched = link.exchange.fetch(limit, end_at);
        let within = self.hub.clock.within(milliseconds(read.io_timeout), fetched);
        match self.given_up(&link, within).await {
            Ok(Ok(fetched)) => {
                let stale = self.hub.port.repeats_old_reply(link.connection);
                Answered { stale: stale.then(given_up_long_ago), ..output::answered(fetched) }
            }
            Ok(Err(_)) => failed(Code::TIMEOUT),
            Err(code) => failed(code),
        }
    }

    async fn status(&self, generic: Generic) -> StatusDone {
        match self.unlocked(generic.link, generic.flags, generic.lock_timeout).await {
            Ok(link) => {
                let status = self.hub.port.status(link.exchange.is_answering()).bits();
                StatusDone { error: Code::NONE, status }
            }
            Err(error) => StatusDone { error, status: 0 },
        }
    }

    async fn act(&self, generic: Generic, act: impl FnOnce(&Link<P>)) -> Code {
        match self.unlocked(generic.link, generic.flags, generic.lock_timeout).await {
            Ok(link) => {
                act(&link);
                Code::NONE
            }
            Err(code) => code,
        }
    }

    async fn lock(&self, id: LinkId, flags: u32, span: u32) -> Code {
        let link = match self.link(id) {
            Ok(link) => link,
            Err(code) => return code,
        };
        let granted = async {
            free_of_others(&*self.hub.port, self.hub.clock).await;
            self.hub.locks.take(link.client, &Bytes::new()).await
        };
        let span = if flags & flag::WAIT_LOCK == 0 { Duration::ZERO } else { milliseconds(span) };
        match self.given_up(&link, self.hub.clock.within(span, granted)).await {
            Ok(Ok(Granted::Yes | Granted::Twice)) => Code::NONE,
            Ok(Ok(Granted::No) | Err(_)) => Code::LOCKED,
            Err(code) => code,
        }
    }

    fn unlock(&self, id: LinkId) -> Code {
        match self.link(id) {
            Ok(link) => self.hub.locks.release(link.client).map_or(Code::NO_LOCK, |_| Code::NONE),
            Err(code) => code,
        }
    }
}

/// The reply to a read that the client has given up.
fn given_up_long_ago() -> Outcome {
    Outcome::Done(ReadDone { error: Code::TIMEOUT, reason: 0, data: Bytes::new() }.encode())
}

fn milliseconds(span: u32) -> Duration {
    Duration::from_millis(span.into())
}
