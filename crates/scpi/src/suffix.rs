//! Unit suffixes of decimal parameters and their multipliers.
//!
//! Only the instrument's side needs them: the client sends bare numbers.

use crate::ErrorCode;

/// What a numeric parameter measures: decides which suffixes it may carry. The base unit is what a bare number means.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Quantity {
    /// A count or another number without unit: any suffix is -138.
    Plain,
    /// Base `HZ`.
    Frequency,
    /// Base `S`.
    Time,
    /// Base `DB`.
    Ratio,
    /// Base `DBM`.
    Level,
    /// Base `DBUV`: decibels above a microvolt.
    MicrovoltLevel,
    /// Base `DBMV`: decibels above a millivolt.
    MillivoltLevel,
    /// Base `V`.
    Voltage,
    /// Base `A`.
    Current,
    /// Base `W`.
    Power,
    /// Base `OHM`.
    Resistance,
    /// Base `PCT`.
    Percent,
}

impl Quantity {
    /// The power of ten that `suffix` stands for.
    pub(crate) fn exponent(self, suffix: &str) -> Result<i32, ErrorCode> {
        let (unit, multiplied) = match self {
            Self::Plain => return Err(ErrorCode::SUFFIX_NOT_ALLOWED),
            Self::Frequency => ("HZ", true),
            Self::Time => ("S", true),
            Self::Ratio => ("DB", false),
            Self::Level => ("DBM", false),
            Self::MicrovoltLevel => ("DBUV", false),
            Self::MillivoltLevel => ("DBMV", false),
            Self::Voltage => ("V", true),
            Self::Current => ("A", true),
            Self::Power => ("W", true),
            Self::Resistance => ("OHM", true),
            Self::Percent => ("PCT", false),
        };
        let suffix = suffix.to_ascii_uppercase();
        let multiplier = suffix.strip_suffix(unit).ok_or(ErrorCode::INVALID_SUFFIX)?;
        if multiplier.is_empty() {
            return Ok(0);
        }
        // With hertz and ohm, `M` is mega: there is no way to write a millihertz.
        let mega = matches!(self, Self::Frequency | Self::Resistance) && multiplier == "M";
        MULTIPLIERS
            .iter()
            .find(|(name, _)| multiplied && *name == if mega { "MA" } else { multiplier })
            .map(|(_, exponent)| *exponent)
            .ok_or(ErrorCode::INVALID_SUFFIX)
    }
}

/// IEEE 488.2 clause 7.7.3, table 7-2.
const MULTIPLIERS: [(&str, i32); 12] = [
    ("EX", 18),
    ("PE", 15),
    ("T", 12),
    ("G", 9),
    ("MA", 6),
    ("K", 3),
    ("M", -3),
    ("U", -6),
    ("N", -9),
    ("P", -12),
    ("F", -15),
    ("A", -18),
];

#[cfg(test)]
mod tests {
    use super::*;

    /// Multipliers: IEEE 488.2 clause 7.7.3, table 7-2, from memory, `MHZ` and `MOHM` being its stated exceptions.
    #[test]
    fn suffixes() {
        let bad = Err(ErrorCode::INVALID_SUFFIX);
        for (quantity, suffix, expected) in [
            (Quantity::Frequency, "HZ", Ok(0)),
            (Quantity::Frequency, "khz", Ok(3)),
            (Quantity::Frequency, "MHZ", Ok(6)),
            (Quantity::Frequency, "mHz", Ok(6)),
            (Quantity::Frequency, "MAHZ", Ok(6)),
            (Quantity::Frequency, "GHZ", Ok(9)),
            (Quantity::Frequency, "S", bad),
            (Quantity::Frequency, "QHZ", bad),
            (Quantity::Time, "S", Ok(0)),
            (Quantity::Time, "MS", Ok(-3)),
            (Quantity::Time, "US", Ok(-6)),
            (Quantity::Time, "AS", Ok(-18)),
            (Quantity::Ratio, "DB", Ok(0)),
            (Quantity::Ratio, "KDB", bad),
            (Quantity::Ratio, "DBM", bad),
            (Quantity::Level, "DBM", Ok(0)),
            (Quantity::Level, "DBUV", bad),
            (Quantity::MicrovoltLevel, "DBUV", Ok(0)),
            (Quantity::MillivoltLevel, "dbmv", Ok(0)),
            (Quantity::Percent, "PCT", Ok(0)),
            (Quantity::Percent, "KPCT", bad),
            (Quantity::Voltage, "V", Ok(0)),
            (Quantity::Voltage, "UV", Ok(-6)),
            (Quantity::Resistance, "OHM", Ok(0)),
            (Quantity::Voltage, "MV", Ok(-3)),
            (Quantity::Current, "MA", Ok(-3)),
            (Quantity::Current, "A", Ok(0)),
            (Quantity::Power, "MAW", Ok(6)),
            (Quantity::Resistance, "MOHM", Ok(6)),
            (Quantity::Plain, "HZ", Err(ErrorCode::SUFFIX_NOT_ALLOWED)),
        ] {
            assert_eq!(quantity.exponent(suffix), expected, "{quantity:?} {suffix}");
        }
    }
}
