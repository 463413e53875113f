//! The guardian of the key line: leases that end in key up.
//!
//! A transmitter is keyed only on a lease of bounded length, kept alive by heartbeats. Whatever happens — the
//! lease ends, a heartbeat is late, the line reports an error, the holder is dropped — the answer is key up.
//! This room is small, has no async code and no threads, and knows no instruments: time is handed in, and the
//! line is a trait that a serial line, a relay or a test's recording fake stands behind.

mod lease;

pub use lease::{Lease, LeaseError, Order, Terms};
