//! The simulated bench: physics, SCPI instruments, faults.

mod draw;
mod physics;
