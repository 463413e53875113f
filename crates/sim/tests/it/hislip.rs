//! HiSLIP as a client meets it, message by message. Clauses are those of IVI-6.1, from memory.

use std::time::Duration;

use bytes::{Bytes, BytesMut};
use spurline_clock::Clock;
use spurline_sim::{Place, Role};
use spurline_wire::hislip::{
    DELIVERED, Decoder, ErrorKind, FIRST_MESSAGE, FatalKind, Greeting, Kind, Message, Version, Welcome,
    next_message, read_size, size,
};
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::TcpStream;

use crate::client::{BENCH, Bench, at};

const HOUR: Duration = Duration::from_secs(3600);

fn place() -> Place {
    Place::Hislip { at: "127.0.0.1:0".parse().unwrap(), device: "hislip0".to_owned() }
}

fn on<T, F: Future<Output = T>>(text: &str, script: impl FnOnce(Bench) -> F) -> T {
    at(text, &place(), script)
}

/// One connection.
struct Channel {
    stream: TcpStream,
    buffer: BytesMut,
    decoder: Decoder,
    clock: Clock,
}

impl Channel {
    async fn open(bench: &Bench, role: Role) -> Self {
        let stream = TcpStream::connect(bench.address(role)).await.unwrap();
        stream.set_nodelay(true).unwrap();
        Self { stream, buffer: BytesMut::new(), decoder: Decoder::new(1 << 20), clock: bench.clock }
    }

    async fn send(&mut self, message: Message) {
        let mut bytes = BytesMut::new();
        message.encode(&mut bytes);
        self.stream.write_all(&bytes).await.unwrap();
    }

    /// The next message; `None` if the server has closed the connection, or says nothing for `span`.
    async fn next_within(&mut self, span: Duration) -> Option<Message> {
        let clock = self.clock;
        let next = async {
            loop {
                if let Some(message) = self.decoder.decode(&mut self.buffer).unwrap() {
                    return Some(message);
                }
                if self.stream.read_buf(&mut self.buffer).await.unwrap_or(0) == 0 {
                    return None;
                }
            }
        };
        clock.within(span, next).await.ok().flatten()
    }

    async fn next(&mut self) -> Message {
        self.next_within(HOUR).await.expect("a message")
    }
}

/// A session.
struct Client {
    sync: Channel,
    asynchronous: Channel,
    id: u32,
    delivered: bool,
}

fn greeting(device: &'static str) -> Message {
    let sub_address = Bytes::from_static(device.as_bytes());
    Greeting { version: Version::ONE, vendor: *b"XX", sub_address }.message()
}

impl Client {
    async fn open(bench: &Bench, role: Role) -> Self {
        let mut sync = Channel::open(bench, role).await;
        sync.send(greeting("hislip0")).await;
        let welcome = Welcome::read(&sync.next().await).expect("a welcome");
        assert_eq!((welcome.version, welcome.overlapped), (Version::ONE, false));
        let mut asynchronous = Channel::open(bench, role).await;
        asynchronous.send(Message::bare(Kind::AsyncInitialize, 0, welcome.session.into())).await;
        assert_eq!(asynchronous.next().await.kind, Kind::AsyncInitializeResponse);
        Self { sync, asynchronous, id: FIRST_MESSAGE, delivered: false }
    }

    /// Sends a piece of a message, and gives its identity.
    async fn send(&mut self, kind: Kind, text: &str) -> u32 {
        let control = if std::mem::take(&mut self.delivered) { DELIVERED } else { 0 };
        let id = self.id;
        self.id = next_message(id);
        self.sync.send(Message::new(kind, control, id, Bytes::copy_from_slice(text.as_bytes()))).await;
        id
    }

    async fn tell(&mut self, text: &str) -> u32 {
        self.send(Kind::DataEnd, text).await
    }

    async fn ask(&mut self, text: &str) -> String {
        let id = self.tell(text).await;
        let answer = self.sync.next().await;
        assert_eq!((answer.kind, answer.parameter), (Kind::DataEnd, id), "{text}: {answer:?}");
        self.delivered = true;
        String::from_utf8(answer.payload.to_vec()).unwrap().trim_end().to_owned()
    }

    async fn beside(&mut self, message: Message) -> Message {
        self.asynchronous.send(message).await;
        self.asynchronous.next().await
    }

    async fn status(&mut self) -> u8 {
        let control = if std::mem::take(&mut self.delivered) { DELIVERED } else { 0 };
        let answer = self.beside(Message::bare(Kind::AsyncStatusQuery, control, self.id)).await;
        assert_eq!(answer.kind, Kind::AsyncStatusResponse);
        answer.control
    }

