//! Instruments that announce themselves on the network: DNS-SD (RFC 6763) over multicast DNS (RFC 6762).
//!
//! What is heard is turned into the address that a bench file takes. Nothing of it is to be trusted: anybody on the
//! network can announce anything, so texts are made harmless and bounded before they leave this room, and nobody is
//! spoken to because of an announcement.

mod announce;
mod announced;
mod error;
mod harmless;
mod interfaces;
mod listen;
mod service;

pub use announce::{Announcement, Announcing, announce};
pub use announced::{Announced, Records};
pub use error::DiscoveryError;
pub use listen::{Heard, MOST, listen};
pub use service::{Host, Service};
