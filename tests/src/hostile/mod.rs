//! What every reader of foreign bytes must hold, whatever it is given.
//!
//! Each function here takes any bytes and panics if a reader breaks its word. The fuzz targets in `fuzz/` call them with
//! bytes that they make up; the ordinary tests call them with the seeds in `fuzz/corpus`. The name of a function is that
//! of its target and of the folder with its seeds.

mod answers;
mod documents;
mod hislip;
mod messages;
mod shelf;
mod touchstone;
mod vxi11;

pub use answers::answers;
pub use documents::{bands, bench, plan, profile, rule, tolerances};
pub use hislip::hislip;
pub use messages::messages;
pub use touchstone::touchstone;
pub use vxi11::vxi11;

/// Takes any bytes; panics if a reader breaks its word.
pub type Body = fn(&[u8]);

/// Every body by its name.
pub const BODIES: [(&str, Body); 11] = [
    ("answers", answers),
    ("bands", bands),
    ("bench", bench),
    ("hislip", hislip),
    ("messages", messages),
    ("plan", plan),
    ("profile", profile),
    ("rule", rule),
    ("tolerances", tolerances),
    ("touchstone", touchstone),
    ("vxi11", vxi11),
];

/// The first byte says in pieces of which size the rest arrives.
fn cut(data: &[u8]) -> Option<(usize, &[u8])> {
    let (size, stream) = data.split_first()?;
    Some((usize::from(size % 64) + 1, stream))
}
