//! A bench on free ports and clients that speak to it line by line.

use std::future::Future;
use std::net::SocketAddr;
use std::time::Duration;

use spurline_clock::{Clock, Pace, run};
use spurline_document::{Document, Reader};
use spurline_sim::{Place, Role, Served, SimulatedBench, Wiring, serve};
use tokio::io::{AsyncBufReadExt, AsyncRead, AsyncReadExt, AsyncWrite, AsyncWriteExt, BufReader};
use tokio::net::TcpStream;

pub(crate) const BENCH: &str = include_str!("../bench.yaml");

/// Reads the node under `simulated:`.
pub(crate) fn read(text: &str) -> SimulatedBench {
    let document = Document::parse("bench.yaml", text).unwrap();
    let mut reader = Reader::new(&document);
    let bench = reader.fields(&document.root, "a bench").and_then(|mut fields| {
        let node = fields.required(&mut reader, "simulated")?;
        SimulatedBench::read(&mut reader, node)
    });
    reader.finish(bench).unwrap()
}

/// A served bench.
pub(crate) struct Bench {
    pub(crate) served: Served,
    pub(crate) clock: Clock,
}

/// Serves the bench of `text` in virtual time while `script` runs.
pub(crate) fn on<T, F: Future<Output = T>>(text: &str, script: impl FnOnce(Bench) -> F) -> T {
    at(text, &Place::any_socket(), script)
}

/// The same with every instrument at a place of the given kind.
pub(crate) fn at<T, F: Future<Output = T>>(text: &str, place: &Place, script: impl FnOnce(Bench) -> F) -> T {
    let bench = read(text);
    run(Pace::Fast, |clock| async move {
        let listen = Role::ALL.map(|role| (role, place.clone())).to_vec();
        let wiring = Wiring { key_channel: 3, key_supply: false, key_line: None, listen };
        let served = serve(&bench, &wiring, clock).await.unwrap();
        script(Bench { served, clock }).await
    })
    .unwrap()
}

impl Bench {
    pub(crate) fn place(&self, role: Role) -> &Place {
        &self.served.places().iter().find(|(known, _)| *known == role).unwrap().1
    }

    pub(crate) fn address(&self, role: Role) -> SocketAddr {
        self.place(role).socket().unwrap()
    }

    pub(crate) async fn connect(&self, role: Role) -> Client {
        let stream = TcpStream::connect(self.address(role)).await.unwrap();
        stream.set_nodelay(true).unwrap();
        Client::over(stream, self.clock)
    }

    /// Tunes the unit, gives it power, and keys it.
    pub(crate) async fn key(&self, megahertz: f64) -> Client {
        let mut supply = self.connect(Role::Supply).await;
        supply.ask("VOLT 7.4;CURR 2.5;:OUTP ON;*OPC?").await;
        let mut unit = self.connect(Role::UnitControl).await;
        unit.ask(&format!("FREQ {megahertz}E6;:POW HIGH;*OPC?")).await;
        let mut relay = self.connect(Role::Relay).await;
        assert_eq!(relay.ask("ROUT:CLOS (@3);CLOS? (@3)").await, "1");
        self.clock.sleep(Duration::from_millis(500)).await;
        relay
    }
}

/// A connection to one instrument.
pub(crate) struct Client {
    stream: BufReader<Box<dyn Stream>>,
    clock: Clock,
}

/// What became of a link.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Ending {
    Open,
    Closed,
    Failed,
}

/// Whatever carries bytes both ways.
pub(crate) trait Stream: AsyncRead + AsyncWrite + Unpin + Send {}

impl<S: AsyncRead + AsyncWrite + Unpin + Send> Stream for S {}

impl Client {
    pub(crate) fn over(stream: impl Stream + 'static, clock: Clock) -> Self {
        Self { stream: BufReader::new(Box::new(stream)), clock }
    }

    pub(crate) async fn send(&mut self, message: &str) {
        self.stream.write_all(format!("{message}\n").as_bytes()).await.unwrap();
    }

    /// The next answer; `None` if there is none within `span` or the link is gone.
    pub(crate) async fn answer_within(&mut self, span: Duration) -> Option<String> {
        let mut line = String::new();
        let read = self.clock.within(span, self.stream.read_line(&mut line)).await;
        matches!(read, Ok(Ok(count)) if count > 0).then(|| line.trim_end().to_owned())
    }

    /// All bytes that come within `span`, and whether the link was closed or failed behind them.
    pub(crate) async fn bytes_within(&mut self, span: Duration) -> (Vec<u8>, Ending) {
        let mut bytes = Vec::new();
        let read = self.clock.within(span, self.stream.read_to_end(&mut bytes)).await;
        let ending = match read {
            Err(_) => Ending::Open,
            Ok(Ok(_)) => Ending::Closed,
            Ok(Err(_)) => Ending::Failed,
        };
        (bytes, ending)
    }

    pub(crate) async fn send_bytes(&mut self, bytes: &[u8]) {
        self.stream.write_all(bytes).await.unwrap();
    }

    #[track_caller]
    pub(crate) fn ask(&mut self, message: &str) -> impl Future<Output = String> {
        let message = message.to_owned();
        async move {
            self.send(&message).await;
            let answer = self.answer_within(Duration::from_secs(3600)).await;
            answer.unwrap_or_else(|| panic!("`{message}` was not answered"))
        }
    }

    pub(crate) async fn number(&mut self, message: &str) -> f64 {
        self.ask(message).await.parse().unwrap()
    }
}
