//! What a run and the process that holds its key say to each other: lines of JSON of bounded length, in strict turn.
//!
//! Every ask has a number, one higher than the one before, and is answered with that number before the next one may
//! come. While an answer takes its time, the holder says twice a second that it is at work. Anything else on the line
//! is damage: the holder then brings the key up and ends, the run ends the holder.

use std::io;
use std::time::Duration;

use bytes::BytesMut;
use data_encoding::BASE64;
use jiff::Timestamp;
use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};
use spurline_keyholder::{LeaseError, Terms};
use spurline_record::{InstrumentUsed, Role};
use spurline_transport::{Direction, Tap, Tapped};
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::UnixStream;

use super::cause::Cause;
use super::wiring::WiringText;
use super::{KeyError, OpenError, Standing};
use crate::error::InstrumentFault;

/// Both ends are the same program, unless it was replaced while it ran.
pub(super) const PROTOCOL: u32 = 1;
/// The longest line, in bytes: a profile's text is the largest thing in one.
const LONGEST: usize = 1 << 20;
/// The most bytes of messages that go with one line, and of one message; what is cut off is said.
const PASSED_MOST: usize = 256 << 10;
/// Longer spans than this are damage: no arithmetic on times may overflow.
const LONGEST_SPAN: Duration = Duration::from_secs(30 * 86_400);
const LONGEST_WORDS: usize = 2000;
const MOST_CAUSES: usize = 8;

/// What the run wants.
#[derive(Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Asked {
    pub(super) number: u64,
    pub(super) ask: Ask,
}

#[derive(Debug, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub(super) enum Ask {
    /// First and once: this line, on these terms.
    Arm(Box<Arm>),
    Down {
        longest: Duration,
    },
    Beat,
    Up,
    Confirm,
    /// Last: key up, and end.
    Close,
}

#[derive(Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Arm {
    pub(super) protocol: u32,
    /// The process that asks.
    pub(super) parent: u32,
    pub(super) wiring: WiringText,
    pub(super) longest: Duration,
    pub(super) beat_within: Duration,
    pub(super) rest: Duration,
    pub(super) rest_factor: u32,
    pub(super) brief: Duration,
    /// How long the unit must rest before it is keyed.
    pub(super) rest_first: Duration,
    /// Whether another one held the key before: then it may be down, and comes up even if the run is gone.
    pub(super) again: bool,
}

impl Arm {
    pub(super) fn terms(&self) -> Terms {
        Terms {
            longest: self.longest,
            beat_within: self.beat_within,
            rest: self.rest,
            rest_factor: self.rest_factor,
            brief: self.brief,
        }
    }
}

impl Ask {
    fn is_sound(&self) -> bool {
        match self {
            Self::Arm(arm) => {
                let spans = [arm.longest, arm.beat_within, arm.rest, arm.brief, arm.rest_first];
                spans.iter().all(|span| *span <= LONGEST_SPAN) && arm.rest_factor <= 1000
            }
            Self::Down { longest } => *longest <= LONGEST_SPAN,
            Self::Beat | Self::Up | Self::Confirm | Self::Close => true,
        }
    }
}

/// What the holder says.
#[derive(Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Said {
    /// The number of what it answers.
    pub(super) number: u64,
    pub(super) line: Line,
    /// What passed on the link of the key since it was last told.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub(super) passed: Vec<Passed>,
    pub(super) word: Word,
}

/// How the line stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub(super) enum Line {
    Up,
    Down { left: Duration },
    Unknown,
}

impl From<Standing> for Line {
    fn from(standing: Standing) -> Self {
        match standing {
            Standing::Up => Self::Up,
            Standing::Down { left } => Self::Down { left },
            Standing::Unknown => Self::Unknown,
        }
    }
}

impl From<Line> for Standing {
    fn from(line: Line) -> Self {
        match line {
            Line::Up => Self::Up,
            Line::Down { left } => Self::Down { left },
            Line::Unknown => Self::Unknown,
        }
    }
}

