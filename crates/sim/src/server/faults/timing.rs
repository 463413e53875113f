//! When an answer comes.

use super::outgoing::Outgoing;
use super::rule::Act;
use crate::bench::Does;

/// How long an answer takes, or its bytes.
pub(super) fn play(act: &Act, answer: &mut Outgoing) {
    match act.does {
        Does::LateAnswer | Does::Stall | Does::SlowStart => answer.wait += act.by,
        Does::Trickle => answer.trickle = Some((act.bytes, act.by)),
        _ => {}
    }
}
