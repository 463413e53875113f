//! What was fetched, as the reply to a read.

use spurline_wire::rpc::Outcome;
use spurline_wire::vxi11::{Code, ReadDone, reason};

use super::core::Answered;
use crate::server::delivery::Then;
use crate::server::exchange::Fetched;

/// The reply, with every reason that there is for its end (clause B.6.4).
pub(super) fn answered(fetched: Fetched) -> Answered {
    let Fetched { bytes, full, matched, end, gap, then } = fetched;
    let reasons = [(full, reason::COUNT), (matched, reason::TERMCHAR), (end, reason::END)];
    let reason = reasons.into_iter().filter(|(holds, _)| *holds).map(|(_, bit)| bit).sum();
    // Hanging up instead of an answer is no empty answer.
    let hangs_up = bytes.is_empty() && then != Then::Stay;
    let done = ReadDone { error: Code::NONE, reason, data: bytes };
    Answered { outcome: (!hangs_up).then(|| Outcome::Done(done.encode())), stale: None, gap, then }
}

#[cfg(test)]
mod tests {
    use std::time::Duration;

    use bytes::Bytes;

    use super::*;

    #[test]
    fn every_reason_is_named() {
        for (full, matched, end, expected) in
            [(true, false, false, 1), (false, true, false, 2), (false, false, true, 4), (true, true, true, 7)]
        {
            let bytes = Bytes::from_static(b"1\n");
            let fetched = Fetched { bytes, full, matched, end, gap: Duration::ZERO, then: Then::Stay };
            let Some(Outcome::Done(results)) = answered(fetched).outcome else { panic!("a reply") };
            assert_eq!(ReadDone::decode(results).unwrap().reason, expected);
        }
    }
}
