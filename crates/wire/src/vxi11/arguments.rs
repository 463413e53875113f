//! Arguments and results of the procedures that a conversation needs (VXI-11 clause B.6 and appendix C).

use bytes::Bytes;

use super::Code;
use crate::xdr::{Reader, Writer, XdrError};

/// The number of a link, as the device gave it.
pub type LinkId = i32;

/// Arguments of `create_link`.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CreateLink {
    /// Any number that tells clients of one host apart.
    pub client: i32,
    /// Whether to take the device's lock.
    pub lock: bool,
    /// How long to wait for that lock, in milliseconds.
    pub lock_timeout: u32,
    /// Which device, such as `inst0`.
    pub device: Bytes,
}

impl CreateLink {
    /// As arguments.
    #[must_use]
    pub fn encode(&self) -> Bytes {
        Writer::new().i32(self.client).bool(self.lock).u32(self.lock_timeout).opaque(&self.device).bytes()
    }

    /// Reads arguments.
    ///
    /// # Errors
    ///
    /// When they are something else.
    pub fn decode(arguments: Bytes) -> Result<Self, XdrError> {
        all(arguments, |items| {
            Ok(Self {
                client: items.i32()?,
                lock: items.bool()?,
                lock_timeout: items.u32()?,
                device: items.opaque()?,
            })
        })
    }
}

/// Results of `create_link`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Created {
    /// How it went.
    pub error: Code,
    /// The new link.
    pub link: LinkId,
    /// The port of the abort channel: an `unsigned short`, which fills four bytes.
    pub abort_port: u32,
    /// The most bytes that the device takes in one write.
    pub most_receive: u32,
}

impl Created {
    /// As results.
    #[must_use]
    pub fn encode(self) -> Bytes {
        Writer::new().u32(self.error.0).i32(self.link).u32(self.abort_port).u32(self.most_receive).bytes()
    }

    /// Reads results.
    ///
    /// # Errors
    ///
    /// When they are something else.
    pub fn decode(results: Bytes) -> Result<Self, XdrError> {
        all(results, |items| {
            Ok(Self {
                error: Code(items.u32()?),
                link: items.i32()?,
                abort_port: items.u32()?,
                most_receive: items.u32()?,
            })
        })
    }
}

/// Arguments of `device_write`.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Write {
    /// On which link.
    pub link: LinkId,
    /// How long the device may take, in milliseconds.
    pub io_timeout: u32,
    /// How long to wait for somebody else's lock, in milliseconds.
    pub lock_timeout: u32,
    /// Bits of [`flag`](super::flag).
    pub flags: u32,
    /// What is written.
    pub data: Bytes,
}

impl Write {
    /// As arguments.
    #[must_use]
    pub fn encode(&self) -> Bytes {
        let head = Writer::new().i32(self.link).u32(self.io_timeout).u32(self.lock_timeout);
        head.u32(self.flags).opaque(&self.data).bytes()
    }

    /// Reads arguments.
    ///
    /// # Errors
    ///
    /// When they are something else.
    pub fn decode(arguments: Bytes) -> Result<Self, XdrError> {
        all(arguments, |items| {
            Ok(Self {
                link: items.i32()?,
                io_timeout: items.u32()?,
                lock_timeout: items.u32()?,
                flags: items.u32()?,
                data: items.opaque()?,
            })
        })
    }
}

/// Results of `device_write`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct WriteDone {
    /// How it went.
    pub error: Code,
    /// How many bytes were taken.
    pub size: u32,
}

impl WriteDone {
    /// As results.
    #[must_use]
    pub fn encode(self) -> Bytes {
        Writer::new().u32(self.error.0).u32(self.size).bytes()
    }

    /// Reads results.
    ///
    /// # Errors
    ///
    /// When they are something else.
    pub fn decode(results: Bytes) -> Result<Self, XdrError> {
        all(results, |items| Ok(Self { error: Code(items.u32()?), size: items.u32()? }))
    }
}

/// Arguments of `device_read`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Read {
    /// On which link.
    pub link: LinkId,
    /// The most bytes of the answer to this call.
    pub request: u32,
    /// How long the device may take, in milliseconds.
    pub io_timeout: u32,
    /// How long to wait for somebody else's lock, in milliseconds.
    pub lock_timeout: u32,
    /// Bits of [`flag`](super::flag).
    pub flags: u32,
    /// The termination character, looked at with [`flag::TERMCHAR`](super::flag::TERMCHAR) only.
    pub termchar: u8,
}

