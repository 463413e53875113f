//! A HiSLIP server with one device, as far as a client can see one: synchronised, one client.

use bytes::BytesMut;
use spurline_clock::Clock;
use spurline_wire::hislip::{DELIVERED, Decoder, Greeting, Kind, Message, Version, Welcome, read_size, size};
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::{TcpListener, TcpStream};

use crate::script::{LATE, Reply, Script, reply, write};

/// One of the two connections.
pub(crate) struct Side {
    stream: TcpStream,
    buffer: BytesMut,
    decoder: Decoder,
    segment: usize,
}

impl Side {
    pub(crate) async fn accept(listener: &TcpListener, segment: usize) -> Self {
        let (stream, _) = listener.accept().await.unwrap();
        stream.set_nodelay(true).unwrap();
        Self { stream, buffer: BytesMut::new(), decoder: Decoder::new(1 << 20), segment }
    }

    /// The next message; `None` when the client has closed.
    pub(crate) async fn next(&mut self) -> Option<Message> {
        loop {
            if let Some(message) = self.decoder.decode(&mut self.buffer).unwrap() {
                return Some(message);
            }
            if !matches!(self.stream.read_buf(&mut self.buffer).await, Ok(1..)) {
                return None;
            }
        }
    }

    pub(crate) async fn expect(&mut self, kind: Kind) -> Message {
        let message = self.next().await.unwrap();
        assert_eq!(message.kind, kind);
        message
    }

    pub(crate) async fn send(&mut self, message: Message) {
        let mut out = BytesMut::new();
        message.encode(&mut out);
        write(&mut self.stream, &out, self.segment).await;
    }

    pub(crate) async fn bare(&mut self, kind: Kind, control: u8, parameter: u32) {
        self.send(Message::bare(kind, control, parameter)).await;
    }
}

/// Both connections after a session was opened on them.
pub(crate) async fn greet(listener: &TcpListener, script: Script, overlapped: bool) -> (Side, Side) {
    let mut main = Side::accept(listener, script.segment).await;
    let greeting = Greeting::read(&main.expect(Kind::Initialize).await).unwrap();
    assert_eq!((greeting.version, &greeting.sub_address[..]), (Version::ONE, &b"hislip0"[..]));
    main.send(Welcome { version: Version::ONE, session: 7, overlapped }.message()).await;
    let mut beside = Side::accept(listener, script.segment).await;
    assert_eq!(beside.expect(Kind::AsyncInitialize).await.parameter, 7);
    beside.bare(Kind::AsyncInitializeResponse, 0, 0x5858).await;
    let most = read_size(&beside.expect(Kind::AsyncMaximumMessageSize).await).unwrap();
    assert!(most >= 64 << 20, "{most}");
    beside.send(size(Kind::AsyncMaximumMessageSizeResponse, script.takes.into())).await;
    (main, beside)
}

pub(crate) async fn serve(listener: TcpListener, script: Script, clock: Clock) {
    let (mut main, mut beside) = greet(&listener, script, false).await;
    let mut incoming = Vec::new();
    let mut waiting = false;
    loop {
        tokio::select! {
            message = main.next() => {
                let Some(message) = message else { return };
                assert!(message.payload.len() <= script.takes as usize);
                if message.control & DELIVERED != 0 {
                    waiting = false;
                }
                match message.kind {
                    Kind::Data => incoming.extend_from_slice(&message.payload),
                    Kind::DataEnd => {
                        incoming.extend_from_slice(&message.payload);
                        let whole = std::mem::take(&mut incoming);
                        assert_eq!(whole.last(), Some(&b'\n'));
                        match reply(&whole) {
                            Reply::None => continue,
                            Reply::Answer(bytes) => answer(&mut main, &bytes, message.parameter, script).await,
                            Reply::Late(bytes) => {
                                clock.sleep(LATE).await;
                                answer(&mut main, &bytes, message.parameter, script).await;
                            }
                            Reply::Closing(bytes) => {
                                main.send(Message::new(Kind::Data, 0, message.parameter, bytes)).await;
                                return;
                            }
                        }
                        waiting = true;
                    }
                    kind => panic!("the script does not know {kind:?} on the first connection"),
                }
            }
            message = beside.next() => {
                let Some(message) = message else { return };
                match message.kind {
                    Kind::AsyncStatusQuery => {
                        if message.control & DELIVERED != 0 {
                            waiting = false;
                        }
                        // A request for service comes in between, as it may at any time.
                        beside.bare(Kind::AsyncServiceRequest, 0x40, 0).await;
                        beside.bare(Kind::AsyncStatusResponse, if waiting { 0x50 } else { 0x40 }, 0).await;
                    }
                    Kind::AsyncDeviceClear => {
                        beside.bare(Kind::AsyncDeviceClearAcknowledge, 0, 0).await;
                        // What had been sent before the clear is discarded.
                        while main.next().await.unwrap().kind != Kind::DeviceClearComplete {}
                        main.bare(Kind::DeviceClearAcknowledge, 0, 0).await;
                        incoming.clear();
                        waiting = false;
                    }
                    kind => panic!("the script does not know {kind:?} on the second connection"),
                }
            }
        }
    }
}

async fn answer(main: &mut Side, bytes: &[u8], id: u32, script: Script) {
    let parts: Vec<&[u8]> = bytes.chunks(script.part).collect();
    for (at, part) in parts.iter().enumerate() {
        let kind = if at + 1 == parts.len() { Kind::DataEnd } else { Kind::Data };
        main.send(Message::new(kind, 0, id, part.to_vec())).await;
    }
}

/// Sends bytes that are no message.
pub(crate) async fn garbage(listener: TcpListener) {
    let mut side = Side::accept(&listener, usize::MAX).await;
    side.expect(Kind::Initialize).await;
    side.stream.write_all(b"HTTP/1.1 400 Bad Request\r\n\r\n").await.unwrap();
    side.next().await;
}

/// Speaks first, as no server of remote procedures does.
pub(crate) async fn greeting_only(listener: TcpListener) {
    let (mut stream, _) = listener.accept().await.unwrap();
    let mut out = BytesMut::new();
    Welcome { version: Version::ONE, session: 1, overlapped: false }.message().encode(&mut out);
    stream.write_all(&out).await.unwrap();
    std::future::pending::<()>().await;
}
