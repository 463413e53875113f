//! What the keyed unit radiates into the analyser's cable: the same lines once more, past the path.

use std::collections::BTreeMap;

use spurline_units::{Hertz, Watts};

use super::unit::{Emission, Ray, Unit};
use crate::bench::LeakTruth;
use crate::draw::Seed;

/// The leak of a bench.
#[derive(Clone, Debug)]
pub(super) struct Leak {
    truth: LeakTruth,
    seed: Seed,
}

impl Leak {
    pub(super) fn new(truth: LeakTruth, seed: Seed) -> Self {
        Self { truth, seed }
    }

    /// Adds it to what came by the path: the same oscillation twice, so that voltages add, at an angle that stays.
    pub(super) fn add(&self, arrived: Vec<Ray>, unit: &Unit, emission: Emission) -> Vec<Ray> {
        let mut places = BTreeMap::new();
        for (place, ray) in arrived.iter().enumerate() {
            places.insert((ray.group, ray.place), place);
        }
        let mut sum = arrived;
        let harmonics = self.harmonics(unit, emission);
        for ray in unit.rays(emission, &harmonics) {
            let power = ray.power * (-self.truth.below).power_ratio();
            match places.get(&(ray.group, ray.place)) {
                None => sum.push(Ray { power, ..ray }),
                Some(place) => {
                    let there = &mut sum[*place];
                    let (one, other) = (there.power.get().sqrt(), power.get().sqrt());
                    let angle = self.angle(ray.group, emission.setting.carrier);
                    let both = one * one + other * other + 2.0 * one * other * angle.cos();
                    there.power = Watts::new(both.max(0.0));
                }
            }
        }
        sum
    }

    fn harmonics(&self, unit: &Unit, emission: Emission) -> Vec<(u32, spurline_units::Db)> {
        let mut orders = unit.harmonics(emission.setting);
        for (order, below) in &self.truth.harmonics {
            match orders.iter_mut().find(|(known, _)| known == order) {
                Some((_, known)) => *known = *below,
                None => orders.push((*order, *below)),
            }
        }
        orders
    }

    /// Another one at every carrier: both ways have many wavelengths.
    fn angle(&self, group: u32, carrier: Hertz) -> f64 {
        self.seed.angle(&format!("leak {group}"), (carrier.get() / 1e3).round() as u64)
    }
}
