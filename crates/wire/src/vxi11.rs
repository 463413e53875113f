//! VXI-11: an instrument as a program of remote procedures. What is not needed here to talk with one is left out:
//! locks, interrupts and remote control have their numbers only.

mod arguments;
mod codes;

pub use arguments::{
    CreateLink, Created, Generic, LinkId, Read, ReadDone, StatusDone, Write, WriteDone, decode_error,
    encode_error,
};
pub use codes::{Code, procedure};

/// The program of the core channel.
pub const CORE: u32 = 0x06_07af;
/// The program of the abort channel.
pub const ABORT: u32 = 0x06_07b0;
/// The version of both.
pub const VERSION: u32 = 1;
/// What every device must take in one write (rule B.6.3).
pub const LEAST_RECEIVE: u32 = 1024;

/// Bits of the operation flags (table B.2).
pub mod flag {
    /// Wait for the lock that somebody else holds.
    pub const WAIT_LOCK: u32 = 1;
    /// In a write: the message ends with the last byte.
    pub const END: u32 = 1 << 3;
    /// In a read: stop behind the termination character.
    pub const TERMCHAR: u32 = 1 << 7;
}

/// Bits of the reason why a read is complete (clause B.6.4).
pub mod reason {
    /// As many bytes came as were asked for.
    pub const COUNT: u32 = 1;
    /// The termination character came.
    pub const TERMCHAR: u32 = 2;
    /// The message ends here.
    pub const END: u32 = 4;
}

#[cfg(test)]
mod tests;
