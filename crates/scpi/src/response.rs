//! An answer taken apart: units between semicolons, elements between commas.

use bytes::Bytes;

use crate::element::{text_from, write_indefinite};
use crate::scan::{BlockHead, bare_run, block_head};
use crate::{DecodeError, Element, Elements};

/// What one query of a message was answered with.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Unit {
    /// The data elements, in order; an empty field is an empty [`Element::Text`].
    pub elements: Elements,
}

impl From<Vec<Element>> for Unit {
    fn from(elements: Vec<Element>) -> Self {
        Self { elements: elements.into() }
    }
}

impl From<Element> for Unit {
    fn from(element: Element) -> Self {
        Self { elements: vec![element].into() }
    }
}

/// The largest trace that is known has a fifth of it. An element costs more memory than the comma that makes one.
const MOST_ELEMENTS: usize = 1 << 20;

/// A response message: one unit for each query of the program message.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Response {
    /// The units, in the order of the queries.
    pub units: Vec<Unit>,
}

impl Response {
    /// Takes apart a whole message, with or without its terminator.
    ///
    /// `#0` is accepted as the last element, since here the end of the message is known.
    ///
    /// # Errors
    /// When a block or a string is cut short, something other than a separator follows one, or there are more than a
    /// million elements.
    pub fn parse(message: Bytes) -> Result<Self, DecodeError> {
        let mut parser = Parser { message, at: 0, left: MOST_ELEMENTS };
        let (mut units, mut more) = (Vec::new(), true);
        while more {
            let (elements, another) = parser.unit()?;
            units.push(Unit { elements });
            more = another;
        }
        Ok(Self { units })
    }

    /// The message as it goes over the wire, without terminator.
    #[must_use]
    pub fn encode(&self) -> Bytes {
        self.written(|element, out| element.write(out))
    }

    /// The same with a block at its end sent without length, as `#0`: only the end of the message closes it, so that a
    /// link without END cannot carry it safely. Blocks before others keep their length.
    #[must_use]
    pub fn encode_indefinite(&self) -> Bytes {
        let last = self.units.last().and_then(|unit| unit.elements.last());
        self.written(|element, out| match element {
            Element::Block(data) if last.is_some_and(|last| std::ptr::eq(last, element)) => {
                write_indefinite(data, out);
            }
            _ => element.write(out),
        })
    }

    /// Whether the last element is a block.
    #[must_use]
    pub fn ends_with_block(&self) -> bool {
        let last = self.units.last().and_then(|unit| unit.elements.last());
        matches!(last, Some(Element::Block(_)))
    }

    fn written(&self, write: impl Fn(&Element, &mut Vec<u8>)) -> Bytes {
        let mut out = Vec::new();
        for (i, unit) in self.units.iter().enumerate() {
            if i > 0 {
                out.push(b';');
            }
            for (j, element) in unit.elements.iter().enumerate() {
                if j > 0 {
                    out.push(b',');
                }
                write(element, &mut out);
            }
        }
        out.into()
    }
}

enum Separator {
    Element,
    Unit,
}

struct Parser {
    message: Bytes,
    at: usize,
    /// How many more elements are taken.
    left: usize,
}

impl Parser {
    /// The elements of a unit, and whether another one follows.
    fn unit(&mut self) -> Result<(Elements, bool), DecodeError> {
        if let Some((length, commas)) = bare_run(self.rest()) {
            self.count(commas + 1)?;
            let text = self.message.slice(self.at..self.at + length);
            self.at += length;
            return Ok((Elements::from_run(text), self.separator()?.is_some()));
        }
        let mut list = Vec::new();
        loop {
            self.count(1)?;
            list.push(self.element()?);
            match self.separator()? {
                Some(Separator::Element) => {}
                Some(Separator::Unit) => return Ok((list.into(), true)),
                None => return Ok((list.into(), false)),
            }
        }
    }

    fn count(&mut self, elements: usize) -> Result<(), DecodeError> {
        let left = self.left.checked_sub(elements);
        self.left = left.ok_or(DecodeError::TooManyElements { limit: MOST_ELEMENTS })?;
        Ok(())
    }

    fn rest(&self) -> &[u8] {
        &self.message[self.at..]
    }

    fn skip_blanks(&mut self) {
        self.at += self.rest().iter().take_while(|&&b| b <= b' ').count();
    }

    fn element(&mut self) -> Result<Element, DecodeError> {
        self.skip_blanks();
        match self.rest().first() {
            Some(b'"') => self.string(),
            Some(b'#') => match block_head(self.rest())? {
                BlockHead::Partial => Err(DecodeError::BlockCutShort { expected: 0, found: 0 }),
                BlockHead::NotBlock => Ok(self.text()),
                BlockHead::Definite { head, length } => self.block(head, length),
                BlockHead::Indefinite => Ok(self.indefinite()),
            },
            _ => Ok(self.text()),
        }
    }

