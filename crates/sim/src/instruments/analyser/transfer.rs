//! How a trace goes over the wire: `FORMat` and `TRACe`.

use spurline_scpi::{ByteOrder, Element, ErrorCode, Number, Numeric, Parameter, Quantity};

use super::commands::Command;
use super::level_unit::LevelUnit;
use crate::instruments::call::{Call, Reply};

/// The form of the numbers.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Format {
    /// Text with this many significant digits; 0 for as many as mean something.
    Ascii(u8),
    Real32,
    Real64,
    /// Thousandths of a dBm, whatever the unit: common practice.
    Integer32,
}

/// Form, byte order and unit together.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Transfer {
    pub(super) format: Format,
    pub(super) order: ByteOrder,
    pub(super) unit: LevelUnit,
}

/// The byte orders by name.
pub(super) const ORDERS: [(&str, ByteOrder); 2] =
    [("NORMal", ByteOrder::Big), ("SWAPped", ByteOrder::Little)];

/// More significant digits than this no float has.
const MOST_DIGITS: f64 = 17.0;
/// Digits that mean something in a level: a trace has steps of 0.01 dB.
const LINEAR_DIGITS: usize = 6;
const STEPS_PER_DB: f64 = 100.0;
const THOUSANDTHS: f64 = 1000.0;

impl Format {
    /// `FORMat[:DATA]`: a type and, if wanted, a length.
    pub(super) fn read(call: &Call<'_>) -> Result<Self, ErrorCode> {
        let parameters = call.unit.between(1, 2)?;
        let kinds = [("ASCii", Kind::Ascii), ("REAL", Kind::Real), ("INTeger", Kind::Integer)];
        let kind = parameters[0].choice(&kinds)?;
        let length = match parameters.get(1).map(|length| length.numeric(Quantity::Plain)).transpose()? {
            None => None,
            Some(Numeric::Value(length)) => Some(length),
            Some(_) => return Err(ErrorCode::ILLEGAL_PARAMETER_VALUE),
        };
        match (kind, length) {
            (Kind::Ascii, None) => Ok(Self::Ascii(0)),
            (Kind::Ascii, Some(digits)) if (0.0..=MOST_DIGITS).contains(&digits.round()) => {
                Ok(Self::Ascii(digits.round() as u8))
            }
            (Kind::Real, None | Some(32.0)) => Ok(Self::Real32),
            (Kind::Real, Some(64.0)) => Ok(Self::Real64),
            (Kind::Integer, None | Some(32.0)) => Ok(Self::Integer32),
            _ => Err(ErrorCode::ILLEGAL_PARAMETER_VALUE),
        }
    }

    /// What `FORMat?` answers: type and length.
    pub(super) fn answer(self) -> Reply<Command> {
        let (name, length) = match self {
            Self::Ascii(digits) => ("ASC", i64::from(digits)),
            Self::Real32 => ("REAL", 32),
            Self::Real64 => ("REAL", 64),
            Self::Integer32 => ("INT", 32),
        };
        Reply::Answer(vec![Element::from_word(name), Element::from_integer(length)].into())
    }
}

#[derive(Clone, Copy, Debug)]
enum Kind {
    Ascii,
    Real,
    Integer,
}

impl Transfer {
    /// Levels in dBm as they go out.
    pub(super) fn trace(self, levels: &[f32]) -> Reply<Command> {
        let values = || levels.iter().map(|level| self.unit.of_dbm(f64::from(*level)));
        Reply::Answer(
            match self.format {
                Format::Ascii(digits) => {
                    let texts: Vec<String> = values().map(|value| self.text(value, digits)).collect();
                    Element::from_word(&texts.join(","))
                }
                Format::Real32 => {
                    let values: Vec<f32> = values().map(|value| value as f32).collect();
                    Element::from_f32s(&values, self.order)
                }
                Format::Real64 => Element::from_f64s(&values().collect::<Vec<_>>(), self.order),
                Format::Integer32 => {
                    let thousandths = |level: &f32| (f64::from(*level) * THOUSANDTHS).round() as i32;
                    let values: Vec<i32> = levels.iter().map(thousandths).collect();
                    Element::from_i32s(&values, self.order)
                }
            }
            .into(),
        )
    }

    fn text(self, value: f64, digits: u8) -> String {
        match usize::from(digits) {
            0 if self.unit.is_logarithmic() => {
                Number::Finite((value * STEPS_PER_DB).round() / STEPS_PER_DB).nr3()
            }
            0 => Number::Finite(value).nr3_rounded(LINEAR_DIGITS),
            digits => Number::Finite(value).nr3_rounded(digits),
        }
    }
}

/// The only trace that there is, by either of its names.
pub(super) fn only_trace(name: &Parameter) -> Result<(), ErrorCode> {
    let name = name.word()?;
    let known = ["TRACE1", "TRAC1"].iter().any(|known| name.eq_ignore_ascii_case(known));
    if known { Ok(()) } else { Err(ErrorCode::ILLEGAL_PARAMETER_VALUE) }
}

#[cfg(test)]
mod tests {
    use spurline_scpi::Response;

    use super::*;

    fn sent(format: Format, unit: LevelUnit) -> Element {
        let transfer = Transfer { format, order: ByteOrder::Big, unit };
        let Reply::Answer(unit) = transfer.trace(&[-30.0, 0.125]) else { panic!("an answer") };
        let mut response = Response { units: vec![unit] };
        response.units.remove(0).elements[0].clone()
    }

    #[test]
    fn swapped_is_each_number_the_other_way_round() {
        for (format, width) in [(Format::Real32, 4), (Format::Real64, 8), (Format::Integer32, 4)] {
            let [big, little] = [ByteOrder::Big, ByteOrder::Little].map(|order| {
                let transfer = Transfer { format, order, unit: LevelUnit::Dbm };
                match transfer.trace(&[-30.0, 0.125]) {
                    Reply::Answer(unit) => match &unit.elements[..] {
                        [Element::Block(data)] => data.to_vec(),
                        other => panic!("a block, not {other:?}"),
                    },
                    other => panic!("an answer, not {other:?}"),
                }
            });
            let turned: Vec<u8> = little.chunks(width).flat_map(|n| n.iter().rev().copied()).collect();
            assert_eq!(big, turned, "{format:?}");
        }
    }

    /// IEEE 754: -30 is 0xc1f00000 and 0xc03e000000000000, 0.125 is 0x3e000000 and 0x3fc0000000000000 (Python's
    /// `struct`); -30 000 in two's complement is 0xffff8ad0.
    #[test]
    fn every_form_bit_by_bit() {
        let block = |bytes: &[u8]| Element::Block(bytes.to_vec().into());
        let dbm = LevelUnit::Dbm;
        assert_eq!(sent(Format::Real32, dbm), block(&[0xc1, 0xf0, 0, 0, 0x3e, 0, 0, 0]));
        assert_eq!(
            sent(Format::Real64, dbm),
            block(&[0xc0, 0x3e, 0, 0, 0, 0, 0, 0, 0x3f, 0xc0, 0, 0, 0, 0, 0, 0])
        );
        assert_eq!(sent(Format::Integer32, dbm), block(&[0xff, 0xff, 0x8a, 0xd0, 0, 0, 0, 0x7d]));
        assert_eq!(sent(Format::Ascii(0), dbm), Element::from_word("-3.0E+01,1.3E-01"));
        assert_eq!(sent(Format::Ascii(4), dbm), Element::from_word("-3.000E+01,1.250E-01"));
        assert_eq!(sent(Format::Ascii(3), LevelUnit::Watt), Element::from_word("1.00E-06,1.03E-03"));
    }
}
