//! Links by message, and sessions over them.
//!
//! A [`Link`] carries whole messages with their end, and can be cleared and asked for its status where its kind
//! allows it. A [`Session`] keeps the order of question and answer on a link: deadlines, error queue, taint and
//! resynchronisation, and a [`Tap`] through which every byte both ways can be kept.
//!
//! This room knows bytes, addresses and deadlines. It does not know what a sweep is.

mod address;
mod link;
mod session;
mod stream;
mod tap;
mod tcp;
mod tty;

pub use address::{Address, AddressError};
pub use link::{Cleared, Framing, Link, LinkError, Received};
pub use session::{Manners, Reopened, Session, SessionError, State};
pub use stream::StreamLink;
pub use tap::{Direction, Tap, Tapped};

use spurline_clock::Clock;

/// Opens the link that an address names.
///
/// # Errors
///
/// If nobody answers there, or the port cannot be opened.
pub async fn connect(address: &Address, clock: Clock) -> Result<Box<dyn Link>, LinkError> {
    match address {
        Address::Socket { host, port } => Ok(Box::new(tcp::connect(host, *port, clock).await?)),
        Address::Serial { device } => Ok(Box::new(tty::open(device)?)),
    }
}
