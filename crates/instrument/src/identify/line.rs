//! A conversation without any help: one question at a time, its answer, silence, or something unreadable.

use std::time::Duration;

use spurline_clock::Clock;
use spurline_scpi::{InstrumentError, Response};
use spurline_transport::{Address, Link, LinkError, LinkSettings, connect, receive_whole};
use thiserror::Error;

use super::shown::shown;

/// The link is gone.
#[derive(Debug, Error)]
#[error("the link failed after `{after}`: {source}")]
pub(super) struct Lost {
    /// What was sent last.
    pub(super) after: String,
    /// Why.
    pub(super) source: LinkError,
}

/// What came back.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Heard {
    /// An answer.
    Answer(Response),
    /// Nothing, for that long.
    Silence(Duration),
    /// Bytes that are no answer; why.
    Unreadable(String),
}

/// A link to an instrument that nothing is known about yet.
#[derive(Debug)]
pub(super) struct Line {
    link: Box<dyn Link>,
    /// Where to connect again when the link is out of step; a link that was handed in cannot be opened again.
    address: Option<(Address, LinkSettings)>,
    clock: Clock,
    within: Duration,
    has_queue: bool,
    /// How often in a row the error queue was asked for in vain.
    unanswered: u32,
    after: String,
}

/// The most entries that are read from an error queue: one that errs on the question itself never ends.
const MOST_ERRORS: usize = 64;
/// The most late answers that are thrown away at once.
const MOST_STALE: usize = 16;
/// A link is at rest when nothing has come for that long.
const QUIET: Duration = Duration::from_millis(200);
/// An instrument that has an error queue and does not answer for it that often in a row answers nothing any more.
const MOST_UNANSWERED: u32 = 3;
const NEXT_ERROR: &str = "SYST:ERR?";

impl Line {
    /// Connects; sends nothing.
    pub(super) async fn open(
        address: &Address,
        settings: LinkSettings,
        within: Duration,
        clock: Clock,
    ) -> Result<Self, LinkError> {
        let link = connect(address, &settings, clock).await?;
        Ok(Self { address: Some((address.clone(), settings)), ..Self::over(link, within, clock) })
    }

    /// A conversation over a link that exists.
    pub(super) fn over(link: Box<dyn Link>, within: Duration, clock: Clock) -> Self {
        Self { link, address: None, clock, within, has_queue: true, unanswered: 0, after: String::new() }
    }

    pub(super) fn clock(&self) -> Clock {
        self.clock
    }

    /// How long an answer may take that waits for nothing.
    pub(super) fn within(&self) -> Duration {
        self.within
    }

    /// Whether there is an error queue to be asked.
    pub(super) fn has_queue(&self) -> bool {
        self.has_queue
    }

    /// Sends a message that is not answered.
    pub(super) async fn tell(&mut self, message: &str) -> Result<(), Lost> {
        message.clone_into(&mut self.after);
        match self.clock.within(self.within, self.link.send(message.as_bytes())).await {
            Ok(Ok(())) => Ok(()),
            Ok(Err(source)) => Err(self.lost(source)),
            Err(_) => {
                let source = std::io::Error::from(std::io::ErrorKind::TimedOut);
                Err(self.lost(LinkError::Io(source)))
            }
        }
    }

    /// Sends a message and waits for its answer, for as long as answers take and `work` besides.
    pub(super) async fn ask(&mut self, message: &str, work: Duration) -> Result<Heard, Lost> {
        self.ask_for(message, self.within + work).await
    }

    /// Sends a message and waits for its answer for `span`.
    pub(super) async fn ask_for(&mut self, message: &str, span: Duration) -> Result<Heard, Lost> {
        self.rest().await?;
        self.tell(message).await?;
        self.receive(span).await
    }

    /// An answer that came too late must not be taken for the next one.
    async fn rest(&mut self) -> Result<(), Lost> {
        match self.link.unread().await {
            Ok(0) => Ok(()),
            Ok(_) => self.settle().await,
            Err(source) => Err(self.lost(source)),
        }
    }

