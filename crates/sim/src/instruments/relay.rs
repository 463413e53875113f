//! The relay card: contacts that can open by themselves, one of them on the unit's key line or all of them in the path.

use std::sync::Arc;

use spurline_clock::Moment;
use spurline_scpi::{Element, ErrorCode, Quantity, Unit};
use spurline_units::Seconds;

use super::call::{Bounds, Call, Outcome, Reply};
use super::device::Device;
use crate::bench::{Identity, RelayTruth};
use crate::world::World;

/// A relay card.
#[derive(Debug)]
pub(crate) struct Relay {
    truth: RelayTruth,
    world: Arc<World>,
    wired: Wired,
    /// Until when each contact is closed, channel 1 first.
    contacts: Vec<Contact>,
    /// How long a contact stays closed; zero for ever.
    timer: f64,
}

/// What the contacts of a card are wired to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Wired {
    /// This one to the unit's key line, the others to nothing.
    Key(u32),
    /// All of them to the path.
    Path,
}

#[derive(Clone, Copy, Debug, PartialEq)]
enum Contact {
    Open,
    Closed,
    ClosedUntil(Moment),
}

/// What the relay card understands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Command {
    Close,
    CloseOnly,
    Open,
    OpenAll,
    Closed,
    Timer,
}

const TIMER: Bounds = Bounds { low: 0.0, high: 3600.0, default: 0.0 };

impl Relay {
    pub(crate) fn new(truth: RelayTruth, world: Arc<World>, wired: Wired) -> Self {
        let contacts = vec![Contact::Open; truth.channels as usize];
        Self { truth, world, wired, contacts, timer: 0.0 }
    }

    fn is_closed(&self, channel: u32, now: Moment) -> bool {
        match self.contacts[channel as usize - 1] {
            Contact::Open => false,
            Contact::Closed => true,
            Contact::ClosedUntil(end) => now < end,
        }
    }

    fn set(&mut self, channel: u32, closed: bool, now: Moment) {
        let span = (self.timer > 0.0).then(|| Seconds::new(self.timer));
        self.contacts[channel as usize - 1] = match (closed, span) {
            (false, _) => Contact::Open,
            (true, None) => Contact::Closed,
            (true, Some(span)) => Contact::ClosedUntil(now.after(span.duration())),
        };
        match self.wired {
            Wired::Key(key) if key == channel => self.world.set_key(now, closed, span),
            Wired::Key(_) => {}
            Wired::Path => self.world.set_contact(now, channel, closed, span),
        }
    }

    fn open_all(&mut self, now: Moment) {
        for channel in 1..=self.truth.channels {
            self.set(channel, false, now);
        }
    }

    /// The closed channels as a list.
    fn closed(&self, now: Moment) -> Reply<Command> {
        let closed = (1..=self.truth.channels).filter(|channel| self.is_closed(*channel, now));
        let list: Vec<String> = closed.map(|channel| channel.to_string()).collect();
        Reply::word(&format!("(@{})", list.join(",")))
    }

    /// The channels of a list; all of them must exist.
    fn channels(&self, call: &Call<'_>) -> Result<Vec<u32>, ErrorCode> {
        let [list] = call.unit.exactly()?;
        let ranges = list.channels()?;
        let exists = |channel: &u32| (1..=self.truth.channels).contains(channel);
        if !ranges.iter().all(|(first, last)| exists(first) && exists(last)) {
            return Err(ErrorCode::DATA_OUT_OF_RANGE);
        }
        Ok(ranges.iter().flat_map(|(first, last)| *first.min(last)..=*first.max(last)).collect())
    }
}

impl Device for Relay {
    type Command = Command;
    /// The timer and the closed contacts.
    type Setup = (f64, Vec<u32>);

    fn headers() -> Vec<(&'static str, Command)> {
        vec![
            ("ROUTe:CLOSe[?]", Command::Close),
            ("ROUTe:CLOSe:EXCLusive", Command::CloseOnly),
            ("ROUTe:CLOSe:STATe?", Command::Closed),
            ("ROUTe:OPEN[?]", Command::Open),
            ("ROUTe:OPEN:ALL", Command::OpenAll),
            ("ROUTe:CLOSe:TIMer[?]", Command::Timer),
        ]
    }

    fn identity(&self) -> &Identity {
        &self.truth.identity
    }

    fn run(&mut self, command: Command, call: &Call<'_>) -> Outcome<Command> {
        match command {
            Command::Timer => call.numeric(Quantity::Time, TIMER, self.timer, |v| self.timer = v),
            Command::OpenAll => call.act(|| {
                self.open_all(call.now);
                Ok(())
            }),
            Command::Closed => call.ask(|| Ok(self.closed(call.now))),
            Command::CloseOnly => {
                let channels = self.channels(call)?;
                self.open_all(call.now);
                for channel in channels {
                    self.set(channel, true, call.now);
                }
                Ok(Reply::Done)
            }
            Command::Close | Command::Open => {
                let closes = command == Command::Close;
                let channels = self.channels(call)?;
                if call.unit.query {
                    let answers = channels.iter().map(|c| self.is_closed(*c, call.now) == closes);
                    let elements = answers.map(Element::from_bool).collect();
                    return Ok(Reply::Answer(Unit { elements }));
                }
                for channel in channels {
                    self.set(channel, closes, call.now);
                }
                Ok(Reply::Done)
            }
        }
    }

    fn setup(&self, _: Moment) -> Self::Setup {
        let latched = |channel: &u32| self.contacts[*channel as usize - 1] == Contact::Closed;
        (self.timer, (1..=self.truth.channels).filter(latched).collect())
    }

    /// A contact that was closed for a time stays open: its time is long over.
    fn restore(&mut self, (timer, closed): &Self::Setup, now: Moment) {
        self.open_all(now);
        self.timer = 0.0;
        for channel in closed {
            self.set(*channel, true, now);
        }
        self.timer = *timer;
    }

    fn reset(&mut self, now: Moment) {
        self.restore(&(0.0, Vec::new()), now);
    }
}
