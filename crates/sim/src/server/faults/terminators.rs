//! Where a message ends: terminators that are missing, doubled, in the wrong place, or not understood.

use super::outgoing::Outgoing;
use super::rule::Act;
use super::words::rewrite;
use crate::bench::Does;

/// What stands in place of a carriage return that is data: it means nothing in any header or number.
const SENSELESS: u8 = 0x7f;

/// How an answer ends, or seems to end.
pub(super) fn play(act: &Act, answer: &mut Outgoing) {
    match act.does {
        Does::NoTerminator => {
            answer.terminator.clear();
            answer.end = false;
        }
        Does::EndsInSilence | Does::BlockUnterminated => answer.terminator.clear(),
        Does::BlockTwoNewlines => answer.terminator = b"\n\n".to_vec(),
        Does::NulBytes => {
            answer.before.insert(0, 0);
            answer.terminator.push(0);
        }
        Does::AnswersApart => answer.between = b'\n',
        Does::NewlineInside => newline_inside(answer),
        Does::FullBuffers => answer.full = Some((act.bytes, act.by)),
        _ => {}
    }
}

/// A new line behind the first field; in the middle of the only one.
fn newline_inside(answer: &mut Outgoing) {
    let mut fields = answer.response.units.iter_mut().flat_map(|unit| &mut unit.elements);
    let Some(first) = fields.next() else { return };
    let alone = fields.next().is_none();
    rewrite(first, |mut bytes| {
        let at = if alone { bytes.len() / 2 } else { bytes.len() };
        bytes.insert(at, b'\n');
        bytes
    });
}

/// Bytes that come in where only CR NL ends a message: a new line alone is a blank. `last` is the byte before them.
pub(super) fn only_cr_lf(fresh: &mut [u8], mut last: u8) {
    for byte in fresh {
        let came = *byte;
        if came == b'\n' && last != b'\r' {
            *byte = b' ';
        }
        last = came;
    }
}

/// Bytes that come in where a carriage return is data.
pub(super) fn cr_is_data(fresh: &mut [u8]) {
    fresh.iter_mut().filter(|byte| **byte == b'\r').for_each(|byte| *byte = SENSELESS);
}