    async fn receive(&mut self, span: Duration) -> Result<Heard, Lost> {
        let link = &mut self.link;
        let arrived = self.clock.within(span, receive_whole(link.as_mut()));
        let unreadable = match arrived.await {
            Err(_) => return Ok(Heard::Silence(span)),
            Ok(Ok(bytes)) => match Response::parse(bytes) {
                Ok(response) => return Ok(Heard::Answer(response)),
                Err(error) => error.to_string(),
            },
            Ok(Err(LinkError::Decode(error))) => {
                self.connect_again().await?;
                error.to_string()
            }
            Ok(Err(source)) => return Err(self.lost(source)),
        };
        Ok(Heard::Unreadable(unreadable))
    }

    /// Everything in the error queue, oldest first; nothing where there is no queue, or no answer.
    pub(super) async fn errors(&mut self) -> Result<Vec<InstrumentError>, Lost> {
        Ok(self.errors_after(Duration::ZERO).await?.unwrap_or_default())
    }

    /// The same, from an instrument that may still be busy for `work`; `None` if it has a queue and does not answer.
    pub(super) async fn errors_after(
        &mut self,
        work: Duration,
    ) -> Result<Option<Vec<InstrumentError>>, Lost> {
        let mut errors = Vec::new();
        while self.has_queue && errors.len() < MOST_ERRORS {
            match self.next_error(work).await? {
                Some(entry) if entry.is_no_error() => break,
                Some(entry) => errors.push(entry),
                None => return Ok(None),
            }
        }
        Ok(Some(errors))
    }

    /// Finds out whether there is an error queue, and empties it.
    pub(super) async fn first_errors(&mut self) -> Result<Option<Vec<InstrumentError>>, Lost> {
        match self.next_error(Duration::ZERO).await? {
            None => {
                self.has_queue = false;
                Ok(None)
            }
            Some(entry) if entry.is_no_error() => Ok(Some(Vec::new())),
            Some(entry) => {
                let mut errors = vec![entry];
                errors.append(&mut self.errors().await?);
                Ok(Some(errors))
            }
        }
    }

    /// One entry of the queue. What comes before it is the late answer to another question: only an entry has an
    /// entry's form.
    async fn next_error(&mut self, work: Duration) -> Result<Option<InstrumentError>, Lost> {
        self.rest().await?;
        self.tell(NEXT_ERROR).await?;
        for _ in 0..MOST_STALE {
            match self.receive(self.within + work).await? {
                Heard::Silence(_) => break,
                Heard::Answer(response) => {
                    let entry = response.exactly::<1>().and_then(|[unit]| unit.error_entry());
                    if let Ok(entry) = entry {
                        self.unanswered = 0;
                        return Ok(Some(InstrumentError { text: shown(&entry.text), ..entry }));
                    }
                }
                Heard::Unreadable(_) => {}
            }
        }
        self.unanswered += 1;
        if self.has_queue && self.unanswered >= MOST_UNANSWERED {
            let address = self
                .address
                .as_ref()
                .map_or_else(|| "the instrument".to_owned(), |(address, _)| address.to_string());
            let seconds = (self.within + work).as_secs_f64();
            return Err(self.lost(LinkError::NoAnswer { address, seconds }));
        }
        Ok(None)
    }

    /// Throws away what still comes, until nothing does.
    pub(super) async fn settle(&mut self) -> Result<(), Lost> {
        for _ in 0..MOST_STALE {
            if matches!(self.receive(QUIET).await?, Heard::Silence(_)) {
                break;
            }
        }
        Ok(())
    }

    /// After something that is no message nobody knows where the next one begins, but on a new connection.
    async fn connect_again(&mut self) -> Result<(), Lost> {
        if let Some((address, settings)) = self.address.clone() {
            self.link = connect(&address, &settings, self.clock).await.map_err(|source| self.lost(source))?;
        }
        Ok(())
    }

    fn lost(&self, source: LinkError) -> Lost {
        Lost { after: shown(&self.after), source }
    }
}
