//! Numbers on the wire: the infinities and the not-a-number of SCPI told apart from values, and the NR3 spelling.

/// A number that an instrument reported. What is not a value never becomes an `f64` by accident.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Number {
    /// A value.
    Finite(f64),
    /// `9.9E37` or beyond: over the range.
    Overflow,
    /// `-9.9E37` or beyond: under the range.
    NegativeOverflow,
    /// `9.91E37`, a word, stars, dashes or nothing: there is no value.
    NotANumber,
}

/// SCPI-1999 volume 1, clause 7.2.1: `INFinity` is 9.9E37 and `NAN` is 9.91E37.
const INFINITY: f64 = 9.9e37;
const NOT_A_NUMBER: f64 = 9.91e37;
/// Wider than the rounding of a 32-bit float, narrower than the distance between the two marks.
const MARK_TOLERANCE: f64 = 1e-6;
/// Below this, either side of zero, nothing is a mark.
const ORDINARY: f64 = 9.8e37;

impl Number {
    /// Sorts a float that came off the wire: the SCPI marks, and IEEE 754 infinities and NaN from binary blocks.
    #[must_use]
    pub fn from_wire(value: f64) -> Self {
        if value.abs() < ORDINARY {
            Self::Finite(value)
        } else if value.is_nan() || (value / NOT_A_NUMBER - 1.0).abs() < MARK_TOLERANCE {
            Self::NotANumber
        } else if value >= INFINITY * (1.0 - MARK_TOLERANCE) {
            Self::Overflow
        } else if value <= -INFINITY * (1.0 - MARK_TOLERANCE) {
            Self::NegativeOverflow
        } else {
            Self::Finite(value)
        }
    }

    /// Reads NR1, NR2 or NR3, or one of the words that stand for a missing value; `None` if it is neither.
    #[must_use]
    pub fn parse(text: &[u8]) -> Option<Self> {
        let text = text.trim_ascii();
        if let Some(value) = plain(text) {
            return Some(Self::from_wire(value));
        }
        let only = |byte: u8| text.iter().all(|&b| b == byte);
        if only(b'*') || only(b'-') {
            return Some(Self::NotANumber);
        }
        // Only these bytes: the float parser of the standard library would also take words.
        if text.iter().all(|b| matches!(b, b'0'..=b'9' | b'+' | b'-' | b'.' | b'e' | b'E')) {
            return std::str::from_utf8(text).ok()?.parse().ok().map(Self::from_wire);
        }
        Self::word(text)
    }

    fn word(text: &[u8]) -> Option<Self> {
        let (negative, word) = match text.split_first() {
            Some((b'-', rest)) => (true, rest),
            Some((b'+', rest)) => (false, rest),
            _ => (false, text),
        };
        let is = |names: [&str; 2]| names.iter().any(|name| word.eq_ignore_ascii_case(name.as_bytes()));
        if word.eq_ignore_ascii_case(b"NAN") {
            Some(Self::NotANumber)
        } else if is(["INF", "INFINITY"]) {
            Some(if negative { Self::NegativeOverflow } else { Self::Overflow })
        } else if is(["NINF", "NINFINITY"]) {
            Some(Self::NegativeOverflow)
        } else {
            None
        }
    }

    /// The value, if there is one.
    #[must_use]
    pub fn finite(self) -> Option<f64> {
        match self {
            Self::Finite(value) => Some(value),
            Self::Overflow | Self::NegativeOverflow | Self::NotANumber => None,
        }
    }

    /// As an IEEE 754 float: infinities and NaN stand for what is not a value.
    #[must_use]
    pub fn to_f32(self) -> f32 {
        match self {
            Self::Finite(value) => value as f32,
            Self::Overflow => f32::INFINITY,
            Self::NegativeOverflow => f32::NEG_INFINITY,
            Self::NotANumber => f32::NAN,
        }
    }

    /// As NR3 (`1.5E+09`), the shortest digits that read back as the same float.
    #[must_use]
    pub fn nr3(self) -> String {
        let value = match self {
            Self::Finite(value) => value,
            Self::Overflow => INFINITY,
            Self::NegativeOverflow => -INFINITY,
            Self::NotANumber => NOT_A_NUMBER,
        };
        spelled(&format!("{value:E}"))
    }

