//! A message as a person reads it.

use std::fmt::{self, Display, Write};

/// Shows a message: printable ASCII as it is, other bytes escaped, a block as its header and its length.
#[derive(Clone, Copy, Debug)]
pub struct Shown<'a>(pub &'a [u8]);

impl Display for Shown<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mut rest = self.0;
        let mut quoted = false;
        let mut before = b',';
        while let [first, others @ ..] = rest {
            let may_begin = !quoted && matches!(before, b',' | b';' | b' ');
            if let Some((head, data, length)) = block(rest).filter(|_| may_begin) {
                write!(f, "{}<", String::from_utf8_lossy(&rest[..head]))?;
                if data < length {
                    write!(f, "{data} of ")?;
                }
                write!(f, "{length} bytes>")?;
                rest = &rest[head + data..];
                before = b'>';
                continue;
            }
            quoted ^= *first == b'"';
            match *first {
                b'\n' => f.write_str("\\n")?,
                b'\r' => f.write_str("\\r")?,
                b'\t' => f.write_str("\\t")?,
                b'\\' => f.write_str("\\\\")?,
                b' '..=b'~' => f.write_char(char::from(*first))?,
                other => write!(f, "\\x{other:02x}")?,
            }
            before = *first;
            rest = others;
        }
        Ok(())
    }
}

/// A definite block (IEEE 488.2, 8.7.9): bytes of its header, bytes of data that are there, bytes that it announces.
fn block(bytes: &[u8]) -> Option<(usize, usize, usize)> {
    let [b'#', width @ b'1'..=b'9', rest @ ..] = bytes else { return None };
    let digits = rest.get(..usize::from(width - b'0'))?;
    if !digits.iter().all(u8::is_ascii_digit) {
        return None;
    }
    let length = std::str::from_utf8(digits).ok()?.parse::<usize>().ok()?;
    let head = 2 + digits.len();
    Some((head, length.min(bytes.len() - head), length))
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn blocks_are_shortened_and_bytes_escaped() {
        for (bytes, expected) in [
            (&b"*IDN?"[..], "*IDN?"),
            (b"#16abc\nde;0,\"No error\"", "#16<6 bytes>;0,\"No error\""),
            (b"1,#13\xff\x00\n,2", "1,#13<3 bytes>,2"),
            (b"#41604abc", "#41604<3 of 1604 bytes>"),
            (b"\"#13\",#13abc", "\"#13\",#13<3 bytes>"),
            (b"MEM#13abc", "MEM#13abc"),
            (b"#H1F,#0ab", "#H1F,#0ab"),
            (b"#2", "#2"),
            (b"#2+3abc", "#2+3abc"),
            (b"\xb5V\r\n\t\\\x00", "\\xb5V\\r\\n\\t\\\\\\x00"),
        ] {
            assert_eq!(Shown(bytes).to_string(), expected);
        }
    }

    proptest! {
        #[test]
        fn any_bytes_become_one_printable_line(bytes in prop::collection::vec(prop_oneof![any::<u8>(), Just(b'#'), b'0'..=b'9'], 0..60)) {
            let shown = Shown(&bytes).to_string();
            prop_assert!(shown.bytes().all(|byte| (b' '..=b'~').contains(&byte)), "{}", shown);
        }
    }
}
