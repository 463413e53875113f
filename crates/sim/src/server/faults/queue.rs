//! An error queue for each connection, made out of the instrument's only one.

use std::collections::VecDeque;

use spurline_scpi::{Element, ErrorCode, InstrumentError, Response, Unit};

/// Entries that a connection's queue holds.
const DEPTH: usize = 16;

/// Answers to `SYSTem:ERRor?` come from the connection's own queue: first what waited there, then what this message
/// made. `made` is what the instrument's queue still held after the message; it stays with the connection.
pub(super) fn keep_apart(waiting: &mut VecDeque<Unit>, response: Option<&mut Response>, made: Vec<Unit>) {
    let answers: Vec<&mut Unit> =
        response.into_iter().flat_map(|response| &mut response.units).filter(|unit| is_entry(unit)).collect();
    waiting.extend(answers.iter().map(|unit| (**unit).clone()).filter(|unit| !is_no_error(unit)));
    waiting.extend(made);
    for answer in answers {
        *answer = waiting.pop_front().unwrap_or_else(|| entry(ErrorCode::NO_ERROR));
    }
    if waiting.len() > DEPTH {
        waiting.truncate(DEPTH - 1);
        waiting.push_back(entry(ErrorCode::QUEUE_OVERFLOW));
    }
}

/// Whether an answer is an entry of the error queue.
fn is_entry(unit: &Unit) -> bool {
    matches!(unit.elements[..], [Element::Text(_), Element::String(_)])
}

/// Whether an entry says that there is none.
pub(crate) fn is_no_error(unit: &Unit) -> bool {
    matches!(unit.elements.first(), Some(Element::Text(code)) if code.as_ref() == b"0")
}

fn entry(code: ErrorCode) -> Unit {
    let error = InstrumentError::standard(code);
    vec![Element::from_integer(code.number().into()), Element::from_string(&error.text)].into()
}
