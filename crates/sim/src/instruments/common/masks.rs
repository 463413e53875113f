//! Masks as parameters: a number, rounded; out of range it changes nothing.

use spurline_scpi::{ErrorCode, Numeric, Quantity};

use crate::instruments::call::{Bounds, Call, Outcome, Reply};

/// Eight bits (IEEE 488.2 clauses 10.10 and 10.34).
const BYTE: Bounds = Bounds { low: 0.0, high: 255.0, default: 0.0 };
/// Sixteen bits, of which the highest is dropped by whoever takes them (SCPI-1999 volume 2, clause 20.1).
const WORD: Bounds = Bounds { low: 0.0, high: 65_535.0, default: 0.0 };
/// As far from zero as `*PSC` goes (IEEE 488.2 clause 10.25).
const FARTHEST: f64 = 32_767.0;

/// A mask of eight bits.
pub(super) fn byte<C>(call: &Call<'_>, current: u8, set: impl FnOnce(u8)) -> Outcome<C> {
    call.strict(Quantity::Plain, BYTE, current.into(), |mask| set(mask.round() as u8))
}

/// A mask of sixteen bits.
pub(super) fn word<C>(call: &Call<'_>, current: u16, set: impl FnOnce(u16)) -> Outcome<C> {
    call.strict(Quantity::Plain, WORD, current.into(), |mask| set(mask.round() as u16))
}

/// A number that is on unless it is zero, and answered as `1` or `0`.
pub(super) fn switch<C>(call: &Call<'_>, current: bool, set: impl FnOnce(bool)) -> Outcome<C> {
    if call.unit.query {
        return call.ask(|| Ok(Reply::flag(current)));
    }
    let [parameter] = call.unit.exactly()?;
    let Numeric::Value(value) = parameter.numeric(Quantity::Plain)? else {
        return Err(ErrorCode::ILLEGAL_PARAMETER_VALUE);
    };
    if value.round().abs() > FARTHEST {
        return Err(ErrorCode::DATA_OUT_OF_RANGE);
    }
    set(value.round() != 0.0);
    Ok(Reply::Done)
}
