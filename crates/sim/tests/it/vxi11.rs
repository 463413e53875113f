//! VXI-11 as a client meets it, call by call. Clauses are those of VXI-11 revision 1.0, from memory.

use std::time::Duration;

use bytes::{Bytes, BytesMut};
use spurline_clock::Clock;
use spurline_sim::{Place, Role};
use spurline_wire::rpc::{Call, Outcome, RecordDecoder, Reply};
use spurline_wire::vxi11::{
    ABORT, CORE, Code, CreateLink, Created, Generic, Read, ReadDone, StatusDone, VERSION, Write, WriteDone,
    decode_error, flag, procedure, reason,
};
use spurline_wire::xdr::{Reader, Writer};
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::TcpStream;

use crate::client::{BENCH, Bench, at};

fn on<T, F: Future<Output = T>>(text: &str, script: impl FnOnce(Bench) -> F) -> T {
    let place = Place::Vxi11 { at: "127.0.0.1:0".parse().unwrap(), device: "inst0".to_owned() };
    at(text, &place, script)
}

/// One connection to either channel.
struct Channel {
    stream: TcpStream,
    buffer: BytesMut,
    decoder: RecordDecoder,
    xid: u32,
    clock: Clock,
}

impl Channel {
    async fn open(port: u16, clock: Clock) -> Self {
        let stream = TcpStream::connect(("127.0.0.1", port)).await.unwrap();
        stream.set_nodelay(true).unwrap();
        Self { stream, buffer: BytesMut::new(), decoder: RecordDecoder::new(1 << 20), xid: 100, clock }
    }

    async fn core(bench: &Bench, role: Role) -> Self {
        Self::open(bench.address(role).port(), bench.clock).await
    }

    async fn send(&mut self, program: u32, version: u32, procedure: u32, arguments: Bytes) {
        self.xid += 1;
        let record = Call { xid: self.xid, program, version, procedure, arguments }.encode().unwrap();
        self.stream.write_all(&record).await.unwrap();
    }

    /// The next reply; `None` if the server has closed the connection or says nothing for an hour.
    async fn reply(&mut self) -> Option<Reply> {
        let clock = self.clock;
        let next = async {
            loop {
                if let Some(record) = self.decoder.decode(&mut self.buffer).unwrap() {
                    return Some(Reply::decode(record).unwrap());
                }
                if self.stream.read_buf(&mut self.buffer).await.unwrap_or(0) == 0 {
                    return None;
                }
            }
        };
        clock.within(Duration::from_secs(3600), next).await.ok().flatten()
    }

    async fn outcome(&mut self, program: u32, version: u32, procedure: u32, arguments: Bytes) -> Outcome {
        self.send(program, version, procedure, arguments).await;
        let reply = self.reply().await.expect("a reply");
        assert_eq!(reply.xid, self.xid, "the reply to another call");
        reply.outcome
    }

    async fn call(&mut self, procedure: u32, arguments: Bytes) -> Bytes {
        self.outcome(CORE, VERSION, procedure, arguments).await.results().unwrap()
    }

    async fn create(&mut self, device: &'static str, lock: bool) -> Created {
        let device = Bytes::from_static(device.as_bytes());
        let wanted = CreateLink { client: 1, lock, lock_timeout: 2000, device };
        Created::decode(self.call(procedure::CREATE_LINK, wanted.encode()).await).unwrap()
    }
}

/// A link on a connection of its own.
struct Client {
    channel: Channel,
    made: Created,
}

impl Client {
    async fn open(bench: &Bench, role: Role) -> Self {
        let mut channel = Channel::core(bench, role).await;
        let made = channel.create("inst0", false).await;
        assert!(made.error.is_none() && made.most_receive >= 1024, "{made:?}");
        Self { channel, made }
    }

    async fn write(&mut self, text: &str, flags: u32) -> Code {
        let data = Bytes::copy_from_slice(text.as_bytes());
        let write = Write { link: self.made.link, io_timeout: 2000, lock_timeout: 1000, flags, data };
        let done =
            WriteDone::decode(self.channel.call(procedure::DEVICE_WRITE, write.encode()).await).unwrap();
        assert_eq!(done.size as usize, if done.error.is_none() { text.len() } else { 0 });
        done.error
    }