    /// As NR3 with this many significant digits, from 1 to 17; what is not a value keeps its mark.
    #[must_use]
    pub fn nr3_rounded(self, digits: usize) -> String {
        match self {
            Self::Finite(value) => spelled(&format!("{value:.*E}", digits.clamp(1, 17) - 1)),
            Self::Overflow | Self::NegativeOverflow | Self::NotANumber => self.nr3(),
        }
    }
}

/// Rust's spelling of a float with exponent, made into NR3: a point in the mantissa, a sign and two digits after `E`.
fn spelled(text: &str) -> String {
    let (mantissa, exponent) = text.split_once('E').unwrap_or((text, "0"));
    let point = if mantissa.contains('.') { "" } else { ".0" };
    let (sign, digits) = match exponent.strip_prefix('-') {
        Some(digits) => ('-', digits),
        None => ('+', exponent),
    };
    format!("{mantissa}{point}E{sign}{digits:0>2}")
}

/// Up to here every integer is its own float, and so is every power of ten up to the last of the table: one
/// multiplication or division of the two is rounded once and gives the nearest float (W. D. Clinger, How to read
/// floating point numbers accurately, 1990).
const EXACT: u64 = 1 << 53;
const POWERS: [f64; 23] = [
    1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18,
    1e19, 1e20, 1e21, 1e22,
];

/// Numbers as instruments mostly write them, with few digits and a small exponent, of which a trace has very many.
/// `None`: another way must be taken, which may find that it is no number.
fn plain(text: &[u8]) -> Option<f64> {
    leading(text).filter(|(_, rest)| rest.is_empty()).map(|(value, _)| value)
}

/// The same where more may follow: the number as far as it goes, and the rest.
pub(crate) fn leading(text: &[u8]) -> Option<(f64, &[u8])> {
    let (negative, unsigned) = signed(text);
    let (whole, rest) = digits(unsigned, 0);
    let mut count = unsigned.len() - rest.len();
    let (mantissa, rest, places) = match rest {
        [b'.', fraction @ ..] => {
            let (mantissa, rest) = digits(fraction, whole);
            (mantissa, rest, fraction.len() - rest.len())
        }
        _ => (whole, rest, 0),
    };
    count += places;
    if count == 0 || count > LONGEST || mantissa > EXACT {
        return None;
    }
    let (exponent, rest) = match rest {
        [b'e' | b'E', rest @ ..] => {
            let (down, unsigned) = signed(rest);
            let (exponent, rest) = digits(unsigned, 0);
            if !(1..4).contains(&(unsigned.len() - rest.len())) {
                return None;
            }
            (if down { -(exponent as isize) } else { exponent as isize }, rest)
        }
        _ => (0, rest),
    };
    let shift = exponent - places as isize;
    let power = *POWERS.get(shift.unsigned_abs())?;
    let value = if shift < 0 { mantissa as f64 / power } else { mantissa as f64 * power };
    Some((if negative { -value } else { value }, rest))
}

fn signed(text: &[u8]) -> (bool, &[u8]) {
    match text {
        [b'-', rest @ ..] => (true, rest),
        [b'+', rest @ ..] => (false, rest),
        _ => (false, text),
    }
}

/// More digits than these do not fit a `u64`.
const LONGEST: usize = 19;

