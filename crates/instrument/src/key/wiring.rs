//! How a key is wired: what its line is made of, before it is opened.

use std::time::Duration;

use async_trait::async_trait;
use serde::{Deserialize, Serialize};
use spurline_clock::Clock;
use spurline_document::Document;
use spurline_profile::Profile;
use spurline_record::InstrumentUsed;
use spurline_transport::{Address, SerialFlow, SerialLine, Tap};
use spurline_units::Seconds;

use super::KeyLine;
use super::command::{CommandLine, KeyCommands};
use super::control::{Control, ControlLine};
use crate::error::InstrumentFault;
use crate::opened::Whereabouts;
use crate::relay::{Relay, RelayKey};

/// How a key is wired.
#[derive(Clone, Debug)]
pub enum KeyWiring {
    /// A contact of a relay that answers.
    Relay(Box<KeyRelay>),
    /// A control line of a port that carries no data.
    Control(ControlLine),
    /// Commands of this machine.
    Command(KeyCommands),
    /// Nothing: a run is repeated whose line left no transcript. It obeys.
    Replayed,
}

/// A line that was told everything long ago.
struct Obeys;

#[async_trait]
impl KeyLine for Obeys {
    async fn arm(&mut self) -> Result<(), InstrumentFault> {
        Ok(())
    }

    async fn ready(&mut self) -> Result<(), InstrumentFault> {
        Ok(())
    }

    async fn down(&mut self) -> Result<(), InstrumentFault> {
        Ok(())
    }

    async fn hold(&mut self) -> Result<(), InstrumentFault> {
        Ok(())
    }

    async fn up(&mut self) -> Result<(), InstrumentFault> {
        Ok(())
    }

    fn refresh_every(&self) -> Option<Duration> {
        None
    }
}

/// The relay of a key.
#[derive(Clone, Debug)]
pub struct KeyRelay {
    /// Where it answers.
    pub address: Address,
    /// How it is spoken to.
    pub profile: Profile,
    /// How the serial line is set, if the address is one.
    pub line: SerialLine,
    /// The serial number that it must have.
    pub serial: Option<String>,
    /// The contact.
    pub contact: u32,
    /// After how long it opens without being told; `None` if it stays closed for ever.
    pub opens_by_itself: Option<Seconds>,
}

impl KeyWiring {
    /// Connects; the line is not told anything yet.
    pub(super) async fn open(
        &self,
        clock: Clock,
        tap: &Tap,
    ) -> Result<(Box<dyn KeyLine>, Option<InstrumentUsed>), InstrumentFault> {
        match self {
            Self::Relay(relay) => {
                let place = Whereabouts {
                    address: &relay.address,
                    profile: &relay.profile,
                    line: relay.line,
                    serial: relay.serial.as_deref(),
                };
                let (opened, used) = Relay::open(place, clock, tap.clone()).await?;
                Ok((Box::new(RelayKey::new(opened, relay.contact, relay.opens_by_itself)), Some(used)))
            }
            Self::Control(line) => Ok((Box::new(Control::new(line.clone(), clock)), None)),
            Self::Command(commands) => Ok((Box::new(CommandLine::new(commands.clone(), clock)), None)),
            Self::Replayed => Ok((Box::new(Obeys), None)),
        }
    }

    /// The longest that one answer of the process that holds the key may take, however often it says that it is at work.
    pub(super) fn longest_answer(&self) -> Duration {
        match self {
            // Nothing on a control line takes time: one that hangs is ended, which drops the line.
            Self::Control(_) | Self::Replayed => Duration::from_secs(2),
            // Key up is tried for 8 s, behind a link that may have to be made again.
            Self::Relay(_) => Duration::from_secs(60),
            Self::Command(commands) => Duration::from_secs(20) + 4 * commands.within,
        }
    }
}

/// A wiring in words that pass between processes.
#[derive(Clone, Debug, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub(super) enum WiringText {
    Relay {
        address: String,
        profile: String,
        text: String,
        baud: u32,
        framing: String,
        rts_cts: bool,
        serial: Option<String>,
        contact: u32,
        opens_by_itself: Option<f64>,
    },
    Control(ControlLine),
    Command(KeyCommands),
    Replayed,
}

impl From<&KeyWiring> for WiringText {
    fn from(wiring: &KeyWiring) -> Self {
        match wiring {
            KeyWiring::Relay(relay) => Self::Relay {
                address: relay.address.to_string(),
                profile: relay.profile.source.name().to_owned(),
                text: relay.profile.source.text().to_owned(),
                baud: relay.line.baud,
                framing: relay.line.framing.to_string(),
                rts_cts: relay.line.flow == SerialFlow::RtsCts,
                serial: relay.serial.clone(),
                contact: relay.contact,
                opens_by_itself: relay.opens_by_itself.map(Seconds::get),
            },
            KeyWiring::Control(line) => Self::Control(line.clone()),
            KeyWiring::Command(commands) => Self::Command(commands.clone()),
            KeyWiring::Replayed => Self::Replayed,
        }
    }
}

impl TryFrom<WiringText> for KeyWiring {
    type Error = String;

    fn try_from(text: WiringText) -> Result<Self, String> {
        fn words(error: impl ToString) -> String {
            error.to_string()
        }
        match text {
            WiringText::Relay {
                address,
                profile,
                text,
                baud,
                framing,
                rts_cts,
                serial,
                contact,
                opens_by_itself,
            } => {
                let document = Document::parse(&profile, &text).map_err(words)?;
                let opens_by_itself = opens_by_itself.map(Seconds::new);
                if opens_by_itself.is_some_and(|span| !(0.1..=86_400.0).contains(&span.get())) {
                    return Err("a relay opens by itself after 0.1 s to a day".to_owned());
                }
                Ok(Self::Relay(Box::new(KeyRelay {
                    address: address.parse().map_err(words)?,
                    profile: Profile::read(&document).map_err(words)?,
                    line: SerialLine {
                        baud,
                        framing: framing.parse().map_err(words)?,
                        flow: if rts_cts { SerialFlow::RtsCts } else { SerialFlow::None },
                    },
                    serial,
                    contact,
                    opens_by_itself,
                })))
            }
            WiringText::Control(line) => Ok(Self::Control(line)),
            WiringText::Command(commands) => Ok(Self::Command(commands)),
            WiringText::Replayed => Ok(Self::Replayed),
        }
    }
}