    async fn tell(&mut self, text: &str) {
        assert_eq!(self.write(text, flag::END).await, Code::NONE, "{text}");
    }

    fn read_call(&self, request: u32, io_timeout: u32, flags: u32) -> Bytes {
        let link = self.made.link;
        Read { link, request, io_timeout, lock_timeout: 0, flags, termchar: b';' }.encode()
    }

    async fn read(&mut self, request: u32, io_timeout: u32, flags: u32) -> ReadDone {
        let arguments = self.read_call(request, io_timeout, flags);
        ReadDone::decode(self.channel.call(procedure::DEVICE_READ, arguments).await).unwrap()
    }

    async fn ask(&mut self, text: &str) -> String {
        self.tell(text).await;
        let done = self.read(1 << 20, 3_600_000, 0).await;
        assert_eq!((done.error, done.reason), (Code::NONE, reason::END), "{text}");
        String::from_utf8(done.data.to_vec()).unwrap().trim_end().to_owned()
    }

    async fn generic(&mut self, procedure: u32) -> Bytes {
        let generic = Generic { link: self.made.link, flags: 0, lock_timeout: 0, io_timeout: 1000 };
        self.channel.call(procedure, generic.encode()).await
    }

    async fn act(&mut self, procedure: u32) -> Code {
        decode_error(self.generic(procedure).await).unwrap()
    }

    async fn status(&mut self) -> u8 {
        let done = StatusDone::decode(self.generic(procedure::DEVICE_READSTB).await).unwrap();
        assert!(done.error.is_none());
        done.status
    }

    async fn lock(&mut self, flags: u32) -> Code {
        let arguments = Writer::new().i32(self.made.link).u32(flags).u32(3000).bytes();
        decode_error(self.channel.call(procedure::DEVICE_LOCK, arguments).await).unwrap()
    }

    async fn by_link(&mut self, procedure: u32) -> Code {
        let arguments = Writer::new().i32(self.made.link).bytes();
        decode_error(self.channel.call(procedure, arguments).await).unwrap()
    }
}

#[test]
fn thousands_of_exchanges_take_no_virtual_time() {
    on(BENCH, |bench| async move {
        let mut analyser = Client::open(&bench, Role::Analyser).await;
        let before = bench.clock.elapsed();
        for _ in 0..1000 {
            assert_eq!(analyser.ask("*IDN?\n").await, "Example,Analyser,A-0001,1.0");
        }
        assert_eq!(bench.clock.elapsed(), before);
        assert_eq!(analyser.ask("*RST;:SWE:TIME 2;:INIT;*OPC?").await, "1");
        assert_eq!((bench.clock.elapsed() - before).as_secs(), 2);
    });
}

/// Rule B.6.2: a device that is not there is not accessible; two links of one connection are two clients.
#[test]
fn links_are_made_and_destroyed() {
    on(BENCH, |bench| async move {
        let mut client = Client::open(&bench, Role::Relay).await;
        assert_eq!(client.channel.create("inst7", false).await.error, Code::NOT_ACCESSIBLE);
        let second = client.channel.create("inst0", false).await;
        assert!(second.error.is_none() && second.link != client.made.link);
        assert_eq!(client.by_link(procedure::DESTROY_LINK).await, Code::NONE);
        assert_eq!(client.by_link(procedure::DESTROY_LINK).await, Code::INVALID_LINK);
        assert_eq!(client.write("*IDN?", flag::END).await, Code::INVALID_LINK);
        client.made = second;
        assert_eq!(client.ask("*OPC?").await, "1");
        // A link of somebody else is none of one's own.
        let mut stranger = Client::open(&bench, Role::Relay).await;
        stranger.made.link = second.link;
        assert_eq!(stranger.write("*IDN?", flag::END).await, Code::INVALID_LINK);
    });
}

