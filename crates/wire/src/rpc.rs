//! Remote procedure calls (RFC 5531) over a stream: records with marks, calls and replies without authentication.

mod record;

use bytes::Bytes;
use onc_rpc::auth::AuthFlavor;
use onc_rpc::{AcceptedReply, AcceptedStatus, CallBody, MessageType, ReplyBody, RpcMessage};

use crate::xdr::XdrError;

pub use record::{RecordDecoder, RecordError};

/// Why a record is not the call or the reply that was expected.
#[derive(Debug, PartialEq, thiserror::Error)]
pub enum RpcError {
    /// The stream cannot be cut into records.
    #[error(transparent)]
    Record(#[from] RecordError),
    /// The record is not a message of RPC.
    #[error("expected a call or a reply, found something else: {0}")]
    Message(#[from] onc_rpc::Error),
    /// A call where a reply was expected, or the other way round.
    #[error("expected a {expected}, found the other direction")]
    Direction {
        /// `call` or `reply`.
        expected: &'static str,
    },
    /// Arguments or results are not those of the procedure.
    #[error("expected the arguments or results of the procedure")]
    Items(#[from] XdrError),
}

/// A call of a procedure.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Call {
    /// Tells which call a reply belongs to.
    pub xid: u32,
    /// The program.
    pub program: u32,
    /// Its version.
    pub version: u32,
    /// The procedure.
    pub procedure: u32,
    /// Its arguments as XDR.
    pub arguments: Bytes,
}

impl Call {
    /// As it is sent: one record, with its mark.
    ///
    /// # Errors
    ///
    /// [`RecordError::TooLong`] if the arguments do not fit into a fragment.
    pub fn encode(&self) -> Result<Vec<u8>, RecordError> {
        let none = || AuthFlavor::AuthNone(None);
        let body =
            CallBody::new(self.program, self.version, self.procedure, none(), none(), self.arguments.clone());
        encode(self.xid, self.arguments.len(), MessageType::Call(body))
    }

    /// Reads a record, with its mark, as [`RecordDecoder`] gives it.
    ///
    /// # Errors
    ///
    /// When it is not a call.
    pub fn decode(record: Bytes) -> Result<Self, RpcError> {
        let message = RpcMessage::try_from(record)?;
        let Some(body) = message.call_body() else { return Err(RpcError::Direction { expected: "call" }) };
        Ok(Self {
            xid: message.xid(),
            program: body.program(),
            version: body.program_version(),
            procedure: body.procedure(),
            arguments: body.payload().clone(),
        })
    }
}

/// How a call went.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Outcome {
    /// The results as XDR.
    Done(Bytes),
    /// The server does not have the program.
    NoProgram,
    /// The server has other versions of the program.
    NoVersion {
        /// The lowest.
        low: u32,
        /// The highest.
        high: u32,
    },
    /// The program does not have the procedure.
    NoProcedure,
    /// The arguments could not be read.
    BadArguments,
    /// The server is out of order.
    Broken,
    /// The server does not take calls from this client.
    Denied,
}

impl Outcome {
    /// The results, or a few words on why there are none.
    ///
    /// # Errors
    ///
    /// A fragment of text to follow the name of what was called.
    pub fn results(self) -> Result<Bytes, &'static str> {
        match self {
            Self::Done(results) => Ok(results),
            Self::NoProgram => Err("the program is not served there"),
            Self::NoVersion { .. } => Err("the program is served there in another version"),
            Self::NoProcedure => Err("the procedure is not served there"),
            Self::BadArguments => Err("the arguments were not understood"),
            Self::Broken => Err("the server is out of order"),
            Self::Denied => Err("the server denied the call"),
        }
    }
}

/// The reply to a call.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Reply {
    /// That of the call.
    pub xid: u32,
    /// How the call went.
    pub outcome: Outcome,
}

impl Reply {
    /// As it is sent: one record, with its mark.
    ///
    /// # Errors
    ///
    /// [`RecordError::TooLong`] if the results do not fit into a fragment.
    pub fn encode(&self) -> Result<Vec<u8>, RecordError> {
        let status = match &self.outcome {
            Outcome::Done(results) => AcceptedStatus::Success(results.clone()),
            Outcome::NoProgram => AcceptedStatus::ProgramUnavailable,
            Outcome::NoVersion { low, high } => AcceptedStatus::ProgramMismatch { low: *low, high: *high },
            Outcome::NoProcedure => AcceptedStatus::ProcedureUnavailable,
            Outcome::BadArguments => AcceptedStatus::GarbageArgs,
            Outcome::Broken => AcceptedStatus::SystemError,
            Outcome::Denied => {
                let refused = onc_rpc::RejectedReply::AuthError(onc_rpc::AuthError::TooWeak);
                return encode(self.xid, 0, MessageType::Reply(ReplyBody::Denied(refused)));
            }
        };
        let length = if let Outcome::Done(results) = &self.outcome { results.len() } else { 0 };
        let body = ReplyBody::Accepted(AcceptedReply::new(AuthFlavor::AuthNone(None), status));
        encode(self.xid, length, MessageType::Reply(body))
    }

    /// Reads a record, with its mark, as [`RecordDecoder`] gives it.
    ///
    /// # Errors
    ///
    /// When it is not a reply.
    pub fn decode(record: Bytes) -> Result<Self, RpcError> {
        let message = RpcMessage::try_from(record)?;
        let outcome = match message.reply_body() {
            None => return Err(RpcError::Direction { expected: "reply" }),
            Some(ReplyBody::Denied(_)) => Outcome::Denied,
            Some(ReplyBody::Accepted(reply)) => match reply.status() {
                AcceptedStatus::Success(results) => Outcome::Done(results.clone()),
                AcceptedStatus::ProgramUnavailable => Outcome::NoProgram,
                AcceptedStatus::ProgramMismatch { low, high } => {
                    Outcome::NoVersion { low: *low, high: *high }
                }
                AcceptedStatus::ProcedureUnavailable => Outcome::NoProcedure,
                AcceptedStatus::GarbageArgs => Outcome::BadArguments,
                AcceptedStatus::SystemError => Outcome::Broken,
            },
        };
        Ok(Self { xid: message.xid(), outcome })
    }
}

/// Room for the items around arguments or results; they fill 44 bytes at most.
const AROUND: usize = 64;
/// The length in a mark has 31 bits.
const FRAGMENT: usize = (1 << 31) - 1;

fn encode(xid: u32, length: usize, body: MessageType<Bytes, Bytes>) -> Result<Vec<u8>, RecordError> {
    // Checked here, because the arithmetic behind this call is that of 32 bits.
    if length > FRAGMENT - AROUND {
        return Err(RecordError::TooLong { announced: length, limit: FRAGMENT - AROUND });
    }
    Ok(RpcMessage::new(xid, body).serialise().expect("writing to memory does not fail"))
}

#[cfg(test)]
mod tests;