    /// Clause 6.12: both connections take part.
    async fn clear(&mut self) {
        let answer = self.beside(Message::bare(Kind::AsyncDeviceClear, 0, 0)).await;
        assert_eq!(answer, Message::bare(Kind::AsyncDeviceClearAcknowledge, 0, 0));
        self.sync.send(Message::bare(Kind::DeviceClearComplete, 0, 0)).await;
        let answer = self.sync.next().await;
        assert_eq!(answer, Message::bare(Kind::DeviceClearAcknowledge, 0, 0));
        self.id = FIRST_MESSAGE;
    }

    async fn lock(&mut self, control: u8, milliseconds: u32, key: &'static str) -> u8 {
        let key = Bytes::from_static(key.as_bytes());
        let answer = self.beside(Message::new(Kind::AsyncLock, control, milliseconds, key)).await;
        assert_eq!(answer.kind, Kind::AsyncLockResponse);
        answer.control
    }
}

#[test]
fn answers_carry_the_identity_of_their_question_and_take_no_virtual_time() {
    on(BENCH, |bench| async move {
        let mut analyser = Client::open(&bench, Role::Analyser).await;
        let before = bench.clock.elapsed();
        for _ in 0..1000 {
            assert_eq!(analyser.ask("*IDN?\n").await, "Example,Analyser,A-0001,1.0");
        }
        assert_eq!(bench.clock.elapsed(), before);
        let begin = bench.clock.elapsed();
        assert_eq!(analyser.ask("*RST;:SWE:TIME 2;:INIT;*OPC?").await, "1");
        assert_eq!((bench.clock.elapsed() - begin).as_secs(), 2);
    });
}

#[test]
fn a_message_may_come_in_pieces_and_an_answer_fits_the_clients_size() {
    on(BENCH, |bench| async move {
        let mut analyser = Client::open(&bench, Role::Analyser).await;
        analyser.send(Kind::Data, "*ID").await;
        let id = analyser.send(Kind::DataEnd, "N?").await;
        let answer = analyser.sync.next().await;
        assert_eq!((answer.kind, answer.parameter), (Kind::DataEnd, id));
        assert_eq!(&answer.payload[..], b"Example,Analyser,A-0001,1.0\n");
        analyser.delivered = true;
        let told = analyser.beside(size(Kind::AsyncMaximumMessageSize, 1000)).await;
        assert_eq!(told.kind, Kind::AsyncMaximumMessageSizeResponse);
        assert!(read_size(&told).unwrap() >= 1 << 16);
        let id = analyser.tell("*RST;:SWE:POIN 1001;:INIT;*WAI;:FORM REAL,32;:TRAC? TRACE1").await;
        let mut trace = Vec::new();
        loop {
            let piece = analyser.sync.next().await;
            assert!(piece.parameter == id && piece.payload.len() <= 1000, "{:?}", piece.header());
            trace.extend_from_slice(&piece.payload);
            if piece.kind == Kind::DataEnd {
                break;
            }
            assert_eq!((piece.kind, piece.payload.len()), (Kind::Data, 1000));
        }
        assert_eq!((&trace[..6], trace.len()), (&b"#44004"[..], 6 + 4004 + 1));
    });
}

/// Clause 3.1.2: a message that comes before the answer was handed out is told of on both connections.
#[test]
fn an_answer_that_nobody_got_is_interrupted() {
    on(BENCH, |bench| async move {
        let mut analyser = Client::open(&bench, Role::Analyser).await;
        analyser.ask("*CLS;*OPC?").await;
        analyser.tell("*IDN?").await;
        assert_eq!(analyser.sync.next().await.kind, Kind::DataEnd);
        // It has come, but the client says nothing of having handed it out.
        let by = analyser.tell("SYST:ERR?").await;
        assert_eq!(analyser.sync.next().await, Message::bare(Kind::Interrupted, 0, by));
        assert_eq!(analyser.asynchronous.next().await, Message::bare(Kind::AsyncInterrupted, 0, by));
        let answer = analyser.sync.next().await;
        assert_eq!((answer.kind, answer.parameter), (Kind::DataEnd, by));
        assert!(answer.payload.starts_with(b"-410,"), "{answer:?}");
    });
}