#[test]
fn links_are_limited() {
    on(BENCH, |bench| async move {
        let mut channel = Channel::core(&bench, Role::Relay).await;
        let mut made = 0;
        while channel.create("inst0", false).await.error.is_none() {
            made += 1;
        }
        assert!((8..=64).contains(&made), "{made}");
        assert_eq!(channel.create("inst0", false).await.error, Code::RESOURCES);
        drop(channel);
        bench.clock.sleep(Duration::from_secs(1)).await;
        assert_eq!(Client::open(&bench, Role::Relay).await.ask("*OPC?").await, "1");
    });
}

/// Clause B.6.4: 1 as many as asked for, 2 the termination character, 4 the end.
#[test]
fn an_answer_is_read_in_the_pieces_that_are_asked_for() {
    on(BENCH, |bench| async move {
        let mut analyser = Client::open(&bench, Role::Analyser).await;
        analyser.write("*ID", 0).await;
        analyser.tell("N?;*OPC?").await;
        let done = analyser.read(7, 1000, 0).await;
        assert_eq!((&done.data[..], done.reason), (&b"Example"[..], reason::COUNT));
        let done = analyser.read(100, 1000, flag::TERMCHAR).await;
        assert_eq!((&done.data[..], done.reason), (&b",Analyser,A-0001,1.0;"[..], reason::TERMCHAR));
        let done = analyser.read(2, 1000, 0).await;
        assert_eq!((&done.data[..], done.reason), (&b"1\n"[..], reason::COUNT | reason::END));
    });
}

#[test]
fn a_read_waits_as_long_as_it_says() {
    on(BENCH, |bench| async move {
        let mut analyser = Client::open(&bench, Role::Analyser).await;
        let before = bench.clock.elapsed();
        analyser.ask("*CLS;*OPC?").await;
        assert_eq!(analyser.read(100, 1500, 0).await.error, Code::TIMEOUT);
        assert_eq!((bench.clock.elapsed() - before).as_millis(), 1500);
        // IEEE 488.2 clause 6.3.2.2: whoever reads without having asked has left something unterminated.
        assert!(analyser.ask("SYST:ERR?").await.starts_with("-420,"));
        analyser.tell("*RST;:SWE:TIME 5;:INIT;*OPC?").await;
        assert_eq!(analyser.read(100, 1500, 0).await.error, Code::TIMEOUT);
        let done = analyser.read(100, 10_000, 0).await;
        assert_eq!((&done.data[..], done.reason), (&b"1\n"[..], reason::END));
    });
}

/// IEEE 488.2 clauses 5.8 and 6.3.2.3.
#[test]
fn answers_are_interrupted_and_cleared() {
    on(BENCH, |bench| async move {
        let mut analyser = Client::open(&bench, Role::Analyser).await;
        analyser.ask("*CLS;*OPC?").await;
        analyser.tell("*IDN?").await;
        assert_eq!(analyser.status().await & 16, 16);
        assert!(analyser.ask("SYST:ERR?").await.starts_with("-410,"));
        assert_eq!(analyser.status().await, 0);
        analyser.tell("*IDN?").await;
        assert_eq!(analyser.act(procedure::DEVICE_CLEAR).await, Code::NONE);
        assert_eq!(analyser.status().await, 0);
        assert_eq!(analyser.ask("SYST:ERR?").await, "0,\"No error\"");
        analyser.tell("*RST;:SWE:TIME 100;:INIT;*OPC?").await;
        assert_eq!(analyser.act(procedure::DEVICE_CLEAR).await, Code::NONE);
        assert_eq!(analyser.ask("STAT:OPER:COND?").await, "8", "it still sweeps");
        assert_eq!(analyser.act(procedure::DEVICE_TRIGGER).await, Code::NONE);
        assert!(analyser.ask("SYST:ERR?").await.starts_with("-211,"));
        assert_eq!(analyser.act(procedure::DEVICE_REMOTE).await, Code::NONE);
        assert_eq!(analyser.act(procedure::DEVICE_LOCAL).await, Code::NONE);
    });
}

