//! The fields of an answer: which are numbers, and how each stands on the wire.

use bytes::Bytes;
use spurline_scpi::{Element, Response, Unit};

/// Whether a field is a decimal number.
pub(super) fn is_number(element: &Element) -> bool {
    let Element::Text(text) = element else { return false };
    let digits = text.iter().any(u8::is_ascii_digit);
    digits && std::str::from_utf8(text).is_ok_and(|text| text.parse::<f64>().is_ok_and(f64::is_finite))
}

/// Whether an answer is something else than an entry of the error queue, or another pair with a text.
pub(super) fn is_measured(unit: &Unit) -> bool {
    !unit.elements.iter().any(|element| matches!(element, Element::String(_)))
}

/// The numbers of an answer, leaving the error queue alone.
pub(super) fn numbers(response: &mut Response) -> impl Iterator<Item = &mut Element> {
    let units = response.units.iter_mut().filter(|unit| is_measured(unit));
    units.flat_map(|unit| &mut unit.elements).filter(|element| is_number(element))
}

/// A field as it stands on the wire.
pub(super) fn written(element: &Element) -> Bytes {
    Response { units: vec![Unit::from(element.clone())] }.encode()
}

/// Replaces a field by what is made of it as it stands on the wire; from then on it is bare bytes.
pub(super) fn rewrite(element: &mut Element, change: impl FnOnce(Vec<u8>) -> Vec<u8>) {
    let bytes = change(written(element).to_vec());
    *element = Element::Text(bytes.into());
}

/// Replaces a bare field by what is made of its text; other fields stay.
pub(super) fn respell(element: &mut Element, change: impl FnOnce(&str) -> String) {
    if let Element::Text(text) = element
        && let Ok(old) = std::str::from_utf8(text)
    {
        *text = change(old).into();
    }
}