/// The number that the leading digits continue, and what follows them. It wraps beyond [`LONGEST`] digits: who asks
/// counts them.
fn digits(text: &[u8], mut value: u64) -> (u64, &[u8]) {
    let mut rest = text;
    while let [byte, after @ ..] = rest {
        let digit = byte.wrapping_sub(b'0');
        if digit > 9 {
            break;
        }
        value = value.wrapping_mul(10).wrapping_add(u64::from(digit));
        rest = after;
    }
    (value, rest)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    /// Forms: IEEE 488.2 clause 8.7 (NR1, NR2, NR3); marks: SCPI-1999 volume 1, clause 7.2.1; stars, dashes and
    /// words are common practice.
    #[test]
    fn forms_and_marks() {
        let table: &[(&str, Option<Number>)] = &[
            ("4000", Some(Number::Finite(4000.0))),
            ("+4000", Some(Number::Finite(4000.0))),
            ("4.0000E+03", Some(Number::Finite(4000.0))),
            ("-10.25", Some(Number::Finite(-10.25))),
            (" -1.5e-3 ", Some(Number::Finite(-0.0015))),
            ("9.9E37", Some(Number::Overflow)),
            ("+9.90000000E+37", Some(Number::Overflow)),
            ("9.99999E+37", Some(Number::Overflow)),
            ("1E400", Some(Number::Overflow)),
            ("-9.9E37", Some(Number::NegativeOverflow)),
            ("9.91E37", Some(Number::NotANumber)),
            ("9.910000E+037", Some(Number::NotANumber)),
            ("NAN", Some(Number::NotANumber)),
            ("nan", Some(Number::NotANumber)),
            ("INF", Some(Number::Overflow)),
            ("+INF", Some(Number::Overflow)),
            ("-INF", Some(Number::NegativeOverflow)),
            ("NINF", Some(Number::NegativeOverflow)),
            ("****", Some(Number::NotANumber)),
            ("---", Some(Number::NotANumber)),
            ("", Some(Number::NotANumber)),
            ("9.8E37", Some(Number::Finite(9.8e37))),
            ("-10.2 DBM", None),
            ("1.2.3", None),
            ("1 2", None),
            ("E", None),
            ("ON", None),
        ];
        for (text, expected) in table {
            assert_eq!(Number::parse(text.as_bytes()), *expected, "{text:?}");
        }
    }

    /// 9.9E37 and 9.91E37 rounded to 32 bits, as a REAL,32 trace carries them.
    #[test]
    fn marks_survive_thirty_two_bits() {
        assert_eq!(Number::from_wire(f64::from(9.9e37_f32)), Number::Overflow);
        assert_eq!(Number::from_wire(f64::from(-9.9e37_f32)), Number::NegativeOverflow);
        assert_eq!(Number::from_wire(f64::from(9.91e37_f32)), Number::NotANumber);
        assert_eq!(Number::from_wire(f64::NAN), Number::NotANumber);
    }

    /// NR3: IEEE 488.2 clause 8.7.4 (a point in the mantissa, a signed exponent).
    #[test]
    fn nr3_form() {
        for (value, text) in [
            (Number::Finite(1.5e9), "1.5E+09"),
            (Number::Finite(-2.0), "-2.0E+00"),
            (Number::Finite(1e-100), "1.0E-100"),
            (Number::NotANumber, "9.91E+37"),
            (Number::Overflow, "9.9E+37"),
        ] {
            assert_eq!(value.nr3(), text);
        }
    }

    /// Rounded half to even by hand, as IEEE 754 does it; the marks are never rounded into values.
    #[test]
    fn nr3_with_fewer_digits() {
        for (value, digits, text) in [
            (Number::Finite(-89.731), 3, "-8.97E+01"),
            (Number::Finite(-89.731), 1, "-9.0E+01"),
            (Number::Finite(1234.5), 7, "1.234500E+03"),
            (Number::Finite(0.0), 4, "0.000E+00"),
            (Number::NotANumber, 1, "9.91E+37"),
        ] {
            assert_eq!(value.nr3_rounded(digits), text);
        }
    }

    proptest! {
        #[test]
        fn nr3_reads_back(value in -9.8e37..9.8e37) {
            let number = Number::Finite(value);
            prop_assert_eq!(Number::parse(number.nr3().as_bytes()), Some(number));
        }

        /// The float parser of the standard library rounds correctly; the two must not differ in a bit.
        #[test]
        fn numbers_are_those_of_the_standard_library(
            text in "[-+]?[0-9]{0,12}(\\.[0-9]{0,12})?([eE][-+]?[0-9]{0,4})?", value in any::<f64>()
        ) {
            for text in [text, format!("{value:E}"), value.to_string(), format!("{value:.6E}")] {
                let standard = text.parse::<f64>().ok().filter(|_| text.contains(|c: char| c.is_ascii_digit()));
                if let Some(found) = plain(text.as_bytes()) {
                    prop_assert_eq!(Some(found.to_bits()), standard.map(f64::to_bits), "{}", text);
                }
                let mark = text.is_empty() || text == "-";
                let read = Number::parse(text.as_bytes());
                prop_assert!(mark || read == standard.map(Number::from_wire) || value.is_nan(), "{}: {:?}", text, read);
            }
        }

        #[test]
        fn parse_never_panics(bytes in prop::collection::vec(any::<u8>(), 0..40)) {
            let number = Number::parse(&bytes);
            prop_assert!(number.is_none_or(|n| n.finite().is_none_or(f64::is_finite)));
        }
    }
}
