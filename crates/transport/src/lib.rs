//! Links by message, and sessions over them.
//!
//! A [`Link`] carries whole messages with their end, and can be cleared and asked for its status where its kind
//! allows it. A [`Session`] keeps the order of question and answer on a link: deadlines, error queue, taint and
//! resynchronisation, and a [`Tap`] through which every byte both ways can be kept.
//!
//! This room knows bytes, addresses and deadlines. It does not know what a sweep is.

mod address;
mod answer;
mod hislip;
mod link;
mod outgoing;
mod session;
mod settings;
mod step;
mod stream;
mod tap;
mod tcp;
mod tty;
mod vxi11;

pub use address::{Address, AddressError};
pub use link::{Cleared, Framing, Link, LinkError, Received, receive_whole};
pub use session::{Manners, Reopened, Session, SessionError, State};
pub use settings::{
    AnswersEnd, FramingError, LinkSettings, SerialFlow, SerialFraming, SerialLine, SerialParity, Terminator,
};
pub use stream::StreamLink;
pub use tap::{Direction, Tap, Tapped};

use spurline_clock::Clock;
use spurline_wire::portmap;

/// Opens the link that an address names, to an instrument of the dialect that `settings` describe.
///
/// # Errors
///
/// If nobody answers there or not in the link's protocol, or the port cannot be opened.
pub async fn connect(
    address: &Address,
    settings: &LinkSettings,
    clock: Clock,
) -> Result<Box<dyn Link>, LinkError> {
    match address {
        Address::Socket { host, port } => {
            let stream = tcp::dial(host, *port, settings.connect_within, clock).await?;
            Ok(Box::new(StreamLink::with(stream, settings, clock)))
        }
        Address::Serial { device } => Ok(Box::new(tty::open(device, settings, clock)?)),
        Address::Hislip { host, port, sub_address } => {
            Ok(Box::new(hislip::open(address, (host, *port, sub_address), settings, clock).await?))
        }
        Address::Vxi11 { host, port, device } => {
            let device = vxi11::Device { host, port: *port, name: device, portmapper: portmap::PORT };
            Ok(Box::new(vxi11::open(address, device, settings, clock).await?))
        }
    }
}
