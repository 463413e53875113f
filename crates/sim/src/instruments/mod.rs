//! The instruments: each a device behind the engine that all of them share.
//!
//! No sockets here: a device is handed parsed commands and the moment, and gives answers.

mod acquisition;
mod analyser;
mod call;
mod common;
mod device;
mod engine;
mod exchange;
mod execution;
mod fidelity;
mod memory;
mod power_meter;
mod relay;
mod source;
mod status;
mod supply;
mod unit_control;

pub(crate) use analyser::Analyser;
pub(crate) use device::Device;
pub(crate) use engine::Instrument;
pub(crate) use execution::{Execution, Step};
pub(crate) use power_meter::PowerMeter;
pub(crate) use relay::{Relay, Wired};
pub(crate) use source::{AudioGenerator, Generator};
pub(crate) use supply::Supply;
pub(crate) use unit_control::UnitControl;

#[cfg(test)]
pub(crate) mod tests;