    fn text(&mut self) -> Element {
        let rest = self.rest();
        let length = rest.iter().position(|&b| matches!(b, b',' | b';')).unwrap_or(rest.len());
        let padding = rest[..length].iter().rev().take_while(|&&b| b <= b' ').count();
        let text = self.message.slice(self.at..self.at + length - padding);
        self.at += length;
        Element::Text(text)
    }

    fn string(&mut self) -> Result<Element, DecodeError> {
        let mut text = Vec::new();
        let mut at = self.at + 1;
        loop {
            match (self.message.get(at), self.message.get(at + 1)) {
                (None, _) => return Err(DecodeError::StringNotClosed),
                (Some(b'"'), Some(b'"')) => {
                    text.push(b'"');
                    at += 2;
                }
                (Some(b'"'), _) => break,
                (Some(&byte), _) => {
                    text.push(byte);
                    at += 1;
                }
            }
        }
        self.at = at + 1;
        Ok(Element::String(text_from(&text)))
    }

    fn block(&mut self, head: usize, length: u64) -> Result<Element, DecodeError> {
        let found = (self.rest().len() - head) as u64;
        if length > found {
            return Err(DecodeError::BlockCutShort { expected: length, found });
        }
        let start = self.at + head;
        // Fits: it is not longer than what is in memory.
        self.at = start + length as usize;
        Ok(Element::Block(self.message.slice(start..self.at)))
    }

    fn indefinite(&mut self) -> Element {
        let data = self.message.slice(self.at + 2..);
        self.at = self.message.len();
        let end = data.len() - usize::from(data.last() == Some(&b'\n'));
        Element::Block(data.slice(..end))
    }