impl Read {
    /// As arguments.
    #[must_use]
    pub fn encode(self) -> Bytes {
        let head = Writer::new().i32(self.link).u32(self.request).u32(self.io_timeout);
        head.u32(self.lock_timeout).u32(self.flags).u32(self.termchar.into()).bytes()
    }

    /// Reads arguments.
    ///
    /// # Errors
    ///
    /// When they are something else.
    pub fn decode(arguments: Bytes) -> Result<Self, XdrError> {
        all(arguments, |items| {
            Ok(Self {
                link: items.i32()?,
                request: items.u32()?,
                io_timeout: items.u32()?,
                lock_timeout: items.u32()?,
                flags: items.u32()?,
                // A `char` fills four bytes, and clients sign-extend it or do not.
                termchar: items.u32()?.to_be_bytes()[3],
            })
        })
    }
}

/// Results of `device_read`.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ReadDone {
    /// How it went.
    pub error: Code,
    /// Bits of [`reason`](super::reason).
    pub reason: u32,
    /// What was read.
    pub data: Bytes,
}

impl ReadDone {
    /// As results.
    #[must_use]
    pub fn encode(&self) -> Bytes {
        Writer::new().u32(self.error.0).u32(self.reason).opaque(&self.data).bytes()
    }

    /// Reads results; the data are cut out, not copied.
    ///
    /// # Errors
    ///
    /// When they are something else.
    pub fn decode(results: Bytes) -> Result<Self, XdrError> {
        all(results, |items| {
            Ok(Self { error: Code(items.u32()?), reason: items.u32()?, data: items.opaque()? })
        })
    }
}

/// Arguments of `device_readstb`, `device_clear`, `device_trigger`, `device_remote` and `device_local`
/// (`Device_GenericParms`).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Generic {
    /// On which link.
    pub link: LinkId,
    /// Bits of [`flag`](super::flag).
    pub flags: u32,
    /// How long to wait for somebody else's lock, in milliseconds.
    pub lock_timeout: u32,
    /// How long the device may take, in milliseconds.
    pub io_timeout: u32,
}

impl Generic {
    /// As arguments.
    #[must_use]
    pub fn encode(self) -> Bytes {
        Writer::new().i32(self.link).u32(self.flags).u32(self.lock_timeout).u32(self.io_timeout).bytes()
    }

    /// Reads arguments.
    ///
    /// # Errors
    ///
    /// When they are something else.
    pub fn decode(arguments: Bytes) -> Result<Self, XdrError> {
        all(arguments, |items| {
            Ok(Self {
                link: items.i32()?,
                flags: items.u32()?,
                lock_timeout: items.u32()?,
                io_timeout: items.u32()?,
            })
        })
    }
}

/// Results of `device_readstb`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct StatusDone {
    /// How it went.
    pub error: Code,
    /// The status byte.
    pub status: u8,
}

impl StatusDone {
    /// As results.
    #[must_use]
    pub fn encode(self) -> Bytes {
        Writer::new().u32(self.error.0).u32(self.status.into()).bytes()
    }

    /// Reads results.
    ///
    /// # Errors
    ///
    /// When they are something else.
    pub fn decode(results: Bytes) -> Result<Self, XdrError> {
        all(results, |items| Ok(Self { error: Code(items.u32()?), status: items.u32()?.to_be_bytes()[3] }))
    }
}

/// Results of the procedures that say no more than how it went (`Device_Error`).
#[must_use]
pub fn encode_error(error: Code) -> Bytes {
    Writer::new().u32(error.0).bytes()
}

/// Reads such results.
///
/// # Errors
///
/// When they are something else.
pub fn decode_error(results: Bytes) -> Result<Code, XdrError> {
    all(results, |items| Ok(Code(items.u32()?)))
}

fn all<T>(bytes: Bytes, read: impl FnOnce(&mut Reader) -> Result<T, XdrError>) -> Result<T, XdrError> {
    let mut items = Reader::new(bytes);
    let read = read(&mut items)?;
    items.end()?;
    Ok(read)
}
