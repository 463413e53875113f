//! What the played device answers, and the peer for streams.

use std::time::Duration;

use spurline_clock::Clock;
use tokio::io::{AsyncRead, AsyncReadExt, AsyncWrite, AsyncWriteExt};

pub(crate) const IDENTITY: &[u8] = b"Maker,Model,1,2";
/// How long `LATE?` keeps its answer back.
pub(crate) const LATE: Duration = Duration::from_secs(5);

/// How the peer behaves.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Script {
    /// The bytes of one write of the peer.
    pub(crate) segment: usize,
    /// The bytes of one message or reply in which a link of messages brings a part of an answer.
    pub(crate) part: usize,
    /// The bytes that the peer takes in one message.
    pub(crate) takes: u32,
}

impl Script {
    pub(crate) const PLAIN: Self = Self { segment: usize::MAX, part: usize::MAX, takes: 1 << 20 };
    pub(crate) const SMALL: Self = Self { segment: 1, part: 700, takes: 1024 };
}

/// What the device does about one message.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Reply {
    None,
    Answer(Vec<u8>),
    /// After some time.
    Late(Vec<u8>),
    /// The beginning of an answer, and then the connection is closed.
    Closing(Vec<u8>),
}

/// Bytes of every value, so that every terminator is among them.
pub(crate) fn data(length: usize) -> Vec<u8> {
    (0..length).map(|i| (i % 256) as u8).collect()
}

pub(crate) fn block(length: usize) -> Vec<u8> {
    let digits = length.to_string();
    [format!("#{}{digits}", digits.len()).as_bytes(), &data(length)].concat()
}

pub(crate) fn reply(message: &[u8]) -> Reply {
    let text = std::str::from_utf8(message).unwrap().trim_end();
    let (header, rest) = text.split_once(' ').unwrap_or((text, ""));
    let line = |bytes: &[u8]| [bytes, b"\n"].concat();
    let count = || rest.parse::<usize>().unwrap();
    match header {
        "*IDN?" => Reply::Answer(line(IDENTITY)),
        "BLOCK?" => Reply::Answer(line(&block(count()))),
        "BARE?" => Reply::Answer(block(count())),
        "ECHO?" => Reply::Answer(line(rest.as_bytes())),
        "LATE?" => Reply::Late(line(rest.as_bytes())),
        "SPILL" => Reply::Answer(line(rest.as_bytes())),
        "CLOSE?" => Reply::Closing(block(1000)[..500].to_vec()),
        "SET" => Reply::None,
        other => panic!("the script does not know `{other}`"),
    }
}

/// Writes in segments; whoever reads may find any number of them at once.
pub(crate) async fn write(stream: &mut (impl AsyncWrite + Unpin), bytes: &[u8], segment: usize) {
    for piece in bytes.chunks(segment) {
        if stream.write_all(piece).await.is_err() {
            return;
        }
        tokio::task::yield_now().await;
    }
}

/// Plays the device on a stream until it closes.
pub(crate) async fn on_stream(mut stream: impl AsyncRead + AsyncWrite + Unpin, script: Script, clock: Clock) {
    let mut received = Vec::new();
    loop {
        while let Some(end) = received.iter().position(|&b| b == b'\n') {
            let message: Vec<u8> = received.drain(..=end).collect();
            match reply(&message) {
                Reply::None => {}
                Reply::Answer(bytes) => write(&mut stream, &bytes, script.segment).await,
                Reply::Late(bytes) => {
                    clock.sleep(LATE).await;
                    write(&mut stream, &bytes, script.segment).await;
                }
                Reply::Closing(bytes) => {
                    write(&mut stream, &bytes, script.segment).await;
                    return;
                }
            }
        }
        if !matches!(stream.read_buf(&mut received).await, Ok(1..)) {
            return;
        }
    }
}
