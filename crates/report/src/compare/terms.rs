//! What a comparison is asked.

use spurline_judge::{Pooled, Random};
use spurline_units::Db;

/// What connectors that were made anew repeat within, unless somebody says: the standard deviation of good ones.
/// Common practice.
pub(super) const ASSUMED_RECONNECTION_DB: f64 = 0.05;
/// The same of a day to another: temperature, drift.
pub(super) const ASSUMED_DAY_DB: f64 = 0.05;
/// An assumption is worth so many degrees of freedom: it may be wrong by a quarter (JCGM 100, G.4.2).
pub(super) const ASSUMED_FREEDOM: f64 = 8.0;
/// Runs that began within so many hours are of one day.
pub(super) const ONE_DAY_HOURS: f64 = 8.0;

/// What a comparison is asked.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Terms {
    /// The standard deviation of what connectors repeat within, if somebody states it.
    pub reconnection: Option<Db>,
    /// The same of a day to another.
    pub day: Option<Db>,
    /// The smallest change towards the limit that matters; any real one if nobody says.
    pub worse: Option<Db>,
    /// Whether the runs may be of different units.
    pub across_units: bool,
    /// The risk of one false alarm in the whole comparison.
    pub risk: f64,
    /// The chance with which a shift of the smallest detectable size is seen.
    pub power: f64,
}

impl Default for Terms {
    /// A risk of 5 %; a power of 92 %, so that the 90 % that are promised are kept though the scatter is an estimate.
    fn default() -> Self {
        Self { reconnection: None, day: None, worse: None, across_units: false, risk: 0.05, power: 0.92 }
    }
}

impl Terms {
    /// What is stated or assumed of one run against another, connectors and day.
    pub(super) fn stated(&self, other_day: bool) -> Vec<Pooled> {
        let one = |stated: Option<Db>, assumed| Pooled {
            deviation: stated.map_or(assumed, Db::get),
            freedom: if stated.is_some() { f64::INFINITY } else { ASSUMED_FREEDOM },
        };
        let reconnection = one(self.reconnection, ASSUMED_RECONNECTION_DB);
        let day = one(self.day, ASSUMED_DAY_DB);
        if other_day { vec![reconnection, day] } else { vec![reconnection] }
    }

    /// The same as one.
    pub(super) fn stated_as_one(&self, other_day: bool) -> Pooled {
        let parts: Vec<Random> =
            self.stated(other_day).iter().map(|one| Random::of(one.deviation, one.freedom)).collect();
        let Random { variance, freedom } = Random::combined(&parts);
        Pooled { deviation: variance.sqrt(), freedom }
    }

    /// Whether anything of it is assumed rather than stated.
    pub(super) fn assumes(&self, other_day: bool) -> bool {
        self.reconnection.is_none() || (other_day && self.day.is_none())
    }
}
