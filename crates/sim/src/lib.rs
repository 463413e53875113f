//! The simulated bench: physics, SCPI instruments, faults.

mod bench;
mod draw;
mod observed;
mod physics;
mod role;
mod world;

pub use bench::{SimulatedBench, UnitLabel};
pub use observed::Observations;
pub use physics::two_port::TwoPort;
pub use role::Role;
