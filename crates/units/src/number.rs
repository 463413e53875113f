//! The decimal number of a quantity: where it ends, what it is worth, how it is printed.

/// The minus of typeset text says the same as the hyphen of a keyboard.
pub(crate) const MINUS: char = '\u{2212}';

/// Parts a text into its number and what stands behind it, without the blanks between.
pub(crate) fn split(text: &str) -> (&str, &str) {
    let is_sign = |c: char| matches!(c, '+' | '-' | MINUS);
    let end = text
        .char_indices()
        .find(|&(at, c)| {
            let exponent = matches!(c, 'e' | 'E')
                && text[at + 1..].starts_with(|next: char| next.is_ascii_digit() || is_sign(next));
            !(c.is_ascii_digit() || c == '.' || is_sign(c) || exponent)
        })
        .map_or(text.len(), |(at, _)| at);
    (&text[..end], text[end..].trim_start())
}

/// A decimal number as it was written.
pub(crate) struct Decimal {
    text: String,
    value: f64,
}

impl Decimal {
    pub(crate) fn read(text: &str) -> Option<Self> {
        let text = text.replace(MINUS, "-");
        let value = text.parse().ok()?;
        Some(Self { text, value })
    }

    /// The number times the factor of its unit.
    ///
    /// A decimal prefix moves the point in the text, so that the value is rounded once: `1.1 GHz` and `1100 MHz`
    /// are the same number.
    pub(crate) fn times(&self, factor: f64) -> f64 {
        self.shifted(factor).unwrap_or(self.value * factor)
    }

    fn shifted(&self, factor: f64) -> Option<f64> {
        let prefix: i64 = format!("{factor:e}").strip_prefix("1e")?.parse().ok()?;
        let (digits, exponent) = self.text.split_once(['e', 'E']).unwrap_or((&self.text, "0"));
        let exponent = exponent.parse::<i64>().ok()?.checked_add(prefix)?;
        format!("{digits}e{exponent}").parse().ok()
    }
}

/// Prints with this many digits behind the point; what rounds to zero has no sign.
pub(crate) fn fixed(value: f64, digits: usize) -> String {
    let text = format!("{value:.digits$}");
    match text.strip_prefix('-') {
        Some(zero) if zero.bytes().all(|b| matches!(b, b'0' | b'.')) => zero.to_owned(),
        Some(_) | None => text,
    }
}

/// Prints with up to 9 digits behind the point, without trailing zeros.
pub(crate) fn short(value: f64) -> String {
    fixed(value, 9).trim_end_matches('0').trim_end_matches('.').to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_number_ends_where_its_unit_begins() {
        for (text, parts) in [
            ("145.5 MHz", ("145.5", "MHz")),
            ("1e3Hz", ("1e3", "Hz")),
            ("1e\u{2212}3\u{a0}Hz", ("1e\u{2212}3", "Hz")),
            ("5 E", ("5", "E")),
            ("5e", ("5", "e")),
            ("MHz", ("", "MHz")),
            ("", ("", "")),
        ] {
            assert_eq!(split(text), parts, "{text}");
        }
    }

    /// 1.005 * 1e9 in binary arithmetic is 1004999999.9999999 (numpy 2.4.6): a prefix must not cost that.
    #[test]
    fn a_prefix_does_not_round_again() {
        assert_eq!(Decimal::read("1.005").unwrap().times(1e9), 1_005_000_000.0);
        assert_eq!(Decimal::read("\u{2212}2.5e-3").unwrap().times(1e-3), -2.5e-6);
        assert_eq!(Decimal::read("1.5").unwrap().times(60.0), 90.0);
        assert_eq!(Decimal::read("1e99999999999999999999").unwrap().times(1e3), f64::INFINITY);
        assert_eq!(Decimal::read("1e9223372036854775807").unwrap().times(1e3), f64::INFINITY);
        assert_eq!(Decimal::read("1e-99999999999999999999").unwrap().times(1e3), 0.0);
    }

    #[test]
    fn nothing_has_no_sign() {
        assert_eq!((fixed(-0.001, 2), fixed(-0.01, 2)), ("0.00".to_owned(), "-0.01".to_owned()));
        assert_eq!((short(-1e-12), short(-1.5), short(1000.0)), ("0".into(), "-1.5".into(), "1000".into()));
    }
}
