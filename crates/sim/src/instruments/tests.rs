//! The instruments as a link meets them, in virtual time and without sockets.

mod exchange;
mod language;
mod properties;
mod status;
pub(crate) mod talk;
mod triggers;
