//! The process that holds the key: it alone has the line, and brings it up when its run is gone, silent or wrong.

use std::collections::VecDeque;
use std::io;
use std::os::unix::process::parent_id;
use std::pin::pin;
use std::time::Duration;

use spurline_clock::Clock;
use spurline_record::InstrumentUsed;
use spurline_transport::{Tap, Tapped};
use thiserror::Error;
use tokio::net::UnixStream;

use super::frame::{Arm, Ask, Frames, Line, PROTOCOL, Said, Word, damage, fitting};
use super::wiring::KeyWiring;
use super::{KeyError, KeyHandle, OpenError, Request};

/// How often the run is told that an answer is on its way. It waits four times as long.
const WORKING_EVERY: Duration = Duration::from_millis(500);
/// How often it is looked whether the process that asks is still there: a descriptor that it left to another one would
/// hide that it is gone.
const PARENT_EVERY: Duration = Duration::from_millis(100);
/// The first line comes at once.
const FIRST_WITHIN: Duration = Duration::from_secs(10);
/// How long one that could not make the line ready waits before it tries again.
const AGAIN_AFTER: Duration = Duration::from_millis(500);
/// Nothing is written for longer to a run that does not read.
const WRITTEN_WITHIN: Duration = Duration::from_secs(1);

/// Why the process that holds the key ended otherwise than told to. The key is up and confirmed, unless it says so.
#[derive(Debug, Error)]
pub enum KeyholderError {
    /// It was not started by a run.
    #[error("expected the socket of a run as standard input")]
    NoRun(#[source] io::Error),
    /// The run is gone, or what it says cannot be understood.
    #[error("the run that the key is held for {0}")]
    Run(String),
    /// The line could not be made ready; nothing was keyed.
    #[error("the key cannot be held")]
    NotArmed(#[source] OpenError),
}

/// Why nobody is listened to any more.
enum Gone {
    Closed,
    Wrong(String),
}

impl Gone {
    fn words(&self) -> String {
        match self {
            Self::Closed => "is gone".to_owned(),
            Self::Wrong(what) => what.clone(),
        }
    }
}

/// One end of the talk.
struct Talk {
    frames: Frames,
    number: u64,
    parent: u32,
    tap: Tap,
    waiting: VecDeque<Tapped>,
    clock: Clock,
}

impl Talk {
    /// Says something, after what passed on the link before. A run that does not listen any more is found out by
    /// asking it.
    async fn say(&mut self, line: Line, word: Word) {
        self.waiting.extend(self.tap.take());
        loop {
            let passed = fitting(&mut self.waiting);
            let more = !self.waiting.is_empty();
            if !more {
                let said = Said { number: self.number, line, passed, word };
                drop(self.clock.within(WRITTEN_WITHIN, self.frames.send(&said)).await);
                return;
            }
            let said = Said { number: self.number, line, passed, word: Word::Working };
            drop(self.clock.within(WRITTEN_WITHIN, self.frames.send(&said)).await);
        }
    }

    /// Does `work`, and says meanwhile that it is on its way; or why nobody waits for it any more.
    async fn while_heard<T>(&mut self, work: impl Future<Output = T>) -> Result<T, Gone> {
        let mut work = pin!(work);
        let mut said = self.clock.now();
        loop {
            tokio::select! {
                biased;
                done = &mut work => return Ok(done),
                next = self.frames.next::<serde::de::IgnoredAny>() => {
                    return Err(match next {
                        Ok(None) => Gone::Closed,
                        Ok(Some(_)) => Gone::Wrong("asks before it was answered".to_owned()),
                        Err(error) => Gone::Wrong(format!("cannot be understood: {error}")),
                    });
                }
                () = self.clock.sleep(PARENT_EVERY) => {
                    if self.is_orphan() {
                        return Err(Gone::Closed);
                    }
                    if self.clock.now().since(said) >= WORKING_EVERY {
                        said = self.clock.now();
                        self.say(Line::Unknown, Word::Working).await;
                    }
                }
            }
        }
    }

    /// The next ask.
    async fn heard(&mut self) -> Result<Ask, Gone> {
        loop {
            tokio::select! {
                biased;
                asked = self.frames.asked(self.number + 1) => {
                    return match asked {
                        Ok(Some(ask)) => {
                            self.number += 1;
                            Ok(ask)
                        }
                        Ok(None) => Err(Gone::Closed),
                        Err(error) => Err(Gone::Wrong(format!("cannot be understood: {error}"))),
                    };
                }
                () = self.clock.sleep(PARENT_EVERY) => {
                    if self.is_orphan() {
                        return Err(Gone::Closed);
                    }
                }
            }
        }
    }

    fn is_orphan(&self) -> bool {
        parent_id() != self.parent
    }
}

/// Holds a key for the run at the other end of `socket`, until that says close or is gone. `warn` tells a person that
/// the key does not come up.
///
/// # Errors
///
/// [`KeyholderError`] if it ended otherwise than told to.
pub async fn keyholder(
    socket: std::os::unix::net::UnixStream,
    clock: Clock,
    warn: impl Fn(&str),
) -> Result<(), KeyholderError> {
    socket.set_nonblocking(true).map_err(KeyholderError::NoRun)?;
    let stream = UnixStream::from_std(socket).map_err(KeyholderError::NoRun)?;
    let mut frames = Frames::new(stream);
    let first = clock.within(FIRST_WITHIN, frames.asked(0)).await;
    let first = first.unwrap_or_else(|_| Err(io::ErrorKind::TimedOut.into()));
    let arm = match first.map_err(KeyholderError::NoRun)? {
        Some(Ask::Arm(arm)) if arm.protocol == PROTOCOL => arm,
        Some(_) => return Err(KeyholderError::NoRun(damage(format!("expected protocol {PROTOCOL}")))),
        None => return Err(KeyholderError::NoRun(io::ErrorKind::UnexpectedEof.into())),
    };
    let mut talk =
        Talk { frames, number: 0, parent: arm.parent, tap: Tap::default(), waiting: VecDeque::new(), clock };
    let (key, used) = armed(&arm, &mut talk, &warn).await?;
    talk.say(Line::Up, Word::Armed { used }).await;
    let gone = loop {
        let request = match talk.heard().await {
            Ok(Ask::Down { longest }) => Request::Down(longest),
            Ok(Ask::Beat) => Request::Beat,
            Ok(Ask::Up) => Request::Up,
            Ok(Ask::Confirm) => Request::Confirm,
            Ok(Ask::Close) => return closed(key, &mut talk, &warn).await,
            Ok(Ask::Arm(_)) => break Gone::Wrong("asks to arm twice".to_owned()),
            Err(gone) => break gone,
        };
        match talk.while_heard(key.ask(request)).await {
            Ok((answer, standing)) => {
                let ends = matches!(answer, Err(KeyError::NoHolder { .. }));
                let word = match &answer {
                    Ok(held) => Word::Done { held: *held },
                    Err(error) => Word::Failed(error.into()),
                };
                talk.say(standing.into(), word).await;
                if ends {
                    break Gone::Wrong("has lost the task that holds it".to_owned());
                }
            }
            Err(gone) => break gone,
        }
    };
    up_for_good(key, &warn).await;
    talk.say(Line::Up, Word::Ends { why: gone.words() }).await;
    Err(KeyholderError::Run(gone.words()))
}

/// Opens the line and makes it ready, up. After another holder that may have left the key down, it is tried until it
/// succeeds, whatever becomes of the run; each failure is told.
async fn armed(
    arm: &Arm,
    talk: &mut Talk,
    warn: &impl Fn(&str),
) -> Result<(KeyHandle, Option<InstrumentUsed>), KeyholderError> {
    let wiring = KeyWiring::try_from(arm.wiring.clone());
    let wiring = wiring.map_err(|error| KeyholderError::NoRun(damage(error)))?;
    let (clock, tap) = (talk.clock, talk.tap.clone());
    let ready = async || -> Result<(KeyHandle, Option<InstrumentUsed>), OpenError> {
        let (line, used) = wiring.open(clock, &tap).await.map_err(OpenError::Instrument)?;
        let held = KeyHandle::hold_resting(line, arm.terms(), arm.rest_first, clock).await;
        Ok((held.map_err(OpenError::Key)?, used))
    };
    let gone = loop {
        match talk.while_heard(ready()).await {
            Ok(Ok(held)) => return Ok(held),
            Ok(Err(error)) => {
                talk.say(Line::Unknown, Word::from(&error)).await;
                if !arm.again {
                    return Err(KeyholderError::NotArmed(error));
                }
            }
            Err(gone) => break gone,
        }
        if let Err(gone) = talk.while_heard(clock.sleep(AGAIN_AFTER)).await {
            break gone;
        }
    };
    if arm.again {
        let mut warned = false;
        loop {
            match ready().await {
                Ok((key, _)) => {
                    up_for_good(key, warn).await;
                    break;
                }
                Err(_) if !warned => {
                    warned = true;
                    warn(STILL_DOWN);
                }
                Err(_) => {}
            }
            clock.sleep(AGAIN_AFTER).await;
        }
    }
    Err(KeyholderError::Run(gone.words()))
}

const STILL_DOWN: &str = "the key line does not confirm key up: the transmitter may still be keyed; switch the unit's \
                          supply off by hand now";

/// Key up, and tries until it is confirmed.
async fn up_for_good(key: KeyHandle, warn: &impl Fn(&str)) {
    let mut warned = false;
    loop {
        match key.confirm_up().await {
            // Without its task the line is closed, and this process ends.
            Ok(()) | Err(KeyError::NoHolder { .. }) => break,
            Err(_) if !warned => {
                warned = true;
                warn(STILL_DOWN);
            }
            Err(_) => {}
        }
    }
    // It is up already.
    drop(key.close().await);
}

/// Key up for the run, with how long it was down as the last word; and if it does not confirm, until it does.
async fn closed(key: KeyHandle, talk: &mut Talk, warn: &impl Fn(&str)) -> Result<(), KeyholderError> {
    let (answer, standing) = match talk.while_heard(key.ask(Request::Up)).await {
        Ok(reply) => reply,
        Err(gone) => {
            up_for_good(key, warn).await;
            return Err(KeyholderError::Run(gone.words()));
        }
    };
    let word = match &answer {
        Ok(held) => Word::Done { held: *held },
        Err(error) => Word::Failed(error.into()),
    };
    talk.say(standing.into(), word).await;
    if answer.is_err() {
        up_for_good(key, warn).await;
    }
    Ok(())
}

#[cfg(test)]
mod tests;
