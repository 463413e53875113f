//! The numbers of VXI-11: procedures and errors (table B.2 and clause B.5.2).

use std::fmt;

/// The procedures of the core channel, and the one of the abort channel.
#[expect(missing_docs, reason = "these are the standard's own names")]
pub mod procedure {
    pub const CREATE_LINK: u32 = 10;
    pub const DEVICE_WRITE: u32 = 11;
    pub const DEVICE_READ: u32 = 12;
    pub const DEVICE_READSTB: u32 = 13;
    pub const DEVICE_TRIGGER: u32 = 14;
    pub const DEVICE_CLEAR: u32 = 15;
    pub const DEVICE_REMOTE: u32 = 16;
    pub const DEVICE_LOCAL: u32 = 17;
    pub const DEVICE_LOCK: u32 = 18;
    pub const DEVICE_UNLOCK: u32 = 19;
    pub const DEVICE_ENABLE_SRQ: u32 = 20;
    pub const DEVICE_DOCMD: u32 = 22;
    pub const DESTROY_LINK: u32 = 23;
    pub const CREATE_INTR_CHAN: u32 = 25;
    pub const DESTROY_INTR_CHAN: u32 = 26;
    /// On the abort channel.
    pub const DEVICE_ABORT: u32 = 1;
}

/// What a device says about a call.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Code(pub u32);

impl Code {
    /// All is well.
    pub const NONE: Self = Self(0);
    /// The name of the device is not well formed.
    pub const SYNTAX: Self = Self(1);
    /// The device cannot be reached.
    pub const NOT_ACCESSIBLE: Self = Self(3);
    /// There is no such link.
    pub const INVALID_LINK: Self = Self(4);
    /// A parameter is wrong.
    pub const PARAMETER: Self = Self(5);
    /// The channel is not there.
    pub const NO_CHANNEL: Self = Self(6);
    /// The device cannot do that.
    pub const NOT_SUPPORTED: Self = Self(8);
    /// No more links or memory.
    pub const RESOURCES: Self = Self(9);
    /// Another link holds the lock.
    pub const LOCKED: Self = Self(11);
    /// This link holds no lock.
    pub const NO_LOCK: Self = Self(12);
    /// Nothing happened in the time that the call allowed.
    pub const TIMEOUT: Self = Self(15);
    /// Reading or writing failed.
    pub const IO: Self = Self(17);
    /// The address is not one.
    pub const ADDRESS: Self = Self(21);
    /// The call was aborted.
    pub const ABORTED: Self = Self(23);
    /// The channel is there already.
    pub const CHANNEL_EXISTS: Self = Self(29);

    /// Whether all is well.
    #[must_use]
    pub fn is_none(self) -> bool {
        self == Self::NONE
    }
}

impl fmt::Display for Code {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let words = match *self {
            Self::NONE => "no error",
            Self::SYNTAX => "syntax error",
            Self::NOT_ACCESSIBLE => "device not accessible",
            Self::INVALID_LINK => "invalid link identifier",
            Self::PARAMETER => "parameter error",
            Self::NO_CHANNEL => "channel not established",
            Self::NOT_SUPPORTED => "operation not supported",
            Self::RESOURCES => "out of resources",
            Self::LOCKED => "device locked by another link",
            Self::NO_LOCK => "no lock held by this link",
            Self::TIMEOUT => "input or output timed out",
            Self::IO => "input or output failed",
            Self::ADDRESS => "invalid address",
            Self::ABORTED => "aborted",
            Self::CHANNEL_EXISTS => "channel already established",
            _ => "unknown error",
        };
        write!(f, "{words} ({})", self.0)
    }
}