/// Clause B.6.10: 11 if another link has the lock, 12 if this one has none.
#[test]
fn locks_shut_others_out() {
    on(BENCH, |bench| async move {
        let mut one = Client::open(&bench, Role::Supply).await;
        let mut other = Client::open(&bench, Role::Supply).await;
        assert_eq!(one.by_link(procedure::DEVICE_UNLOCK).await, Code::NO_LOCK);
        assert_eq!(one.lock(0).await, Code::NONE);
        assert_eq!(other.lock(0).await, Code::LOCKED);
        assert_eq!(other.write("*IDN?", flag::END).await, Code::LOCKED);
        let polled = StatusDone::decode(other.generic(procedure::DEVICE_READSTB).await).unwrap();
        assert_eq!(polled.error, Code::LOCKED);
        let before = bench.clock.elapsed();
        assert_eq!(other.write("*IDN?", flag::END | flag::WAIT_LOCK).await, Code::LOCKED);
        assert_eq!(other.lock(flag::WAIT_LOCK).await, Code::LOCKED);
        assert_eq!((bench.clock.elapsed() - before).as_secs(), 4);
        assert_eq!(other.channel.create("inst0", true).await.error, Code::LOCKED);
        assert_eq!(one.ask("*OPC?").await, "1");
        assert_eq!(one.by_link(procedure::DEVICE_UNLOCK).await, Code::NONE);
        assert_eq!(other.ask("*OPC?").await, "1");
        assert_eq!(other.lock(0).await, Code::NONE);
        // Whoever goes gives its lock back.
        drop(other);
        assert_eq!(one.lock(flag::WAIT_LOCK).await, Code::NONE);
    });
}

/// Clause B.6.14: the abort channel has a port of its own, which `create_link` tells.
#[test]
fn a_call_in_progress_can_be_aborted() {
    on(BENCH, |bench| async move {
        let mut analyser = Client::open(&bench, Role::Analyser).await;
        let port = u16::try_from(analyser.made.abort_port).unwrap();
        let mut abort = Channel::open(port, bench.clock).await;
        let read = analyser.read_call(100, 1_000_000, 0);
        analyser.channel.send(CORE, VERSION, procedure::DEVICE_READ, read).await;
        bench.clock.sleep(Duration::from_secs(1)).await;
        for (link, code) in [(analyser.made.link, Code::NONE), (4711, Code::INVALID_LINK)] {
            let arguments = Writer::new().i32(link).bytes();
            let told = abort.outcome(ABORT, VERSION, procedure::DEVICE_ABORT, arguments).await;
            assert_eq!(decode_error(told.results().unwrap()), Ok(code));
        }
        let reply = analyser.channel.reply().await.unwrap();
        let done = ReadDone::decode(reply.outcome.results().unwrap()).unwrap();
        assert_eq!(done.error, Code::ABORTED);
        assert!(bench.clock.elapsed() < Duration::from_secs(2));
        assert_eq!(analyser.ask("*OPC?").await, "1");
    });
}

/// RFC 5531 clause 9: what is not served is told apart.
#[test]
fn what_is_not_served_is_said() {
    on(BENCH, |bench| async move {
        let mut client = Client::open(&bench, Role::Relay).await;
        let none = Bytes::new;
        assert_eq!(client.channel.outcome(CORE, VERSION, 0, none()).await, Outcome::Done(none()));
        assert_eq!(client.channel.outcome(ABORT, VERSION, 1, none()).await, Outcome::NoProgram);
        let other = client.channel.outcome(CORE, 7, procedure::DEVICE_READ, none()).await;
        assert_eq!(other, Outcome::NoVersion { low: 1, high: 1 });
        assert_eq!(client.channel.outcome(CORE, VERSION, 99, none()).await, Outcome::NoProcedure);
        let cut = client.channel.outcome(CORE, VERSION, procedure::DEVICE_WRITE, none()).await;
        assert_eq!(cut, Outcome::BadArguments);
        let enable = Writer::new().i32(client.made.link).bool(true).opaque(b"handle").bytes();
        assert_eq!(
            decode_error(client.channel.call(procedure::DEVICE_ENABLE_SRQ, enable).await),
            Ok(Code::NONE)
        );
        let mut items = Reader::new(client.channel.call(procedure::DEVICE_DOCMD, none()).await);
        assert_eq!((items.u32(), items.opaque()), (Ok(Code::NOT_SUPPORTED.0), Ok(none())));
        assert_eq!(client.ask("*OPC?").await, "1");
    });
}

