//! The simulated bench: physics, SCPI instruments, faults.
