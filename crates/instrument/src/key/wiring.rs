//! How a key is wired: what its line is made of, before it is opened.

use std::time::Duration;

use async_trait::async_trait;
use serde::{Deserialize, Serialize};
use spurline_clock::Clock;
use spurline_document::Document;
use spurline_profile::Profile;
use spurline_record::InstrumentUsed;
use spurline_transport::{Address, SerialFlow, SerialLine, Tap};
use spurline_units::{Amperes, Seconds, Volts};

use super::KeyLine;
use super::command::{CommandLine, KeyCommands};
use super::control::{Control, ControlLine};
use crate::error::InstrumentFault;
use crate::opened::Whereabouts;
use crate::relay::{Relay, RelayKey};
use crate::supply::{Supply, SupplyKey};

/// How a key is wired.
#[derive(Clone, Debug)]
pub enum KeyWiring {
    /// A contact of a relay that answers.
    Relay(Box<KeyRelay>),
    /// A control line of a port that carries no data.
    Control(ControlLine),
    /// Commands of this machine.
    Command(KeyCommands),
    /// The output of a supply that answers.
    Supply(Box<KeySupply>),
    /// Nothing: a person keys, whom the run tells. It obeys.
    Hand,
    /// Nothing: a run is repeated whose line left no transcript. It obeys.
    Replayed,
}

/// A line that was told everything long ago, or is none.
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

/// The supply of a key.
#[derive(Clone, Debug)]
pub struct KeySupply {
    /// Where it answers.
    pub address: Address,
    /// How it is spoken to.
    pub profile: Profile,
    /// How the serial line is set, if the address is one.
    pub line: SerialLine,
    /// The serial number that it must have.
    pub serial: Option<String>,
    /// The voltage that keys.
    pub set: Volts,
    /// The limit of its current.
    pub limit: Amperes,
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
            Self::Supply(supply) => {
                let place = Whereabouts {
                    address: &supply.address,
                    profile: &supply.profile,
                    line: supply.line,
                    serial: supply.serial.as_deref(),
                };
                let (opened, used) = Supply::open(place, clock, tap.clone()).await?;
                Ok((Box::new(SupplyKey::new(opened, supply.set, supply.limit)), Some(used)))
            }
            Self::Control(line) => Ok((Box::new(Control::new(line.clone(), clock)), None)),
            Self::Command(commands) => Ok((Box::new(CommandLine::new(commands.clone(), clock)), None)),
            Self::Hand | Self::Replayed => Ok((Box::new(Obeys), None)),
        }
    }

    /// The longest that one answer of the process that holds the key may take, however often it says that it is at work.
    pub(super) fn longest_answer(&self) -> Duration {
        match self {
            // Nothing on a control line takes time: one that hangs is ended, which drops the line.
            Self::Control(_) | Self::Hand | Self::Replayed => Duration::from_secs(2),
            // Key up is tried for 8 s, behind a link that may have to be made again.
            Self::Relay(_) | Self::Supply(_) => Duration::from_secs(60),
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
    Supply {
        address: String,
        profile: String,
        text: String,
        baud: u32,
        framing: String,
        rts_cts: bool,
        serial: Option<String>,
        set: f64,
        limit: f64,
    },
    Control(ControlLine),
    Command(KeyCommands),
    Hand,
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
            KeyWiring::Supply(supply) => Self::Supply {
                address: supply.address.to_string(),
                profile: supply.profile.source.name().to_owned(),
                text: supply.profile.source.text().to_owned(),
                baud: supply.line.baud,
                framing: supply.line.framing.to_string(),
                rts_cts: supply.line.flow == SerialFlow::RtsCts,
                serial: supply.serial.clone(),
                set: supply.set.get(),
                limit: supply.limit.get(),
            },
            KeyWiring::Control(line) => Self::Control(line.clone()),
            KeyWiring::Command(commands) => Self::Command(commands.clone()),
            KeyWiring::Hand => Self::Hand,
            KeyWiring::Replayed => Self::Replayed,
        }
    }
}

/// How a serial line is set, as it was written.
fn serial_line(baud: u32, framing: &str, rts_cts: bool) -> Result<SerialLine, String> {
    let flow = if rts_cts { SerialFlow::RtsCts } else { SerialFlow::None };
    Ok(SerialLine { baud, framing: framing.parse().map_err(|error| format!("{error}"))?, flow })
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
                    line: serial_line(baud, &framing, rts_cts)?,
                    serial,
                    contact,
                    opens_by_itself,
                })))
            }
            WiringText::Supply { address, profile, text, baud, framing, rts_cts, serial, set, limit } => {
                let document = Document::parse(&profile, &text).map_err(words)?;
                if !(set.is_finite() && limit.is_finite() && set > 0.0 && limit > 0.0) {
                    return Err("a supply keys with a voltage and a current above 0".to_owned());
                }
                Ok(Self::Supply(Box::new(KeySupply {
                    address: address.parse().map_err(words)?,
                    profile: Profile::read(&document).map_err(words)?,
                    line: serial_line(baud, &framing, rts_cts)?,
                    serial,
                    set: Volts::new(set),
                    limit: Amperes::new(limit),
                })))
            }
            WiringText::Control(line) => Ok(Self::Control(line)),
            WiringText::Command(commands) => Ok(Self::Command(commands)),
            WiringText::Hand => Ok(Self::Hand),
            WiringText::Replayed => Ok(Self::Replayed),
        }
    }
}