#[derive(Debug, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub(super) enum Word {
    /// Still at it.
    Working,
    /// The line is ready and up.
    Armed { used: Option<InstrumentUsed> },
    /// It could not be made ready.
    NotArmed { instrument: bool, error: Failure },
    /// Done; how long the key was down, if it came up.
    Done { held: Duration },
    /// Not done.
    Failed(Failure),
    /// The holder ends, and why.
    Ends { why: String },
}

/// An error of the key, in words that pass between processes.
#[derive(Debug, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub(super) enum Failure {
    AlreadyDown,
    TooLong { longest: Duration, asked: Duration },
    Resting(Duration),
    NotDown,
    NotReady(Fault),
    Line(Fault),
    StillDown(Fault),
    ConfirmedLate(Fault),
    NoHolder(String),
}

/// A fault of the key's instrument or line.
#[derive(Debug, Serialize, Deserialize)]
pub(super) struct Fault {
    role: Role,
    message: String,
    causes: Vec<String>,
    advice: Option<String>,
    of_the_link: bool,
    of_the_key_line: bool,
}

fn cut(text: String) -> String {
    text.chars().take(LONGEST_WORDS).collect()
}

impl From<&InstrumentFault> for Fault {
    fn from(fault: &InstrumentFault) -> Self {
        let first = std::error::Error::source(fault);
        let causes = std::iter::successors(first, |&cause| cause.source());
        Self {
            role: fault.role(),
            message: cut(fault.to_string()),
            causes: causes.take(MOST_CAUSES).map(|cause| cut(cause.to_string())).collect(),
            advice: fault.advice().map(|advice| cut(advice.to_owned())),
            of_the_link: fault.is_of_the_link(),
            of_the_key_line: fault.is_of_the_key_line(),
        }
    }
}

impl Fault {
    fn told(self) -> InstrumentFault {
        InstrumentFault::Told {
            role: self.role,
            message: self.message,
            source: Cause::of(self.causes),
            advice: self.advice,
            of_the_link: self.of_the_link,
            of_the_key_line: self.of_the_key_line,
        }
    }
}

impl From<&KeyError> for Failure {
    fn from(error: &KeyError) -> Self {
        match error {
            KeyError::Lease(LeaseError::AlreadyDown) => Self::AlreadyDown,
            KeyError::Lease(LeaseError::TooLong { longest, asked }) => {
                Self::TooLong { longest: *longest, asked: *asked }
            }
            KeyError::Lease(LeaseError::Resting(span)) => Self::Resting(*span),
            KeyError::Lease(LeaseError::NotDown) | KeyError::Stalled(_) => Self::NotDown,
            KeyError::NotReady(fault) => Self::NotReady(fault.into()),
            KeyError::Line(fault) => Self::Line(fault.into()),
            KeyError::StillDown(fault) => Self::StillDown(fault.into()),
            KeyError::ConfirmedLate(fault) => Self::ConfirmedLate(fault.into()),
            KeyError::NoHolder { why, .. } => Self::NoHolder(cut(why.clone())),
        }
    }
}

impl From<Failure> for KeyError {
    fn from(failure: Failure) -> Self {
        match failure {
            Failure::AlreadyDown => Self::Lease(LeaseError::AlreadyDown),
            Failure::TooLong { longest, asked } => Self::Lease(LeaseError::TooLong { longest, asked }),
            Failure::Resting(span) => Self::Lease(LeaseError::Resting(span.min(LONGEST_SPAN))),
            Failure::NotDown => Self::Lease(LeaseError::NotDown),
            Failure::NotReady(fault) => Self::NotReady(fault.told()),
            Failure::Line(fault) => Self::Line(fault.told()),
            Failure::StillDown(fault) => Self::StillDown(fault.told()),
            Failure::ConfirmedLate(fault) => Self::ConfirmedLate(fault.told()),
            Failure::NoHolder(why) => Self::NoHolder { why, keyed: true, confirmed: false },
        }
    }
}

impl From<&OpenError> for Word {
    fn from(error: &OpenError) -> Self {
        match error {
            OpenError::Instrument(fault) => {
                Self::NotArmed { instrument: true, error: Failure::Line(fault.into()) }
            }
            OpenError::Key(error) => Self::NotArmed { instrument: false, error: error.into() },
        }
    }
}

