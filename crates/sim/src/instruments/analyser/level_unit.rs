//! The units in which the analyser takes and gives levels.

use spurline_scpi::Quantity;

/// A unit of `UNIT:POWer`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum LevelUnit {
    Dbm,
    DbMillivolt,
    DbMicrovolt,
    Volt,
    Watt,
}

/// The units by name.
pub(super) const UNITS: [(&str, LevelUnit); 5] = [
    ("DBM", LevelUnit::Dbm),
    ("DBMV", LevelUnit::DbMillivolt),
    ("DBUV", LevelUnit::DbMicrovolt),
    ("V", LevelUnit::Volt),
    ("W", LevelUnit::Watt),
];

/// The input's impedance in ohms, across which a power is a voltage.
pub(super) const IMPEDANCE: f64 = 50.0;

impl LevelUnit {
    /// What a number in this unit measures.
    pub(super) const fn quantity(self) -> Quantity {
        match self {
            Self::Dbm => Quantity::Level,
            Self::DbMillivolt => Quantity::MillivoltLevel,
            Self::DbMicrovolt => Quantity::MicrovoltLevel,
            Self::Volt => Quantity::Voltage,
            Self::Watt => Quantity::Power,
        }
    }

    /// Whether equal steps are equal ratios.
    pub(super) const fn is_logarithmic(self) -> bool {
        matches!(self, Self::Dbm | Self::DbMillivolt | Self::DbMicrovolt)
    }

    /// A level in this unit.
    pub(super) fn of_dbm(self, dbm: f64) -> f64 {
        let watts = || 10f64.powf(dbm / 10.0) / 1000.0;
        match self {
            Self::Dbm => dbm,
            Self::DbMillivolt => dbm + above_dbm(1e-3),
            Self::DbMicrovolt => dbm + above_dbm(1e-6),
            Self::Volt => (watts() * IMPEDANCE).sqrt(),
            Self::Watt => watts(),
        }
    }

    /// The level in dBm; minus infinity for what has none.
    pub(super) fn in_dbm(self, value: f64) -> f64 {
        let of_watts = |watts: f64| 10.0 * (watts.max(0.0) * 1000.0).log10();
        match self {
            Self::Dbm => value,
            Self::DbMillivolt => value - above_dbm(1e-3),
            Self::DbMicrovolt => value - above_dbm(1e-6),
            Self::Volt => of_watts(value.max(0.0).powi(2) / IMPEDANCE),
            Self::Watt => of_watts(value),
        }
    }
}

/// How many decibels above `volts` the voltage of 0 dBm is.
fn above_dbm(volts: f64) -> f64 {
    10.0 * (1e-3 * IMPEDANCE / (volts * volts)).log10()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// numpy 2.4.6 at 50 ohms: 0 dBm is 46.98970004336019 dBmV, 106.98970004336019 dBuV and 0.22360679774997896 V;
    /// -30 dBm is 1 uW.
    #[test]
    fn known_levels() {
        for (unit, dbm, value) in [
            (LevelUnit::Dbm, -12.34, -12.34),
            (LevelUnit::DbMillivolt, 0.0, 46.989_700_043_360_19),
            (LevelUnit::DbMicrovolt, 0.0, 106.989_700_043_360_19),
            (LevelUnit::Volt, 0.0, 0.223_606_797_749_978_96),
            (LevelUnit::Watt, -30.0, 1e-6),
        ] {
            assert!((unit.of_dbm(dbm) / value - 1.0).abs() < 1e-12, "{unit:?}");
            assert!((unit.in_dbm(value) - dbm).abs() < 1e-9, "{unit:?}");
        }
        assert_eq!(LevelUnit::Watt.in_dbm(-1.0), f64::NEG_INFINITY);
        assert_eq!(LevelUnit::Volt.in_dbm(-1.0), f64::NEG_INFINITY);
    }
}
