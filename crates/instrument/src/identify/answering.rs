//! Who answers, how fast, and in which manner: questions only, which any instrument bears.

use std::fmt;
use std::time::Duration;

use spurline_record::Identity;
use spurline_scpi::{Element, InstrumentError, Response};

use super::line::{Heard, Line, Lost};
use super::shown::{shown, shown_bytes};

/// Who answers, and in which manner.
#[derive(Clone, Debug, PartialEq)]
pub struct Answering {
    /// The four fields of `*IDN?`; if it is not four, the answer as it came.
    pub identity: Result<Identity, String>,
    /// How long each of several round trips took, shortest first.
    pub round_trips: Vec<Duration>,
    /// The answer to `*OPT?`.
    pub options: Option<String>,
    /// The answer to `SYST:VERS?`: the year of the SCPI that it keeps to.
    pub version: Option<String>,
    /// What stood in the error queue, oldest first; `None` if there is no queue.
    pub errors: Option<Vec<InstrumentError>>,
    /// What it does with a question that no instrument knows.
    pub unknown: Reaction,
    /// What it does with a header behind `;` that starts from the root without saying so.
    pub relative: Reaction,
    /// What it does with two questions in one message.
    pub compound: Reaction,
    /// What it does with a carriage return before the end of a message.
    pub carriage_return: Reaction,
}

/// What an instrument does with a question.
#[derive(Clone, Debug, PartialEq)]
pub enum Reaction {
    /// It answers as a question of this form should be answered.
    Answers,
    /// It answers something else.
    AnswersOtherwise(String),
    /// It raises errors.
    Errors(Vec<InstrumentError>),
    /// Neither answer nor error.
    Nothing,
}

impl fmt::Display for Reaction {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Answers => f.write_str("answered"),
            Self::AnswersOtherwise(how) => write!(f, "answered otherwise: {how}"),
            Self::Errors(errors) => {
                let errors: Vec<String> = errors.iter().map(ToString::to_string).collect();
                f.write_str(&errors.join("; "))
            }
            Self::Nothing => f.write_str("neither answer nor error"),
        }
    }
}

impl Answering {
    /// The middle one of the round trips.
    #[must_use]
    pub fn round_trip(&self) -> Duration {
        self.round_trips.get(self.round_trips.len() / 2).copied().unwrap_or_default()
    }

    /// The slowest of the round trips.
    #[must_use]
    pub fn slowest(&self) -> Duration {
        self.round_trips.last().copied().unwrap_or_default()
    }

    /// How long a question is waited for that may well be unknown, where one that must be answered is waited for
    /// `within`.
    pub(super) fn patience(&self, within: Duration) -> Duration {
        patience(self.slowest(), within)
    }
}

/// How long a question is waited for that may well be unknown.
fn patience(slowest: Duration, within: Duration) -> Duration {
    (slowest * WAIT_IN_ROUND_TRIPS).max(SHORTEST_WAIT).min(within)
}

const ROUND_TRIPS: usize = 5;
/// A question that may well be unknown is not waited for as long as one that must be answered.
const SHORTEST_WAIT: Duration = Duration::from_millis(500);
const WAIT_IN_ROUND_TRIPS: u32 = 20;
/// No instrument knows it; a question, so that one which guesses what is meant does nothing.
const UNKNOWN: &str = "SYST:NOSUCHHEADER?";

/// Asks; `None` if nobody answers.
pub(super) async fn look(line: &mut Line) -> Result<Option<Answering>, Lost> {
    let clock = line.clock();
    let mut round_trips = Vec::with_capacity(ROUND_TRIPS);
    let mut identity = None;
    for _ in 0..ROUND_TRIPS {
        let asked = clock.now();
        match line.ask("*IDN?", Duration::ZERO).await? {
            Heard::Silence(_) if identity.is_none() => return Ok(None),
            Heard::Silence(_) => {}
            heard @ (Heard::Answer(_) | Heard::Unreadable(_)) => {
                round_trips.push(clock.now().since(asked));
                identity.get_or_insert_with(|| identity_of(&heard));
            }
        }
    }
    round_trips.sort_unstable();
    let errors = line.first_errors().await?;
    let wait = patience(round_trips.last().copied().unwrap_or_default(), line.within());
    let options = text(line, "*OPT?", wait).await?;
    let version = text(line, "SYST:VERS?", wait).await?;
    Ok(Some(Answering {
        identity: identity.unwrap_or_else(|| Err(String::new())),
        round_trips,
        options,
        version,
        errors,
        unknown: react(line, UNKNOWN, 1, wait).await?,
        relative: react(line, "SYST:ERR?;SYST:VERS?", 2, wait).await?,
        // `*IDN?` comes last: IEEE 488.2 allows nothing behind an answer of free text.
        compound: react(line, "*OPC?;*IDN?", 2, wait).await?,
        carriage_return: react(line, "*IDN?\r", 1, wait).await?,
    }))
}

fn identity_of(heard: &Heard) -> Result<Identity, String> {
    let response = match heard {
        Heard::Answer(response) => response,
        Heard::Unreadable(why) => return Err(why.clone()),
        Heard::Silence(_) => return Err(String::new()),
    };
    let found = response.exactly::<1>().and_then(|[unit]| unit.identity());
    let identity = found.map_err(|_| shown_bytes(&response.encode()))?;
    Ok(Identity {
        maker: shown(&identity.maker),
        model: shown(&identity.model),
        serial: shown(&identity.serial),
        firmware: shown(&identity.firmware),
    })
}

/// An answer as text, if there is one; an error that the question raised is not left behind.
async fn text(line: &mut Line, question: &str, wait: Duration) -> Result<Option<String>, Lost> {
    let heard = line.ask_for(question, wait).await?;
    line.errors().await?;
    Ok(match heard {
        Heard::Answer(response) => Some(shown_bytes(&response.encode())),
        Heard::Silence(_) | Heard::Unreadable(_) => None,
    })
}

/// What comes of a question that has `units` answers where it is understood.
async fn react(line: &mut Line, question: &str, units: usize, wait: Duration) -> Result<Reaction, Lost> {
    let heard = line.ask_for(question, wait).await?;
    if !line.has_queue() {
        line.settle().await?;
    }
    let errors = line.errors().await?;
    Ok(match heard {
        _ if !errors.is_empty() => Reaction::Errors(errors),
        Heard::Answer(response) if answers(&response, units) => Reaction::Answers,
        Heard::Answer(response) => Reaction::AnswersOtherwise(shown_bytes(&response.encode())),
        Heard::Unreadable(why) => Reaction::AnswersOtherwise(why),
        Heard::Silence(_) => Reaction::Nothing,
    })
}

fn answers(response: &Response, units: usize) -> bool {
    let empty = |element: &Element| matches!(element, Element::Text(text) if text.is_empty());
    response.units.len() == units && !response.units.iter().all(|unit| unit.elements.iter().all(empty))
}
