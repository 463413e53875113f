//! Blocks that are not what their header or the settings say.

use bytes::Bytes;
use spurline_scpi::{ByteOrder, Element};

use super::outgoing::Outgoing;
use super::rule::Act;
use crate::bench::Does;

/// How the values stand in the instrument's blocks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Layout {
    /// Bytes of one value.
    pub(super) size: usize,
    pub(super) order: ByteOrder,
}

impl Layout {
    /// From the answers to `FORMat?` and `FORMat:BORDer?`; 32 bits, most significant first, if they do not tell.
    pub(crate) fn from_answers(format: &[u8], order: &[u8]) -> Self {
        let size = if format.ends_with(b"64") { 8 } else { 4 };
        let order = if order.starts_with(b"SWAP") { ByteOrder::Little } else { ByteOrder::Big };
        Self { size, order }
    }
}

/// Every block of an answer as the fault leaves it.
pub(super) fn play(act: &Act, answer: &mut Outgoing, layout: Layout) {
    if act.does == Does::BlockCutShort {
        return cut_short(answer);
    }
    for unit in &mut answer.response.units {
        let elements = std::mem::take(&mut unit.elements).into_iter();
        unit.elements = elements
            .flat_map(|element| match element {
                Element::Block(data) => changed(act.does, data, layout),
                other @ (Element::Text(_) | Element::String(_)) => vec![other],
            })
            .collect();
    }
}

fn changed(does: Does, data: Bytes, layout: Layout) -> Vec<Element> {
    let values = data.chunks(layout.size);
    vec![match does {
        Does::BlockOddLength => Element::Block(data.slice(..data.len().saturating_sub(1))),
        Does::BlockIndefinite => Element::Text([b"#0", &data[..]].concat().into()),
        Does::BlockInTwo => {
            let middle = data.len() / layout.size / 2 * layout.size;
            return vec![Element::Block(data.slice(..middle)), Element::Block(data.slice(middle..))];
        }
        Does::BlockSwapped => Element::Block(values.flat_map(|value| value.iter().rev().copied()).collect()),
        Does::NewlinesInBlock => {
            Element::Block(values.flat_map(|value| with_newline(value, layout.order)).collect())
        }
        _ => Element::Block(data),
    }]
}

/// The nearest value whose least significant byte is a new line; values of one sign rise with their bits.
fn with_newline(value: &[u8], order: ByteOrder) -> Vec<u8> {
    let is_little = order == ByteOrder::Little;
    let mut bytes = value.to_vec();
    if is_little {
        bytes.reverse();
    }
    let Some((least, higher)) = bytes.split_last_mut() else { return bytes };
    let up = i16::from(*least) - i16::from(b'\n') > 128;
    *least = b'\n';
    if up {
        for byte in higher.iter_mut().rev() {
            *byte = byte.wrapping_add(1);
            if *byte != 0 {
                break;
            }
        }
    }
    if is_little {
        bytes.reverse();
    }
    bytes
}

/// Half of the first block behind the header of the whole; nothing comes after it.
fn cut_short(answer: &mut Outgoing) {
    let units = &mut answer.response.units;
    let block = |element: &Element| matches!(element, Element::Block(_));
    let Some(unit) = units.iter().position(|unit| unit.elements.iter().any(block)) else { return };
    units.truncate(unit + 1);
    let elements = &mut units[unit].elements;
    let Some(place) = elements.iter().position(block) else { return };
    elements.truncate(place + 1);
    let Element::Block(data) = &elements[place] else { return };
    let missing = data.len().div_ceil(2);
    super::words::rewrite(&mut elements[place], |mut bytes| {
        bytes.truncate(bytes.len() - missing);
        bytes
    });
    answer.terminator.clear();
    answer.end = false;
}