/// The error of a [`Word::NotArmed`].
pub(super) fn not_armed(instrument: bool, error: Failure) -> OpenError {
    match (instrument, error) {
        (true, Failure::Line(fault)) => OpenError::Instrument(fault.told()),
        (_, error) => OpenError::Key(error.into()),
    }
}

/// A message on the link of the key.
#[derive(Debug, Serialize, Deserialize)]
pub(super) struct Passed {
    at: Timestamp,
    link: String,
    way: Way,
    bytes: String,
}

#[derive(Clone, Copy, Debug, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
enum Way {
    Sent,
    Received,
    Unreadable,
    Lost,
}

impl Passed {
    /// Adds it to a transcript, under that one's present step.
    pub(super) fn note(self, tap: &Tap) -> Result<(), String> {
        let direction = match self.way {
            Way::Sent => Direction::Sent,
            Way::Received => Direction::Received,
            Way::Unreadable => Direction::Unreadable,
            Way::Lost => Direction::Lost,
        };
        let bytes = BASE64.decode(self.bytes.as_bytes()).map_err(|error| error.to_string())?;
        tap.add(self.at, &self.link, direction, bytes.into());
        Ok(())
    }
}

impl From<Tapped> for Passed {
    fn from(tapped: Tapped) -> Self {
        let bytes = &tapped.bytes[..tapped.bytes.len().min(PASSED_MOST)];
        Self {
            at: tapped.at,
            link: tapped.link.as_ref().to_owned(),
            way: match tapped.direction {
                Direction::Sent => Way::Sent,
                Direction::Received => Way::Received,
                Direction::Unreadable => Way::Unreadable,
                Direction::Lost => Way::Lost,
            },
            bytes: BASE64.encode(bytes),
        }
    }
}

/// Takes as many of what passed as go with one line.
pub(super) fn fitting(waiting: &mut std::collections::VecDeque<Tapped>) -> Vec<Passed> {
    let (mut size, mut passed) = (0, Vec::new());
    while let Some(first) = waiting.front() {
        size += first.bytes.len().min(PASSED_MOST) + 100;
        if size > PASSED_MOST + 100 && !passed.is_empty() {
            break;
        }
        passed.extend(waiting.pop_front().map(Passed::from));
    }
    passed
}

/// One end of the socket pair.
#[derive(Debug)]
pub(super) struct Frames {
    stream: UnixStream,
    heard: BytesMut,
}

impl Frames {
    pub(super) fn new(stream: UnixStream) -> Self {
        Self { stream, heard: BytesMut::new() }
    }

    /// The next line; `None` if the other end is closed. Nothing is lost if the wait is given up.
    pub(super) async fn next<T: DeserializeOwned>(&mut self) -> io::Result<Option<T>> {
        loop {
            if let Some(end) = self.heard.iter().position(|byte| *byte == b'\n') {
                let line = self.heard.split_to(end + 1);
                return serde_json::from_slice(&line[..end]).map(Some).map_err(damage);
            }
            if self.heard.len() > LONGEST {
                return Err(damage(format!("a line of more than {LONGEST} bytes")));
            }
            if self.stream.read_buf(&mut self.heard).await? == 0 {
                return if self.heard.is_empty() { Ok(None) } else { Err(damage("half a line")) };
            }
        }
    }

    pub(super) async fn send(&mut self, line: &impl Serialize) -> io::Result<()> {
        let mut bytes = serde_json::to_vec(line)?;
        bytes.push(b'\n');
        self.stream.write_all(&bytes).await
    }

    /// The next ask, which must have a number.
    pub(super) async fn asked(&mut self, number: u64) -> io::Result<Option<Ask>> {
        let Some(asked) = self.next::<Asked>().await? else { return Ok(None) };
        if asked.number != number {
            return Err(damage(format!("expected number {number}, found {}", asked.number)));
        }
        if !asked.ask.is_sound() {
            return Err(damage("a span of more than 30 days"));
        }
        Ok(Some(asked.ask))
    }
}

pub(super) fn damage(what: impl ToString) -> io::Error {
    io::Error::new(io::ErrorKind::InvalidData, what.to_string())
}
