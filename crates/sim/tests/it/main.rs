//! The simulated bench from outside: on real sockets, in virtual time.

#![expect(clippy::unwrap_used, reason = "a test fails loudly")]

mod audio_generator;
mod calibration;
mod client;
mod clients;
mod faults;
mod generator;
mod hislip;
mod instruments;
mod same_bytes;
mod serial;
mod time;
mod vxi11;
