//! An answer on its way out, as faults find it and leave it.

use std::time::Duration;

use bytes::Bytes;
use spurline_scpi::Response;

use crate::server::delivery::{Delivery, Then};

/// What the instrument has to say, and how it is about to say it.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Outgoing {
    pub(super) response: Response,
    /// What stands between the answers of two queries.
    pub(super) between: u8,
    pub(super) before: Vec<u8>,
    pub(super) terminator: Vec<u8>,
    /// Whether END is sent, where the link carries it.
    pub(super) end: bool,
    /// The silence before it.
    pub(super) wait: Duration,
    /// So many bytes one by one, so far apart.
    pub(super) trickle: Option<(usize, Duration)>,
    /// Blanks in front until it fills whole buffers of so many bytes; then a silence before the terminator.
    pub(super) full: Option<(usize, Duration)>,
    pub(super) cut: Option<Cut>,
}

/// An answer that does not go out to its end, and what becomes of the connection.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Cut {
    pub(super) at: CutAt,
    pub(super) then: Then,
}

/// How much of an answer goes out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum CutAt {
    /// So many bytes.
    Bytes(usize),
    /// Half of it.
    Half,
}

impl Outgoing {
    /// An answer as it should be.
    pub(super) fn proper(response: Response) -> Self {
        Self {
            response,
            between: b';',
            before: Vec::new(),
            terminator: b"\n".to_vec(),
            end: true,
            wait: Duration::ZERO,
            trickle: None,
            full: None,
            cut: None,
        }
    }

    /// The bytes before the terminator.
    fn body(&self) -> Vec<u8> {
        let answers: Vec<Bytes> =
            self.response.units.iter().map(|unit| Response { units: vec![unit.clone()] }.encode()).collect();
        let text = [self.before.as_slice(), &answers.join(&self.between)].concat();
        match self.full {
            None => text,
            Some((size, _)) => {
                let blanks = text.len().next_multiple_of(size.max(1)) - text.len();
                [vec![b' '; blanks], text].concat()
            }
        }
    }

    /// What goes out, in order; nothing if nothing does and the connection stays.
    pub(super) fn deliveries(self) -> Vec<Delivery> {
        let body = self.body();
        let mut parts = match self.full {
            Some((_, pause)) => {
                vec![(body.clone(), self.wait, None), (self.terminator.clone(), pause, None)]
            }
            None => vec![([body.as_slice(), &self.terminator].concat(), self.wait, None)],
        };
        if let Some((slow, gap)) = self.trickle {
            let first = &mut parts[0];
            let rest = first.0.split_off(slow.min(first.0.len()));
            first.2 = Some((1, gap));
            parts.insert(1, (rest, Duration::ZERO, None));
        }
        let mut left = match self.cut.map(|cut| cut.at) {
            None => usize::MAX,
            Some(CutAt::Bytes(bytes)) => bytes,
            Some(CutAt::Half) => body.len() / 2,
        };
        for (bytes, _, _) in &mut parts {
            bytes.truncate(left);
            left -= bytes.len();
        }
        // The first stands even if it is empty: its silence counts.
        let mut at = 0;
        parts.retain(|(bytes, _, _)| std::mem::replace(&mut at, 1) == 0 || !bytes.is_empty());
        let last = parts.len() - 1;
        let then = self.cut.map_or(Then::Stay, |cut| cut.then);
        let end = self.end && self.cut.is_none();
        let delivery = |(place, (bytes, wait, pieces)): (usize, (Vec<u8>, _, _))| Delivery {
            bytes: bytes.into(),
            end: end && place == last,
            wait,
            pieces,
            then: if place == last { then } else { Then::Stay },
        };
        parts.into_iter().enumerate().map(delivery).collect()
    }
}

#[cfg(test)]
mod tests {
    use spurline_scpi::{Element, Unit};

    use super::*;

    fn answer(text: &str) -> Outgoing {
        let units = text.split(';').map(|text| Unit::from(Element::from_word(text))).collect();
        Outgoing::proper(Response { units })
    }

    fn sent(outgoing: Outgoing) -> Vec<(Vec<u8>, u64, bool, Then)> {
        let each = |d: Delivery| (d.bytes.to_vec(), d.wait.as_millis() as u64, d.end, d.then);
        outgoing.deliveries().into_iter().map(each).collect()
    }

    #[test]
    fn a_proper_answer_is_what_a_good_instrument_sends() {
        assert_eq!(answer("1;2").deliveries(), [Delivery::proper(b"1;2")]);
    }

    #[test]
    fn whole_buffers_are_filled_exactly_and_the_terminator_comes_later() {
        let full = Outgoing { full: Some((8, Duration::from_millis(200))), ..answer("12;345") };
        let expected =
            [(b"  12;345".to_vec(), 0, false, Then::Stay), (b"\n".to_vec(), 200, true, Then::Stay)];
        assert_eq!(sent(full), expected);
        let already = Outgoing { full: Some((6, Duration::ZERO)), ..answer("12;345") };
        assert_eq!(sent(already)[0].0, b"12;345");
    }

    #[test]
    fn a_cut_leaves_what_stands_before_it() {
        let cut = |at, then| Outgoing { cut: Some(Cut { at, then }), ..answer("123456") };
        let half = sent(cut(CutAt::Half, Then::Close));
        assert_eq!(half, [(b"123".to_vec(), 0, false, Then::Close)]);
        let none = sent(cut(CutAt::Bytes(0), Then::Close));
        assert_eq!(none, [(Vec::new(), 0, false, Then::Close)]);
        let beyond = sent(cut(CutAt::Bytes(99), Then::Reset));
        assert_eq!(beyond, [(b"123456\n".to_vec(), 0, false, Then::Reset)]);
    }

    #[test]
    fn only_the_first_bytes_trickle() {
        let gap = Duration::from_millis(50);
        let slow = Outgoing { trickle: Some((2, gap)), wait: gap, ..answer("123456") }.deliveries();
        let shown: Vec<_> = slow.iter().map(|d| (&d.bytes[..], d.wait, d.pieces, d.end)).collect();
        let expected: [(&[u8], _, _, _); 2] =
            [(b"12", gap, Some((1, gap)), false), (b"3456\n", Duration::ZERO, None, true)];
        assert_eq!(shown, expected);
        let short = Outgoing { trickle: Some((40, gap)), ..answer("1") }.deliveries();
        assert_eq!(short.len(), 1);
        assert!(short[0].end);
    }
}
