//! Benches that work by themselves: each takes from a queue what somebody, a schedule or an announcement wants measured.
//!
//! A bench has a thread of its own, and there a run goes on as it does at a terminal. The queue is on the disk before it
//! is answered; what was going on when the program died is gone on with.

pub mod bench;
pub mod configuration;
pub mod door;
mod failure;
mod going_on;
pub mod http;
pub mod hub;
mod local;
mod metrics;
mod plans;
pub mod queue;
mod schedule;
mod scribe;
mod service;
mod told;
mod worker;

pub use configuration::Configuration;
pub use plans::{PlanError, Plans};
pub use schedule::Schedule;
pub use service::{AskError, Service, ServiceError, Shown};
