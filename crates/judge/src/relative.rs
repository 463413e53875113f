//! Small shares of power or voltage as decibels, for certificates that state per cent.

use std::f64::consts::LN_10;

use spurline_units::{Db, Ratio};

/// An uncertainty stated as a share of the power, in dB: linearised about no deviation, 23.03 % to the dB.
#[must_use]
pub fn share_of_power(share: Ratio) -> Db {
    Db::new(share.get() * 10.0 / LN_10)
}

/// An uncertainty stated as a share of the voltage, in dB: linearised about no deviation, 11.51 % to the dB.
#[must_use]
pub fn share_of_voltage(share: Ratio) -> Db {
    Db::new(share.get() * 20.0 / LN_10)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// ln(10)/10 and ln(10)/20 by numpy 2.4.6; ETSI TR 100 028 rounds them to 23.0 % and 11.5 %.
    #[test]
    fn one_db_in_per_cent() {
        assert!((share_of_power(Ratio::new(0.230_259)).get() - 1.0).abs() < 1e-5);
        assert!((share_of_voltage(Ratio::new(0.115_129)).get() - 1.0).abs() < 1e-5);
    }
}
