//! Making a link: connect, find out whether an instrument answers on it, and which.

use std::time::Duration;

use spurline_clock::Clock;
use spurline_scpi::{Identity, Message};

use super::{Manners, Session, SessionError, State};
use crate::address::Address;
use crate::connect;
use crate::settings::LinkSettings;
use crate::tap::Tap;

/// A link that was made again.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Reopened {
    /// Whether the instrument was switched off and on meanwhile, as far as it tells.
    pub power_cycled: bool,
    /// How many attempts it took.
    pub tries: u32,
}

/// A slot of an instrument that serves one connection is freed late: a first attempt that is not answered is
/// repeated after these pauses.
const FIRST_PAUSES: [Duration; 2] = [Duration::from_secs(1), Duration::from_secs(3)];
/// Between two attempts at a link that was lost: twice as long each time, up to a limit. An instrument that has just
/// closed a connection wants a moment before it takes another one.
const PAUSE: Duration = Duration::from_secs(1);
const LONGEST_PAUSE: Duration = Duration::from_secs(30);

impl Session {
    /// Connects to `address`, finds the order of question and answer, clears the instrument's status and asks who it
    /// is.
    ///
    /// # Errors
    ///
    /// If nobody answers, or not as an instrument does.
    pub async fn open(
        name: &str,
        address: &Address,
        settings: &LinkSettings,
        manners: Manners,
        clock: Clock,
        tap: Tap,
    ) -> Result<(Self, Identity), SessionError> {
        let mut session = Self::closed(name, address.clone(), manners, clock, tap);
        session.settings = settings.clone();
        let mut pauses = FIRST_PAUSES.into_iter();
        loop {
            match session.connect_and_probe().await {
                Ok((identity, _)) => {
                    session.identity = Some(identity.clone());
                    return Ok((session, identity));
                }
                Err(error) if is_busy(&error) => match pauses.next() {
                    Some(pause) => clock.sleep(pause).await,
                    None => return Err(error),
                },
                Err(error) => return Err(error),
            }
        }
    }

    /// Makes the link again, for at most `patience`, and makes sure that the same instrument answers. Its settings
    /// may be gone: whatever it needs must be set up anew.
    ///
    /// # Errors
    ///
    /// [`SessionError::GivenUp`], or [`SessionError::Another`] if somebody else answers.
    pub async fn reopen(&mut self, patience: Duration) -> Result<Reopened, SessionError> {
        self.close("to be made again");
        let began = self.clock.now();
        let (mut tries, mut pause) = (0, PAUSE);
        loop {
            let waited = self.clock.now().since(began);
            self.clock.sleep(pause.min(patience.saturating_sub(waited))).await;
            tries += 1;
            match self.connect_and_probe().await {
                Ok((found, power_cycled)) => {
                    self.is_the_same(found)?;
                    return Ok(Reopened { power_cycled, tries });
                }
                Err(
                    error @ (SessionError::Echo { .. }
                    | SessionError::Garbled { .. }
                    | SessionError::Message(_)),
                ) => {
                    return Err(error);
                }
                // One attempt was wanted, and this is what came of it.
                Err(last) if patience.is_zero() => return Err(last),
                Err(last) => {
                    let waited = self.clock.now().since(began);
                    pause = (pause * 2).min(LONGEST_PAUSE);
                    if waited >= patience {
                        let (name, seconds) = (self.name.to_string(), waited.as_secs_f64().round());
                        return Err(SessionError::GivenUp { name, tries, seconds, last: Box::new(last) });
                    }
                }
            }
        }
    }

    fn is_the_same(&mut self, found: Identity) -> Result<(), SessionError> {
        let before = self.identity.get_or_insert_with(|| found.clone());
        let same =
            (&before.maker, &before.model, &before.serial) == (&found.maker, &found.model, &found.serial);
        if same {
            return Ok(());
        }
        let before = Box::new(before.clone());
        self.close("another instrument answers");
        let (name, address) = (self.name.to_string(), self.address.to_string());
        Err(SessionError::Another { name, address, before, found: Box::new(found) })
    }

    /// Who answers, and whether it has been switched on since it was last asked.
    async fn connect_and_probe(&mut self) -> Result<(Identity, bool), SessionError> {
        self.state = State::Connecting;
        match connect(&self.address, &self.settings, self.clock).await {
            Ok(link) => self.link = Some(link),
            Err(source) => return Err(self.broken(source)),
        }
        self.state = State::Probing;
        let probed = self.probe().await;
        if let Err(error) = &probed {
            self.close(&error.to_string());
        }
        match probed {
            // That the connection was made proves nothing: a full instrument's system takes it all the same.
            Err(SessionError::Silent { .. } | SessionError::OutOfStep { .. }) => Err(self.busy()),
            Err(SessionError::Link { source, .. }) if source.is_of_somebody_busy() => Err(self.busy()),
            other => other,
        }
    }

    async fn probe(&mut self) -> Result<(Identity, bool), SessionError> {
        self.clear_or_token(Duration::ZERO).await?;
        let mut power_on = false;
        if self.manners.power_on_bit {
            // Before `*CLS`, which would take the bit away.
            let question = Message::new().unit("*ESR?")?;
            power_on = match self.exchange(&question, Duration::ZERO).await {
                Ok(_) => false,
                Err(SessionError::PowerCycled { .. }) => true,
                Err(error) => return Err(error),
            };
        }
        self.send(&Message::new().unit("*CLS")?).await?;
        let question = Message::new().unit("*IDN?")?;
        let answer = self.exchange(&question, Duration::ZERO).await?;
        let identity = answer.units[0].identity().map_err(|source| self.tainted(&question, source))?;
        Ok((identity, power_on))
    }

    fn busy(&self) -> SessionError {
        SessionError::Busy { name: self.name.to_string(), address: self.address.to_string() }
    }
}

fn is_busy(error: &SessionError) -> bool {
    match error {
        SessionError::Busy { .. } => true,
        SessionError::Link { source, .. } => source.is_of_somebody_busy(),
        _ => false,
    }
}

#[cfg(test)]
mod tests;