#[test]
fn a_question_behind_one_that_takes_its_time_interrupts_it() {
    on(BENCH, |bench| async move {
        let mut analyser = Client::open(&bench, Role::Analyser).await;
        analyser.tell("*RST;*CLS;:SWE:TIME 5;:INIT;*OPC?").await;
        let by = analyser.tell("SYST:ERR?").await;
        assert_eq!(analyser.sync.next().await, Message::bare(Kind::Interrupted, 0, by));
        let answer = analyser.sync.next().await;
        assert!(answer.parameter == by && answer.payload.starts_with(b"-410,"), "{answer:?}");
    });
}

/// Clause 6.12 and IEEE 488.2 clause 5.8: what was asked is given up, the settings and the sweep are not.
#[test]
fn a_device_clear_drops_what_is_pending() {
    on(BENCH, |bench| async move {
        let mut analyser = Client::open(&bench, Role::Analyser).await;
        analyser.tell("*RST;*CLS;:SWE:TIME 100;:INIT;*OPC?").await;
        assert!(analyser.sync.next_within(Duration::from_secs(1)).await.is_none());
        analyser.clear().await;
        assert_eq!(analyser.ask("SWE:TIME?;:SYST:ERR?").await, "100;0,\"No error\"");
        assert_eq!(analyser.ask("STAT:OPER:COND?").await, "8", "it still sweeps");
        assert!(bench.clock.elapsed() < Duration::from_secs(10));
    });
}

#[test]
fn nothing_comes_between_the_two_halves_of_a_clear() {
    on(BENCH, |bench| async move {
        let mut analyser = Client::open(&bench, Role::Analyser).await;
        analyser.tell("*RST;:SWE:TIME 1;:INIT;*OPC?").await;
        let answer = analyser.beside(Message::bare(Kind::AsyncDeviceClear, 0, 0)).await;
        assert_eq!(answer.kind, Kind::AsyncDeviceClearAcknowledge);
        // Whatever is still sent on the first connection is dropped.
        analyser.tell("*IDN?").await;
        assert!(analyser.sync.next_within(Duration::from_secs(10)).await.is_none());
        analyser.sync.send(Message::bare(Kind::DeviceClearComplete, 0, 0)).await;
        assert_eq!(analyser.sync.next().await.kind, Kind::DeviceClearAcknowledge);
        assert_eq!(analyser.ask("*OPC?").await, "1");
    });
}

/// IEEE 488.2 clause 11.2: bit 4 says that an answer waits.
#[test]
fn the_status_byte_is_told_beside_the_messages() {
    on(BENCH, |bench| async move {
        let mut analyser = Client::open(&bench, Role::Analyser).await;
        analyser.ask("*CLS;*OPC?").await;
        assert_eq!(analyser.status().await, 0);
        analyser.tell("*RST;:SWE:TIME 5;:INIT;*OPC?").await;
        assert_eq!(analyser.status().await & 16, 0, "it is not answered yet");
        assert_eq!(analyser.sync.next().await.kind, Kind::DataEnd);
        assert_eq!(analyser.status().await & 16, 16);
        analyser.delivered = true;
        assert_eq!(analyser.status().await & 16, 0);
        analyser.tell("NO:SUCH").await;
        analyser.ask("*OPC?").await;
        assert_eq!(analyser.status().await & 4, 4, "the error queue is not empty");
    });
}

/// SCPI-1999 volume 2, -211: the trigger came, and nobody waited for one.
#[test]
fn a_trigger_is_no_message() {
    on(BENCH, |bench| async move {
        let mut meter = Client::open(&bench, Role::PowerMeter).await;
        meter.ask("*RST;*CLS;*OPC?").await;
        meter.send(Kind::Trigger, "").await;
        assert!(meter.ask("SYST:ERR?").await.starts_with("-211,"));
    });
}

/// Clause 6.14 and IEEE 488.2 clause 11.3: what is enabled asks for service, once, until the status byte is polled.
#[test]
fn an_enabled_event_asks_for_service_on_the_other_connection() {
    on(BENCH, |bench| async move {
        let mut analyser = Client::open(&bench, Role::Analyser).await;
        analyser.ask("*RST;*CLS;*ESE 1;*SRE 32;:SWE:TIME 5;*OPC?").await;
        let before = bench.clock.elapsed();
        analyser.tell("INIT;*OPC").await;
        assert!(analyser.asynchronous.next_within(Duration::from_secs(4)).await.is_none());
        let request = analyser.asynchronous.next().await;
        assert_eq!((request.kind, request.control), (Kind::AsyncServiceRequest, 64 + 32));
        assert_eq!((bench.clock.elapsed() - before).as_secs(), 5);
        assert!(analyser.asynchronous.next_within(Duration::from_secs(60)).await.is_none(), "once");
        assert_eq!(analyser.status().await, 64 + 32, "the poll takes the request away");
        assert_eq!(analyser.status().await, 32);
        analyser.ask("*ESR?").await;
        analyser.tell("*OPC").await;
        assert_eq!(analyser.asynchronous.next().await.control, 64 + 32, "and a new reason asks again");
    });
}

