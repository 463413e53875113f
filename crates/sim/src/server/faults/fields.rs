//! Answers with more in them than was asked for.

use rand::RngExt;
use spurline_scpi::Element;

use super::outgoing::Outgoing;
use super::program;
use super::rule::Act;
use super::words::{respell, rewrite};
use crate::bench::Does;

/// Bytes that no instrument should send outside blocks: the micro sign of Latin-1, and one that is no text at all.
const FOREIGN: [u8; 2] = [0xb5, 0xff];

/// The fields of an answer to `message` as the fault leaves them.
pub(super) fn play(act: &mut Act, answer: &mut Outgoing, message: &[u8]) {
    let units = &mut answer.response.units;
    match act.does {
        Does::TrailingComma => {
            if let Some(last) = units.last_mut() {
                last.elements.push(Element::from_word(""));
            }
        }
        Does::DoubledBlanks => {
            let fields = units.iter_mut().flat_map(|unit| &mut unit.elements);
            fields.for_each(|field| respell(field, |text| format!("  {text}  ")));
        }
        Does::HeaderInAnswer => {
            let asked = program::units(message).into_iter().filter(|unit| unit.query);
            for (unit, query) in units.iter_mut().zip(asked) {
                if let Some(first) = unit.elements.first_mut() {
                    rewrite(first, |bytes| [query.header.as_bytes(), b" ", &bytes].concat());
                }
            }
        }
        Does::NotAscii => {
            let texts = units.iter_mut().flat_map(|unit| &mut unit.elements);
            let mut texts: Vec<_> = texts.filter(|field| matches!(field, Element::Text(_))).collect();
            let place = act.draws.random_range(0..texts.len().max(1));
            let byte = FOREIGN[act.draws.random_range(0..FOREIGN.len())];
            if let Some(field) = texts.get_mut(place) {
                rewrite(field, |mut bytes| {
                    bytes.insert(act.draws.random_range(0..=bytes.len()), byte);
                    bytes
                });
            }
        }
        Does::OtherSerial => {
            let asked = program::units(message).into_iter().filter(|unit| unit.query);
            for (unit, _) in units.iter_mut().zip(asked).filter(|(_, query)| query.header == "*IDN") {
                if let Some(serial) = unit.elements.get_mut(2) {
                    respell(serial, |text| format!("{text}-B"));
                }
            }
        }
        _ => {}
    }
}
