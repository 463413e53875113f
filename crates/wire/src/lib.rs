//! The messages of HiSLIP and VXI-11, without any input or output.
//!
//! Both ends of the wire use it: what an instrument's client writes, an instrument reads, and the other way round.
//! Every decoder is given a limit and refuses what is longer before it sets memory aside for it. This room knows no
//! socket, no clock and no SCPI.
//!
//! Clause numbers of IVI-6.1 and VXI-11 are cited from memory.

pub mod hislip;
pub mod portmap;
pub mod rpc;
pub mod vxi11;
pub mod xdr;