/// A trigger from the bus starts what waits for one.
#[test]
fn a_trigger_starts_a_sweep() {
    on(BENCH, |bench| async move {
        let mut analyser = Client::open(&bench, Role::Analyser).await;
        assert_eq!(analyser.ask("*RST;*CLS;:SWE:TIME 5;:TRIG:SOUR BUS;:INIT;:STAT:OPER:COND?").await, "32");
        analyser.send(Kind::Trigger, "").await;
        assert_eq!(analyser.ask("STAT:OPER:COND?").await, "8");
    });
}

/// Clause 6.5: 1 granted, 0 not in time, 3 no such lock; 2 when a shared one is given back.
#[test]
fn locks_shut_others_out_until_they_are_given_back() {
    on(BENCH, |bench| async move {
        let mut one = Client::open(&bench, Role::Supply).await;
        let mut other = Client::open(&bench, Role::Supply).await;
        assert_eq!(one.lock(1, 0, "").await, 1);
        let before = bench.clock.elapsed();
        assert_eq!(other.lock(1, 3000, "").await, 0);
        assert_eq!((bench.clock.elapsed() - before).as_secs(), 3);
        let info = other.beside(Message::bare(Kind::AsyncLockInfo, 0, 0)).await;
        assert_eq!((info.kind, info.control, info.parameter), (Kind::AsyncLockInfoResponse, 1, 1));
        let id = other.tell("*IDN?").await;
        assert!(other.sync.next_within(Duration::from_secs(5)).await.is_none(), "it waits for the lock");
        assert_eq!(one.ask("*OPC?").await, "1");
        assert_eq!(one.lock(0, 0, "").await, 1);
        let answer = other.sync.next().await;
        assert_eq!((answer.kind, answer.parameter), (Kind::DataEnd, id));
        assert_eq!(one.lock(0, 0, "").await, 3);
        assert_eq!((one.lock(1, 0, "k").await, other.lock(1, 0, "k").await), (1, 1));
        assert_eq!(one.lock(0, 0, "").await, 2);
        // Whoever goes gives its locks back.
        assert_eq!(other.lock(1, 0, "").await, 1);
        drop(other);
        assert_eq!(one.lock(1, 60_000, "").await, 1);
    });
}

#[test]
fn remote_and_local_are_acknowledged() {
    on(BENCH, |bench| async move {
        let mut relay = Client::open(&bench, Role::Relay).await;
        let answer = relay.beside(Message::bare(Kind::AsyncRemoteLocalControl, 1, relay.id)).await;
        assert_eq!(answer, Message::bare(Kind::AsyncRemoteLocalResponse, 0, 0));
        let answer = relay.beside(Message::bare(Kind::AsyncRemoteLocalControl, 99, relay.id)).await;
        assert_eq!((answer.kind, answer.control), (Kind::Error, ErrorKind::Control.into()));
    });
}

/// Clause 6.3: what is not known is complained of, and the conversation goes on.
#[test]
fn unknown_messages_are_complained_of() {
    on(BENCH, |bench| async move {
        let mut relay = Client::open(&bench, Role::Relay).await;
        for (kind, error) in [(Kind::Other(99), ErrorKind::Kind), (Kind::Other(200), ErrorKind::Vendor)] {
            relay.sync.send(Message::bare(kind, 0, 0)).await;
            let answer = relay.sync.next().await;
            assert_eq!((answer.kind, answer.control), (Kind::Error, error.into()));
            let answer = relay.beside(Message::bare(kind, 0, 0)).await;
            assert_eq!((answer.kind, answer.control), (Kind::Error, error.into()));
        }
        assert_eq!(relay.ask("*OPC?").await, "1");
    });
}

/// Clause 6.3, from memory: a payload that is too large is complained of, and what follows it is carried out.
#[test]
fn a_payload_that_is_too_large_is_passed_over() {
    on(BENCH, |bench| async move {
        let mut relay = Client::open(&bench, Role::Relay).await;
        relay.sync.send(Message::new(Kind::DataEnd, 0, relay.id, vec![b'x'; 2 << 20])).await;
        let answer = relay.sync.next().await;
        assert_eq!((answer.kind, answer.control), (Kind::Error, ErrorKind::TooLarge.into()));
        assert_eq!(relay.ask("*OPC?").await, "1");
    });
}

