//! The unit under test: what leaves its connector in each state.

use std::f64::consts::FRAC_PI_2;
use std::time::Duration;

use num_complex::Complex64;
use spurline_units::{Hertz, Watts};

use crate::bench::UnitTruth;
use crate::draw::Seed;
use crate::physics::detector::Line;
use crate::physics::reflection::Reflection;

/// A unit with its truth and its output's match.
#[derive(Debug)]
pub(crate) struct Unit {
    pub(crate) truth: UnitTruth,
    match_at_carrier: Reflection,
    match_elsewhere: Reflection,
}

/// How the unit is set.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Setting {
    pub(crate) carrier: Hertz,
    /// Place of the power setting in the unit's list.
    pub(crate) power: usize,
}

/// What a transmitting unit does.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Emission {
    pub(crate) setting: Setting,
    /// Share of full power, from 0 right after key down to 1.
    pub(crate) share: f64,
}

impl Emission {
    /// The same emission once the power has risen to its full value.
    pub(crate) fn at_full_power(self) -> Self {
        Self { share: 1.0, ..self }
    }
}

impl Unit {
    pub(crate) fn new(truth: UnitTruth, seed: Seed) -> Self {
        let serial = &truth.identity.serial;
        let match_at_carrier = Reflection::draw(seed, &format!("unit {serial} carrier"), truth.vswr);
        let match_elsewhere =
            Reflection::draw(seed, &format!("unit {serial} elsewhere"), truth.vswr_off_carrier);
        Self { truth, match_at_carrier, match_elsewhere }
    }

    /// As it comes up when it is switched on.
    pub(crate) fn initial_setting(&self) -> Setting {
        Setting { carrier: self.truth.range.low(), power: 0 }
    }

    /// The mean power of a setting.
    pub(crate) fn power(&self, setting: usize) -> Watts {
        self.truth.powers[setting].1.watts()
    }

    /// The highest power of all settings.
    pub(crate) fn highest_power(&self) -> Watts {
        (0..self.truth.powers.len()).map(|i| self.power(i)).fold(self.power(0), Watts::max)
    }

    /// The share of full power that is reached some time after key down.
    pub(crate) fn share(&self, since: Duration) -> f64 {
        let rise = self.truth.rise.get();
        let part = if rise > 0.0 { (since.as_secs_f64() / rise).min(1.0) } else { 1.0 };
        (FRAC_PI_2 * part).sin().powi(2)
    }

    /// The lines at the connector into a matched load.
    pub(crate) fn lines(&self, emission: Emission) -> Vec<Line> {
        let Setting { carrier, power } = emission.setting;
        let name = &self.truth.powers[power].0;
        let full = self.power(power) * emission.share;
        let harmonics = self.truth.harmonics(carrier, name).into_iter().map(|(order, below)| Line {
            frequency: carrier.harmonic(order),
            power: full * (-below).power_ratio(),
        });
        std::iter::once(Line { frequency: carrier, power: full }).chain(harmonics).collect()
    }

    /// The reflection that looks out of the connector.
    pub(crate) fn source(&self, frequency: Hertz, is_carrier: bool) -> Complex64 {
        if is_carrier { self.match_at_carrier.at(frequency) } else { self.match_elsewhere.at(frequency) }
    }
}
