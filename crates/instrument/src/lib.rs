//! Typed handles for analyser, power meter, supply, relay, switch, unit and generator: a profile's spellings over a session.
//!
//! A handle turns a typed request into the messages of a profile, checks what the instrument confirms, and gives
//! back raw readings. [`KeyHandle`] holds the key line on leases. This room knows neither limits nor paths.

mod analyser;
mod error;
mod identify;
mod key;
mod meter;
mod opened;
mod relay;
mod source;
mod supply;
mod switch;
mod unit;

pub use analyser::Analyser;
pub use error::InstrumentFault;
pub use identify::{Answering, Finding, Identified, IdentifyError, Reaction, Verdict, identify};
pub use key::{
    ControlLine, ControlWire, KeyCommands, KeyError, KeyHandle, KeyLine, KeyProgram, KeyRelay, KeySupply,
    KeyWiring, KeyholderError, OpenError, PORTS_BY_ID, keyholder,
};
pub use meter::PowerMeter;
pub use opened::Whereabouts;
pub use relay::{Relay, RelayKey};
pub use source::{AudioGenerator, Generator, Gives, Source};
pub use supply::Supply;
pub use switch::SwitchCard;
pub use unit::UnitControl;
