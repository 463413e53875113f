//! Connections that end where an answer should be.

use super::outgoing::{Cut, CutAt, Outgoing};
use super::rule::Act;
use crate::bench::Does;
use crate::server::delivery::Then;

/// How much of an answer goes out before the connection ends.
pub(super) fn play(act: &Act, answer: &mut Outgoing) {
    let (at, then) = match act.does {
        Does::ClosesForAnswer => (CutAt::Bytes(0), Then::Close),
        Does::HalfAnswer => (CutAt::Half, Then::Close),
        Does::ResetInside => (CutAt::Bytes(act.bytes), Then::Reset),
        _ => return,
    };
    answer.cut = Some(Cut { at, then });
}