#[test]
fn hostile_input_ends_the_connection_and_nothing_else() {
    on(BENCH, |bench| async move {
        for bytes in [&b"GET / HTTP/1.1\r\n\r\n"[..], b"\xff\xff\xff\xff", b"\x80\0\0\x04\0\0\0\0"] {
            let mut channel = Channel::core(&bench, Role::Relay).await;
            channel.stream.write_all(bytes).await.unwrap();
            assert!(channel.reply().await.is_none(), "{bytes:?}");
        }
        let mut client = Client::open(&bench, Role::Relay).await;
        let text = "x".repeat(70_000);
        client
            .channel
            .send(
                CORE,
                VERSION,
                procedure::DEVICE_WRITE,
                Write { link: client.made.link, io_timeout: 0, lock_timeout: 0, flags: 0, data: text.into() }
                    .encode(),
            )
            .await;
        assert!(client.channel.reply().await.is_none());
        assert_eq!(Client::open(&bench, Role::Relay).await.ask("*OPC?").await, "1");
    });
}

#[test]
fn one_link_at_a_time_refuses_waits_or_closes() {
    let bench_of = |busy: &str| {
        BENCH.replace("  supply: {}", &format!("  supply: {{ link: {{ connections: 1, busy: {busy} }} }}"))
    };
    on(&bench_of("refuse"), |bench| async move {
        let first = Client::open(&bench, Role::Supply).await;
        let mut second = Channel::core(&bench, Role::Supply).await;
        assert_eq!(second.create("inst0", false).await.error, Code::RESOURCES);
        drop(first);
        bench.clock.sleep(Duration::from_millis(10)).await;
        assert_eq!(second.create("inst0", false).await.error, Code::NONE);
    });
    on(&bench_of("close"), |bench| async move {
        let _first = Client::open(&bench, Role::Supply).await;
        let mut second = Channel::core(&bench, Role::Supply).await;
        let wanted =
            CreateLink { client: 1, lock: false, lock_timeout: 0, device: Bytes::from_static(b"inst0") };
        second.send(CORE, VERSION, procedure::CREATE_LINK, wanted.encode()).await;
        assert!(second.reply().await.is_none());
    });
    // One who goes is noticed behind more than is taken off its hands while a call is carried out.
    on(&bench_of("wait"), |bench| async move {
        let mut first = Client::open(&bench, Role::Supply).await;
        let read = first.read_call(1, 3_600_000, 0);
        first.channel.send(CORE, VERSION, procedure::DEVICE_READ, read).await;
        let ahead = vec![0x80; 100 << 10];
        first.channel.stream.write_all(&ahead).await.unwrap();
        bench.clock.sleep(Duration::from_secs(1)).await;
        drop(first);
        let mut second = Channel::core(&bench, Role::Supply).await;
        assert_eq!(second.create("inst0", false).await.error, Code::NONE);
        assert!(bench.clock.elapsed() < Duration::from_secs(60));
    });
    on(&bench_of("wait"), |bench| async move {
        let mut first = Client::open(&bench, Role::Supply).await;
        let mut second = Channel::core(&bench, Role::Supply).await;
        let clock = bench.clock;
        let early = clock.within(Duration::from_secs(60), second.create("inst0", false)).await;
        assert!(early.is_err());
        assert_eq!(first.by_link(procedure::DESTROY_LINK).await, Code::NONE);
        assert!(second.reply().await.is_some());
    });
}

mod faults;
