//! Entries of the error queue as answers.

use spurline_scpi::{Element, InstrumentError, Unit};

use crate::instruments::call::Reply;

/// Number and text of each entry.
pub(super) fn entries<C>(errors: impl IntoIterator<Item = InstrumentError>) -> Reply<C> {
    let pair = |error: InstrumentError| {
        [Element::from_integer(error.code.number().into()), Element::from_string(&error.text)]
    };
    Reply::Answer(Unit { elements: errors.into_iter().flat_map(pair).collect() })
}

/// The number of each entry.
pub(super) fn codes<C>(errors: impl IntoIterator<Item = InstrumentError>) -> Reply<C> {
    let number = |error: InstrumentError| Element::from_integer(error.code.number().into());
    Reply::Answer(Unit { elements: errors.into_iter().map(number).collect() })
}