async fn fatal(channel: &mut Channel) -> u8 {
    let message = channel.next().await;
    assert_eq!(message.kind, Kind::FatalError, "{message:?}");
    assert!(channel.next_within(HOUR).await.is_none(), "it is over");
    message.control
}

/// Clause 6.2: the reasons why a server gives up a connection.
#[test]
fn what_cannot_go_on_is_ended_with_a_reason() {
    on(BENCH, |bench| async move {
        let mut raw = Channel::open(&bench, Role::Relay).await;
        raw.stream.write_all(b"GET / HTTP/1.1\r\nHost: x\r\n\r\n").await.unwrap();
        assert_eq!(fatal(&mut raw).await, FatalKind::Header.into());

        let mut early = Channel::open(&bench, Role::Relay).await;
        early.send(Message::bare(Kind::DataEnd, 0, FIRST_MESSAGE)).await;
        assert_eq!(fatal(&mut early).await, FatalKind::Initialization.into());

        let mut half = Channel::open(&bench, Role::Relay).await;
        half.send(greeting("hislip0")).await;
        assert_eq!(half.next().await.kind, Kind::InitializeResponse);
        half.send(Message::bare(Kind::DataEnd, 0, FIRST_MESSAGE)).await;
        assert_eq!(fatal(&mut half).await, FatalKind::Channels.into());

        let mut stray = Channel::open(&bench, Role::Relay).await;
        stray.send(Message::bare(Kind::AsyncInitialize, 0, 4711)).await;
        assert_eq!(fatal(&mut stray).await, FatalKind::Initialization.into());

        let mut lost = Channel::open(&bench, Role::Relay).await;
        lost.send(greeting("hislip7")).await;
        assert_eq!(fatal(&mut lost).await, FatalKind::Initialization.into());

        let mut twice = Client::open(&bench, Role::Relay).await;
        twice.sync.send(greeting("hislip0")).await;
        assert_eq!(fatal(&mut twice.sync).await, FatalKind::Initialization.into());
    });
}

#[test]
fn a_monstrous_length_ends_the_session() {
    on(BENCH, |bench| async move {
        let mut relay = Client::open(&bench, Role::Relay).await;
        let header = b"HS\x07\x00\xff\xff\xff\x00\x10\x00\x00\x00\x00\x00\x00\x00";
        relay.sync.stream.write_all(header).await.unwrap();
        assert_eq!(fatal(&mut relay.sync).await, FatalKind::Header.into());
        // The instrument is there for the next one.
        assert_eq!(Client::open(&bench, Role::Relay).await.ask("*OPC?").await, "1");
    });
}

#[test]
fn one_client_at_a_time_refuses_waits_or_closes() {
    let bench_of = |busy: &str| {
        BENCH.replace("  supply: {}", &format!("  supply: {{ link: {{ connections: 1, busy: {busy} }} }}"))
    };
    on(&bench_of("refuse"), |bench| async move {
        let mut first = Client::open(&bench, Role::Supply).await;
        let mut second = Channel::open(&bench, Role::Supply).await;
        second.send(greeting("hislip0")).await;
        assert_eq!(fatal(&mut second).await, FatalKind::Clients.into());
        assert_eq!(first.ask("*OPC?").await, "1");
    });
    on(&bench_of("close"), |bench| async move {
        let _first = Client::open(&bench, Role::Supply).await;
        let mut second = Channel::open(&bench, Role::Supply).await;
        second.send(greeting("hislip0")).await;
        assert!(second.next_within(Duration::from_secs(1)).await.is_none());
    });
    on(&bench_of("wait"), |bench| async move {
        let first = Client::open(&bench, Role::Supply).await;
        let mut second = Channel::open(&bench, Role::Supply).await;
        second.send(greeting("hislip0")).await;
        assert!(second.next_within(Duration::from_secs(60)).await.is_none());
        drop(first);
        assert_eq!(second.next().await.kind, Kind::InitializeResponse);
    });
}

#[test]
fn a_cut_link_takes_both_connections() {
    let cut = BENCH.replace("after_messages: 400", "after_messages: 2");
    on(&cut, |bench| async move {
        let mut supply = Client::open(&bench, Role::Supply).await;
        supply.ask("*IDN?").await;
        supply.ask("*IDN?").await;
        supply.tell("*IDN?").await;
        assert!(supply.sync.next_within(Duration::from_secs(1)).await.is_none());
        assert!(supply.asynchronous.next_within(Duration::from_secs(1)).await.is_none());
        assert!(TcpStream::connect(bench.address(Role::Supply)).await.is_err());
    });
}

mod faults;
