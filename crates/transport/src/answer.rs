//! An answer that a link of messages delivers whole: how long it may be, and where it ends.

use bytes::Bytes;
use spurline_scpi::{Element, Response};

/// The most bytes of an answer: those of a block and of the text around it, as on a stream.
pub(crate) const MOST: usize = 80 << 20;

/// The answer without a terminator: what stands at its end and is not data of a block is dropped. Nothing is copied.
pub(crate) fn without_terminator(mut answer: Bytes) -> Bytes {
    let padding = answer.iter().rev().take_while(|&&b| is_padding(b)).count();
    if padding == 0 {
        return answer;
    }
    let floor = if answer.contains(&b'#') { block_end(&answer) } else { Some(0) };
    if let Some(floor) = floor {
        answer.truncate((answer.len() - padding).max(floor));
    }
    answer
}

/// Where the block ends that is the last element; 0 if that is none, `None` if the answer cannot be read.
fn block_end(answer: &Bytes) -> Option<usize> {
    let response = Response::parse(answer.clone()).ok()?;
    match response.units.last().and_then(|unit| unit.elements.last()) {
        // The data are a part of the answer, not a copy of it.
        Some(Element::Block(data)) => Some(data.as_ptr().addr() - answer.as_ptr().addr() + data.len()),
        Some(Element::Text(_) | Element::String(_)) | None => Some(0),
    }
}

fn is_padding(byte: u8) -> bool {
    matches!(byte, b'\n' | b'\r' | b'\0' | b' ' | b'\t')
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_block_keeps_its_data() {
        for (answer, kept) in [
            (&b"1.0\n"[..], &b"1.0"[..]),
            (b"1;\"a#1\"\r\n", b"1;\"a#1\""),
            (b"#14ab\n\n", b"#14ab\n\n"),
            (b"#14ab\n\n\r\n", b"#14ab\n\n"),
            (b"1,#12\n\n \n", b"1,#12\n\n"),
            (b"#14abcd;0,\"none\"\n", b"#14abcd;0,\"none\""),
            (b"#19cut\n", b"#19cut\n"),
            (b"\n", b""),
            (b"", b""),
        ] {
            let found = without_terminator(Bytes::copy_from_slice(answer));
            assert_eq!(found, kept, "{:?}", String::from_utf8_lossy(answer));
        }
    }

    #[test]
    fn a_large_answer_is_not_copied() {
        let answer = Bytes::from([&b"#45000"[..], &[b'\n'; 5000], b"\n"].concat());
        let place = answer.as_ptr();
        let kept = without_terminator(answer);
        assert_eq!((kept.len(), kept.as_ptr()), (5006, place));
    }
}
