//! The numbers of HiSLIP: kinds of messages (IVI-6.1 table 4), fatal and other errors (tables 14 and 16).

/// What kind of message it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[expect(missing_docs, reason = "these are the standard's own names; see its table 4")]
pub enum Kind {
    Initialize,
    InitializeResponse,
    FatalError,
    Error,
    AsyncLock,
    AsyncLockResponse,
    Data,
    DataEnd,
    DeviceClearComplete,
    DeviceClearAcknowledge,
    AsyncRemoteLocalControl,
    AsyncRemoteLocalResponse,
    Trigger,
    Interrupted,
    AsyncInterrupted,
    AsyncMaximumMessageSize,
    AsyncMaximumMessageSizeResponse,
    AsyncInitialize,
    AsyncInitializeResponse,
    AsyncDeviceClear,
    AsyncServiceRequest,
    AsyncStatusQuery,
    AsyncStatusResponse,
    AsyncDeviceClearAcknowledge,
    AsyncLockInfo,
    AsyncLockInfoResponse,
    /// A kind that this room does not know, or one of a vendor (128 and above).
    Other(u8),
}

/// In the order of their numbers, from 0.
const KINDS: [Kind; 26] = [
    Kind::Initialize,
    Kind::InitializeResponse,
    Kind::FatalError,
    Kind::Error,
    Kind::AsyncLock,
    Kind::AsyncLockResponse,
    Kind::Data,
    Kind::DataEnd,
    Kind::DeviceClearComplete,
    Kind::DeviceClearAcknowledge,
    Kind::AsyncRemoteLocalControl,
    Kind::AsyncRemoteLocalResponse,
    Kind::Trigger,
    Kind::Interrupted,
    Kind::AsyncInterrupted,
    Kind::AsyncMaximumMessageSize,
    Kind::AsyncMaximumMessageSizeResponse,
    Kind::AsyncInitialize,
    Kind::AsyncInitializeResponse,
    Kind::AsyncDeviceClear,
    Kind::AsyncServiceRequest,
    Kind::AsyncStatusQuery,
    Kind::AsyncStatusResponse,
    Kind::AsyncDeviceClearAcknowledge,
    Kind::AsyncLockInfo,
    Kind::AsyncLockInfoResponse,
];

impl From<u8> for Kind {
    fn from(number: u8) -> Self {
        KINDS.get(usize::from(number)).copied().unwrap_or(Self::Other(number))
    }
}

impl From<Kind> for u8 {
    fn from(kind: Kind) -> Self {
        match kind {
            Kind::Other(number) => number,
            known => (0..).zip(KINDS).find(|(_, k)| *k == known).map_or(u8::MAX, |(number, _)| number),
        }
    }
}

/// Why the sender of a `FatalError` gives up the connection.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FatalKind {
    /// 0: not said.
    Unidentified,
    /// 1: the header is poorly formed.
    Header,
    /// 2: something else was sent before both connections stood.
    Channels,
    /// 3: the sequence of initialisation is wrong.
    Initialization,
    /// 4: the server has as many clients as it can have.
    Clients,
    /// Another number; 128 and above belong to vendors.
    Other(u8),
}

impl From<u8> for FatalKind {
    fn from(code: u8) -> Self {
        match code {
            0 => Self::Unidentified,
            1 => Self::Header,
            2 => Self::Channels,
            3 => Self::Initialization,
            4 => Self::Clients,
            other => Self::Other(other),
        }
    }
}

impl From<FatalKind> for u8 {
    fn from(kind: FatalKind) -> Self {
        match kind {
            FatalKind::Unidentified => 0,
            FatalKind::Header => 1,
            FatalKind::Channels => 2,
            FatalKind::Initialization => 3,
            FatalKind::Clients => 4,
            FatalKind::Other(code) => code,
        }
    }
}

/// What the sender of an `Error` could not do.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ErrorKind {
    /// 0: not said.
    Unidentified,
    /// 1: the kind of message is not known.
    Kind,
    /// 2: the control code is not known.
    Control,
    /// 3: the vendor's message is not known.
    Vendor,
    /// 4: the message is too large.
    TooLarge,
    /// Another number; 128 and above belong to vendors.
    Other(u8),
}

impl From<u8> for ErrorKind {
    fn from(code: u8) -> Self {
        match code {
            0 => Self::Unidentified,
            1 => Self::Kind,
            2 => Self::Control,
            3 => Self::Vendor,
            4 => Self::TooLarge,
            other => Self::Other(other),
        }
    }
}

impl From<ErrorKind> for u8 {
    fn from(kind: ErrorKind) -> Self {
        match kind {
            ErrorKind::Unidentified => 0,
            ErrorKind::Kind => 1,
            ErrorKind::Control => 2,
            ErrorKind::Vendor => 3,
            ErrorKind::TooLarge => 4,
            ErrorKind::Other(code) => code,
        }
    }
}
