//! What a part makes of a carrier by itself: a limiter, a diode sensor, a switch, the core of a filter.
//!
//! It lies ahead of the analyser's attenuator, so that no step of that attenuator tells it from the transmitter's own.

use spurline_units::{Db, Dbm, Hertz};

use crate::cascade::{Path, PathError};

/// How much a part distorts.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Distortion {
    /// It does, and nobody says how little.
    Unknown,
    /// No more than by these intercepts, referred to its input: guaranteed, or measured on it.
    AtMost(Intercepts),
}

/// Intercepts of the second and the third order.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Intercepts {
    /// Of the second harmonic of a single tone.
    pub second: Dbm,
    /// Of two tones.
    pub third: Dbm,
}

impl Intercepts {
    /// The most that is made at a harmonic of a single tone of `level`, where the intercepts are referred to.
    ///
    /// Second order: 2P - SHI. Third harmonic of a single tone: 20 log10(3) below the two-tone product 3P - 2 TOI of
    /// a plain cubic. No figure is published for higher orders; each is weaker than the one before and falls faster with
    /// the level (common practice), so that none makes more than the third.
    #[must_use]
    pub fn product(&self, order: u32, level: Dbm) -> Dbm {
        if order == 2 {
            level + (level - self.second)
        } else {
            self.third_order(level, level) - Db::new(20.0 * 3f64.log10())
        }
    }

    /// The most that is made at the sum and at the difference of two tones: P1 + P2 - SHI, and twice the voltage of the
    /// second harmonic of one of them.
    #[must_use]
    pub fn second_order(&self, one: Dbm, other: Dbm) -> Dbm {
        one + (other - self.second) + Db::new(20.0 * 2f64.log10())
    }

    /// The most that is made of two tones where the one counts twice: 2 P1 + P2 - 2 TOI.
    #[must_use]
    pub fn third_order(&self, twice: Dbm, once: Dbm) -> Dbm {
        once + (twice - self.third) * 2.0
    }
}

/// What the parts of a path make together at a harmonic, referred to the transmitter's connector.
#[derive(Clone, Debug, PartialEq)]
pub enum Distorted {
    /// Nothing that would have been stated.
    Not,
    /// At most this, all parts' voltages added.
    AtMost(Dbm),
    /// Nobody says how little these parts make.
    Unknown(Vec<String>),
}

impl Path {
    /// What its parts make of a carrier of `level` at the transmitter's connector, at a harmonic of it.
    ///
    /// # Errors
    ///
    /// If a part does not cover the carrier or the harmonic.
    pub fn distorted(&self, carrier: Hertz, level: Dbm, order: u32) -> Result<Distorted, PathError> {
        if self.parts.iter().all(|part| part.distorts.is_none()) {
            return Ok(Distorted::Not);
        }
        let at_carrier = self.loss_at(carrier)?.parts;
        let at_harmonic = self.loss_at(carrier.harmonic(order))?.parts;
        let (mut before, mut back) = (Db::new(0.0), Db::new(0.0));
        let (mut unknown, mut voltage) = (Vec::new(), 0.0);
        for ((part, loss), loss_back) in self.parts.iter().zip(at_carrier).zip(at_harmonic) {
            match part.distorts.as_ref().map(|stated| stated.value) {
                None => {}
                Some(Distortion::Unknown) => unknown.push(part.name.clone()),
                Some(Distortion::AtMost(intercepts)) => {
                    let at_connector = intercepts.product(order, level - before) + back;
                    voltage += (at_connector - Dbm::new(0.0)).amplitude_ratio();
                }
            }
            before += loss.loss;
            back += loss_back.loss;
        }
        if unknown.is_empty() {
            return Ok(Distorted::AtMost(Dbm::new(20.0 * voltage.log10())));
        }
        Ok(Distorted::Unknown(unknown))
    }
}

#[cfg(test)]
mod tests {
    use spurline_units::Range;

    use super::*;
    use crate::part::{Loss, Part, Stated};

    fn pad(name: &str, loss: f64, distorts: Option<Distortion>) -> Part {
        let over = Range::new(Hertz::from_mhz(1.0), Hertz::from_mhz(3000.0)).unwrap();
        Part {
            name: name.to_owned(),
            loss: Stated::new(Loss::Flat { loss: Db::new(loss), over }, "test"),
            uncertainty: Stated::new(Db::new(0.1), "test"),
            rated: None,
            vswr: None,
            calibration: None,
            time_constant: None,
            distorts: distorts.map(|distorts| Stated::new(distorts, "test")),
        }
    }

    fn level(found: Distorted) -> f64 {
        match found {
            Distorted::AtMost(level) => level.get(),
            other => panic!("{other:?}"),
        }
    }

    /// 2P - SHI and 3P - 2 TOI are the defining formulas of the intercepts; 37 dBm less 30 dB of pad are 7 dBm at the
    /// part: 14 - 53 = -39 dBm there, -9 dBm at the connector.
    #[test]
    fn a_product_is_counted_back_to_the_connector() {
        let intercepts = Intercepts { second: Dbm::new(53.0), third: Dbm::new(30.0) };
        let limiter = pad("limiter", 0.5, Some(Distortion::AtMost(intercepts)));
        let path = Path { parts: vec![pad("pad", 30.0, None), limiter.clone()] };
        let at = |order| level(path.distorted(Hertz::from_mhz(145.0), Dbm::new(37.0), order).unwrap());
        assert!((at(2) - -9.0).abs() < 1e-9);
        assert!((at(3) - (21.0 - 60.0 - 9.542_425 + 30.0)).abs() < 1e-6);
        assert_eq!(at(4), at(3));
        // Two alike, the second behind 0.5 dB: 3 x 0.5 dB less for the pair is as voltages 1 + 10^(-0.5 / 20).
        let two = Path { parts: vec![pad("pad", 30.0, None), limiter.clone(), limiter] };
        let sum = level(two.distorted(Hertz::from_mhz(145.0), Dbm::new(37.0), 2).unwrap());
        assert!((sum - (-9.0 + 20.0 * (1.0 + 10f64.powf(-0.5 / 20.0)).log10())).abs() < 1e-9, "{sum}");
    }

    #[test]
    fn what_nobody_states_is_unknown() {
        let parts = vec![pad("pad", 30.0, None), pad("limiter", 0.5, Some(Distortion::Unknown))];
        let found = Path { parts }.distorted(Hertz::from_mhz(145.0), Dbm::new(37.0), 2).unwrap();
        assert_eq!(found, Distorted::Unknown(vec!["limiter".to_owned()]));
        let plain = Path { parts: vec![pad("pad", 30.0, None)] };
        assert_eq!(plain.distorted(Hertz::from_mhz(145.0), Dbm::new(37.0), 2).unwrap(), Distorted::Not);
    }
}
