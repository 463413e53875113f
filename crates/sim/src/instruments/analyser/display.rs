//! How a trace is shown: unit, number format, byte order.

use spurline_scpi::{ByteOrder, Element, Number, Unit};
use spurline_units::Watts;

/// The unit of levels on the wire.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum LevelUnit {
    Dbm,
    DbMicrovolt,
    Watt,
}

/// The format of a trace on the wire.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Format {
    Ascii,
    Real32,
}

/// How levels and traces go over the wire.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Display {
    pub(super) unit: LevelUnit,
    pub(super) format: Format,
    pub(super) order: ByteOrder,
}

/// 0 dBm at 50 ohm in dB over a microvolt: 10 log10(1 mW · 50 ohm / 1 pV²).
const DBM_TO_DBUV: f64 = 106.989_700_043_360_2;

impl Default for Display {
    fn default() -> Self {
        Self { unit: LevelUnit::Dbm, format: Format::Ascii, order: ByteOrder::Big }
    }
}

impl Display {
    /// A power as it is shown: levels to a hundredth of a decibel.
    pub(super) fn level(&self, power: Watts) -> f64 {
        let dbm = Watts::new(power.get().max(f64::MIN_POSITIVE)).to_dbm().get();
        let hundredths = |level: f64| (level * 100.0).round() / 100.0;
        match self.unit {
            LevelUnit::Dbm => hundredths(dbm),
            LevelUnit::DbMicrovolt => hundredths(dbm + DBM_TO_DBUV),
            LevelUnit::Watt => power.get(),
        }
    }

    /// One level as an answer.
    pub(super) fn one(&self, power: Watts) -> Unit {
        self.element(power).into()
    }

    /// A whole trace as an answer.
    pub(super) fn trace(&self, powers: &[Watts]) -> Unit {
        match self.format {
            Format::Ascii => Unit { elements: powers.iter().map(|power| self.element(*power)).collect() },
            Format::Real32 => {
                let values: Vec<f32> = powers.iter().map(|power| self.level(*power) as f32).collect();
                Element::from_f32s(&values, self.order).into()
            }
        }
    }

    fn element(&self, power: Watts) -> Element {
        let value = self.level(power);
        match self.unit {
            LevelUnit::Dbm | LevelUnit::DbMicrovolt => Element::from_word(&format!("{value:.2}")),
            LevelUnit::Watt => Element::from_number(Number::Finite(value)),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// numpy 2.4.6: -107 dBm in 50 ohm is 0.99881 µV, which is -0.01 dB over a microvolt.
    #[test]
    fn levels_are_rounded_to_hundredths() {
        let display = |unit| Display { unit, ..Display::default() };
        let power = Watts::new(10f64.powf(-13.7));
        assert_eq!(display(LevelUnit::Dbm).level(power), -107.0);
        assert_eq!(display(LevelUnit::DbMicrovolt).level(power), -0.01);
        assert_eq!(display(LevelUnit::Dbm).level(Watts::new(0.001_234)), 0.91);
    }
}