    fn separator(&mut self) -> Result<Option<Separator>, DecodeError> {
        self.skip_blanks();
        let separator = match self.rest().first() {
            None => return Ok(None),
            Some(b',') => Separator::Element,
            Some(b';') => Separator::Unit,
            Some(&found) => return Err(DecodeError::AfterElement { found }),
        };
        self.at += 1;
        Ok(Some(separator))
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn text(text: &str) -> Element {
        Element::from_word(text)
    }

    fn block(data: &[u8]) -> Element {
        Element::Block(Bytes::copy_from_slice(data))
    }

    fn check(message: &[u8], expected: Result<Vec<Vec<Element>>, DecodeError>) {
        let expected = expected.map(|units| Response { units: units.into_iter().map(Unit::from).collect() });
        let shown = String::from_utf8_lossy(message);
        assert_eq!(Response::parse(Bytes::copy_from_slice(message)), expected, "{shown:?}");
    }

    /// IEEE 488.2 clause 8: separators (8.4), strings (8.7.8), definite (8.7.9) and indefinite blocks (8.7.10).
    #[test]
    fn forms() {
        check(b"1.0;2,3", Ok(vec![vec![text("1.0")], vec![text("2"), text("3")]]));
        check(b" +1 , 2 \r\n", Ok(vec![vec![text("+1"), text("2")]]));
        check(br#""say ""hi"";,";0"#, Ok(vec![vec![Element::from_string("say \"hi\";,")], vec![text("0")]]));
        check(b"#14a;,\n;1", Ok(vec![vec![block(b"a;,\n")], vec![text("1")]]));
        check(b"#9000000004abcd\n", Ok(vec![vec![block(b"abcd")]]));
        check(b"#(4)abcd,#10,5", Ok(vec![vec![block(b"abcd"), block(b""), text("5")]]));
        check(b"1;#0ab;\n\n", Ok(vec![vec![text("1")], vec![block(b"ab;\n")]]));
        check(b"#HFF", Ok(vec![vec![text("#HFF")]]));
        check(b"1,,2,", Ok(vec![vec![text("1"), text(""), text("2"), text("")]]));
        check(b"19\" rack", Ok(vec![vec![text("19\" rack")]]));
        check(b"\"\xb5V\"", Ok(vec![vec![Element::from_string("\u{b5}V")]]));
    }

    /// IEEE 488.2 clause 8.7.10: nothing can follow a block without length.
    #[test]
    fn only_the_last_block_can_be_without_length() {
        let response = Response { units: vec![block(b"ab").into(), block(b"c\n").into()] };
        assert_eq!(&response.encode_indefinite()[..], b"#12ab;#0c\n");
        assert!(response.ends_with_block());
        let text_last = Response { units: vec![block(b"ab").into(), text("1").into()] };
        assert_eq!(text_last.encode_indefinite(), text_last.encode());
        assert!(!text_last.ends_with_block());
    }

    /// A long run is kept in one piece; taken apart and read, it is what its fields are one by one.
    fn same_in_one_piece(fields: &[String], behind: &str) {
        let text = fields.join(",") + behind;
        let unit = &Response::parse(Bytes::from(text.clone())).unwrap().units[0];
        let apart: Vec<Element> =
            fields.iter().map(|field| Element::from_word(field.trim_matches(|c| c <= ' '))).collect();
        assert_eq!(unit.elements.run().is_some(), text.len() - behind.len() >= crate::scan::LONG, "{text:?}");
        let bits =
            |unit: &Unit| unit.f32_list().map(|list| list.into_iter().map(f32::to_bits).collect::<Vec<_>>());
        assert_eq!(bits(unit), bits(&Unit::from(apart.clone())), "{text:?}");
        assert_eq!(unit.elements[..], apart[..], "{text:?}");
        let mut changed = unit.clone();
        changed.elements.push(self::text("9"));
        assert_eq!((changed.elements.len(), changed.elements.run()), (apart.len() + 1, None));
        assert_eq!(changed.elements.into_vec()[..apart.len()], apart[..]);
    }

    /// What stands behind a run must neither be lost nor be taken for a part of it.
    #[test]
    fn a_run_ends_where_its_unit_does() {
        let numbers = vec!["-1.25E+01"; 200].join(",");
        let tail = |behind: &str| Response::parse(Bytes::from(format!("{numbers}{behind}")));
        assert_eq!(
            tail(";2;\"a\"\n").unwrap().units[1..],
            [text("2").into(), Element::from_string("a").into()]
        );
        assert_eq!(tail(",\"a;\"").unwrap().units[0].elements[200], Element::from_string("a;"));
        assert_eq!(tail(",#13a;b;1").unwrap().units[0].elements[200], block(b"a;b"));
        assert_eq!(tail(",#15a"), Err(DecodeError::BlockCutShort { expected: 5, found: 1 }));
        assert_eq!(tail(",,\n").unwrap().units[0].f32_list().map(|list| list.len()), Ok(201));
        assert_eq!(tail(" \r\n").unwrap().units[0].elements[199], text("-1.25E+01"));
        let refused = tail(", 1 2 ,3").unwrap().units[0].f32_list().unwrap_err();
        assert_eq!(refused.to_string(), "expected a number, found \"1 2\"");
        assert_eq!(tail(";1").unwrap().encode(), format!("{numbers};1"));
    }

    #[test]
    fn broken_forms() {
        check(b"#15abcd", Err(DecodeError::BlockCutShort { expected: 5, found: 4 }));
        check(b"#2", Err(DecodeError::BlockCutShort { expected: 0, found: 0 }));
        check(b"#14abcd0", Err(DecodeError::AfterElement { found: b'0' }));
        check(b"\"abc", Err(DecodeError::StringNotClosed));
        check(b"\"a\"b", Err(DecodeError::AfterElement { found: b'b' }));
    }

    fn any_element() -> impl Strategy<Value = Element> {
        prop_oneof![
            "[-+A-Z0-9.]{1,8}".prop_map(|t| text(&t)),
            any::<String>().prop_map(Element::String),
            prop::collection::vec(any::<u8>(), 0..20).prop_map(|d| block(&d)),
        ]
    }

    pub(crate) fn any_response() -> impl Strategy<Value = Response> {
        let unit = prop::collection::vec(any_element(), 1..4).prop_map(Unit::from);
        prop::collection::vec(unit, 1..4).prop_map(|units| Response { units })
    }

    proptest! {
        #[test]
        fn encoded_reads_back(response in any_response()) {
            prop_assert_eq!(Response::parse(response.encode()), Ok(response));
        }

        #[test]
        fn a_long_run_reads_as_its_fields(
            fields in prop::collection::vec(prop_oneof![
                8 => "[-+]?[0-9]{1,12}(\\.[0-9]{0,9})?([eE][-+]?[0-9]{1,3})?",
                1 => "[ \t]{0,2}[-+]?[0-9]{1,3}[ \t\r]{0,2}",
                1 => prop::sample::select(&["", "NAN", "-INF", "9.91E37", "9.9E37", "***", " ", "+", "1E", "x"][..])
                    .prop_map(str::to_owned),
            ], 1..80),
            behind in prop::sample::select(&["", "\n", "\r\n", ";1", ";\"a,b\"", ";#13a,b"][..]),
        ) {
            // A terminator belongs to the last field, a unit behind it does not.
            if behind.starts_with(';') || behind.is_empty() {
                same_in_one_piece(&fields, behind);
            } else {
                let mut fields = fields;
                fields.last_mut().unwrap().push_str(behind);
                same_in_one_piece(&fields, "");
            }
        }

        #[test]
        fn parse_never_panics(message in prop::collection::vec(
            prop_oneof![any::<u8>(), prop::sample::select(&b"#0123(),;\"\n"[..])], 0..60))
        {
            if let Ok(response) = Response::parse(message.into()) {
                prop_assert!(response.units.iter().all(|unit| !unit.elements.is_empty()));
            }
        }
    }
}
