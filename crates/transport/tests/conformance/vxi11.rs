//! A VXI-11 server with one device: core channel only, one link.

use std::collections::VecDeque;
use std::time::Duration;

use bytes::{Bytes, BytesMut};
use spurline_clock::{Clock, Moment};
use spurline_wire::rpc::{Call, Outcome, RecordDecoder, Reply as RpcReply};
use spurline_wire::vxi11::{
    CORE, Code, CreateLink, Created, Generic, Read, ReadDone, StatusDone, VERSION, Write, WriteDone,
    decode_link, encode_error, flag, procedure, reason,
};
use tokio::io::AsyncReadExt;
use tokio::net::{TcpListener, TcpStream};

use crate::script::{LATE, Reply, Script, reply, write};

pub(crate) struct Side {
    stream: TcpStream,
    buffer: BytesMut,
    decoder: RecordDecoder,
    segment: usize,
}

impl Side {
    pub(crate) async fn accept(listener: &TcpListener, segment: usize) -> Self {
        let (stream, _) = listener.accept().await.unwrap();
        stream.set_nodelay(true).unwrap();
        Self { stream, buffer: BytesMut::new(), decoder: RecordDecoder::new(1 << 20), segment }
    }

    /// The next call; `None` when the client has closed.
    pub(crate) async fn next(&mut self) -> Option<Call> {
        loop {
            if let Some(record) = self.decoder.decode(&mut self.buffer).unwrap() {
                return Some(Call::decode(record).unwrap());
            }
            if !matches!(self.stream.read_buf(&mut self.buffer).await, Ok(1..)) {
                return None;
            }
        }
    }

    pub(crate) async fn reply(&mut self, xid: u32, outcome: Outcome) {
        let bytes = RpcReply { xid, outcome }.encode().unwrap();
        write(&mut self.stream, &bytes, self.segment).await;
    }

    pub(crate) async fn create_link(&mut self, takes: u32) {
        let call = self.next().await.unwrap();
        assert_eq!((call.program, call.version, call.procedure), (CORE, VERSION, procedure::CREATE_LINK));
        assert_eq!(CreateLink::decode(call.arguments).unwrap().device, "inst0");
        let created = Created { error: Code::NONE, link: LINK, abort_port: 0, most_receive: takes };
        self.reply(call.xid, Outcome::Done(created.encode())).await;
    }
}

pub(crate) const LINK: i32 = 5;

/// What the device has to say, and from when on.
#[derive(Default)]
struct Device {
    incoming: Vec<u8>,
    answers: VecDeque<(Option<Moment>, Bytes)>,
    closing: bool,
}

impl Device {
    fn ready(&self, clock: Clock) -> bool {
        self.answers.front().is_some_and(|(from, _)| from.is_none_or(|from| clock.now() >= from))
    }

    fn take(&mut self, message: &[u8], clock: Clock) {
        match reply(message) {
            Reply::None => {}
            Reply::Answer(bytes) => self.answers.push_back((None, bytes.into())),
            Reply::Late(bytes) => self.answers.push_back((Some(clock.now().after(LATE)), bytes.into())),
            Reply::Closing(bytes) => {
                self.closing = true;
                self.answers.push_back((None, bytes.into()));
            }
        }
    }

    async fn read(&mut self, read: Read, script: Script, clock: Clock) -> ReadDone {
        let patience = clock.now().after(Duration::from_millis(read.io_timeout.into()));
        while !self.ready(clock) {
            if clock.now() >= patience {
                return ReadDone { error: Code::TIMEOUT, reason: 0, data: Bytes::new() };
            }
            clock.sleep(Duration::from_millis(10)).await;
        }
        let most = script.part.min(read.request as usize);
        let (_, answer) = self.answers.front_mut().unwrap();
        let data = answer.split_to(most.min(answer.len()));
        let whole = answer.is_empty() && !self.closing;
        if whole {
            self.answers.pop_front();
        }
        let reason = match (whole, data.len() == read.request as usize) {
            (true, _) => reason::END,
            (false, true) => reason::COUNT,
            // Neither END nor as much as was asked for: some devices just bring what they have.
            (false, false) => 0,
        };
        ReadDone { error: Code::NONE, reason, data }
    }
}

pub(crate) async fn serve(listener: TcpListener, script: Script, clock: Clock) {
    let mut side = Side::accept(&listener, script.segment).await;
    side.create_link(script.takes).await;
    let mut device = Device::default();
    while let Some(call) = side.next().await {
        let results = match call.procedure {
            procedure::DEVICE_WRITE => {
                let write = Write::decode(call.arguments).unwrap();
                assert!(write.link == LINK && write.data.len() <= script.takes as usize);
                device.incoming.extend_from_slice(&write.data);
                if write.flags & flag::END != 0 {
                    let whole = std::mem::take(&mut device.incoming);
                    assert_eq!(whole.last(), Some(&b'\n'));
                    device.take(&whole, clock);
                }
                WriteDone { error: Code::NONE, size: write.data.len() as u32 }.encode()
            }
            procedure::DEVICE_READ => {
                let read = Read::decode(call.arguments).unwrap();
                let done = device.read(read, script, clock).await;
                done.encode()
            }
            procedure::DEVICE_READSTB => {
                assert_eq!(Generic::decode(call.arguments).unwrap().link, LINK);
                let status = if device.ready(clock) { 0x50 } else { 0x40 };
                StatusDone { error: Code::NONE, status }.encode()
            }
            procedure::DEVICE_CLEAR => {
                assert_eq!(Generic::decode(call.arguments).unwrap().link, LINK);
                // A device takes its time.
                clock.sleep(Duration::from_secs(2)).await;
                device = Device::default();
                encode_error(Code::NONE)
            }
            procedure::DESTROY_LINK => {
                assert_eq!(decode_link(call.arguments), Ok(LINK));
                return;
            }
            other => panic!("the script does not know procedure {other}"),
        };
        // A reply to a call that nobody made must not be taken for the next one.
        side.reply(call.xid.wrapping_sub(1000), Outcome::Done(Bytes::from_static(b"stale"))).await;
        side.reply(call.xid, Outcome::Done(results)).await;
        if device.closing && device.answers.front().is_some_and(|(_, answer)| answer.is_empty()) {
            return;
        }
    }
}
