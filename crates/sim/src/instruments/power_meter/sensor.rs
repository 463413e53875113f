//! The sensor: mean power with a thermal lag, a slope over frequency, noise and an offset.

use std::sync::Arc;

use rand::RngExt;
use rand_distr::StandardNormal;
use spurline_clock::Moment;
use spurline_units::{Db, Dbm, Hertz, Seconds, Watts};

use crate::bench::PowerMeterTruth;
use crate::draw::{Draws, Seed};
use crate::drawn::SmoothError;
use crate::instruments::fidelity::Fidelity;
use crate::world::{Contacts, Emission, Port, World};

/// A sensor with its errors drawn.
#[derive(Debug)]
pub(super) struct Sensor {
    truth: PowerMeterTruth,
    world: Arc<World>,
    level_error: Db,
    /// What its table of calibration factors has wrong.
    factor_error: SmoothError,
    linearity: Option<Fidelity>,
    /// What is shown without any power, in watts, and since when.
    offset: f64,
    zeroed: Moment,
    readings: u64,
    zeroings: u64,
    /// The last emission that was looked at, and what it gives at full power.
    seen: Option<((Option<Emission>, Contacts), f64)>,
}

/// A sensor that was never zeroed is off by this many times what a zeroing leaves.
const NEVER_ZEROED: f64 = 5.0;
/// Where the scale ends.
const TOP_OF_SCALE: Dbm = Dbm::new(20.0);
/// The lag is followed for this many time constants, in this many steps each.
const CONSTANTS: u32 = 8;
/// A conversion of what comes and goes is looked at in so many parts.
const PARTS: u32 = 8;
const STEPS: u32 = 8;

impl Sensor {
    pub(super) fn new(truth: PowerMeterTruth, seed: Seed, world: Arc<World>) -> Self {
        let drawn = || truth.level.at(seed.normal("power meter level"));
        let level_error = truth.level_error.unwrap_or_else(drawn);
        let factor_error = SmoothError::draw(seed, "power meter factor", truth.calibration_factor);
        let linearity = truth.linearity.map(|stated| Fidelity::draw(seed, "power meter linearity", stated));
        let offset = NEVER_ZEROED * truth.zero.get() * seed.normal("power meter offset");
        let zeroed = world.started();
        Self {
            truth,
            world,
            level_error,
            factor_error,
            linearity,
            offset,
            zeroed,
            readings: 0,
            zeroings: 0,
            seen: None,
        }
    }

    pub(super) fn settling(&self) -> Seconds {
        self.truth.settling
    }

    /// The mean of several conversions that end at `end`, in watts, corrected for `frequency`.
    pub(super) fn read(&mut self, end: Moment, conversions: u32, spacing: Seconds, frequency: Hertz) -> f64 {
        // A conversion is a mean over its time; of what goes evenly its end says the same.
        let parts = if self.world.comes_and_goes() { PARTS } else { 1 };
        let looks = conversions * parts;
        let apart = spacing / f64::from(parts);
        let true_mean =
            (0..looks).map(|i| self.lagged(end, apart * f64::from(i))).sum::<f64>() / f64::from(looks);
        let mut draws = self.draws("noise", self.readings);
        self.readings += 1;
        let noise =
            self.truth.noise.get() * draws.sample::<f64, _>(StandardNormal) / f64::from(conversions).sqrt();
        let corrected = true_mean * self.factor(frequency).power_ratio();
        let corrected = corrected * self.on_scale(corrected).power_ratio();
        corrected * self.level_error.power_ratio() + noise + self.offset + self.drift(end)
    }

    /// Takes what is there at `end` for zero: right only while no power comes in.
    pub(super) fn zero(&mut self, end: Moment, frequency: Hertz) {
        let present =
            self.lagged(end, Seconds::new(0.0)) * (self.factor(frequency) + self.level_error).power_ratio();
        let left = self.draws("zero", self.zeroings).sample::<f64, _>(StandardNormal);
        self.zeroings += 1;
        self.offset = self.truth.zero.get() * left - present;
        self.zeroed = end;
    }

    /// What its scale has wrong at a power.
    fn on_scale(&self, power: f64) -> Db {
        let error = |linearity: &Fidelity| linearity.at(TOP_OF_SCALE - Watts::new(power).to_dbm());
        self.linearity.as_ref().filter(|_| power > 0.0).map_or_else(Db::default, error)
    }

    /// How far the zero has moved since: evenly, another way after each zeroing.
    fn drift(&self, at: Moment) -> f64 {
        let hourly = self.truth.zero_drift.get();
        if hourly == 0.0 {
            return 0.0;
        }
        let hours = at.since(self.zeroed).as_secs_f64() / 3600.0;
        hourly * hours * self.draws("zero drift", self.zeroings).sample::<f64, _>(StandardNormal)
    }

    fn draws(&self, purpose: &str, count: u64) -> Draws {
        self.world.of_visit().stream(&format!("power meter {purpose}"), count)
    }

    /// What the sensor loses at a frequency.
    fn slope(&self, frequency: Hertz) -> Db {
        self.truth.slope * (frequency.get() / 1e9)
    }

    /// What the meter makes good once it is told the frequency: what the sensor loses there, as its table has it.
    fn factor(&self, frequency: Hertz) -> Db {
        self.slope(frequency) + self.factor_error.at(frequency)
    }

    /// The sensor's state `age` before `end`: past power, weighted by a lag that leaves 1 % after the settling time.
    fn lagged(&mut self, end: Moment, age: Seconds) -> f64 {
        let constant = self.truth.settling.get() / 100f64.ln();
        if constant <= 0.0 {
            return self.power(end, age);
        }
        let step = 1.0 / f64::from(STEPS);
        let mut sum = 0.0;
        let mut weights = 0.0;
        for i in 0..CONSTANTS * STEPS {
            let constants = (f64::from(i) + 0.5) * step;
            let weight = (-constants).exp();
            sum += weight * self.power(end, age + Seconds::new(constants * constant));
            weights += weight;
        }
        sum / weights
    }

    /// The power that the sensor turned into heat `age` before `end`.
    fn power(&mut self, end: Moment, age: Seconds) -> f64 {
        let Some(at) = end.before(age.duration()) else { return 0.0 };
        let emission = self.world.emission(at);
        let state = (emission.map(|emission| emission.at_full_power()), self.world.contacts(at));
        let full = match self.seen {
            Some((seen, full)) if seen == state => full,
            _ => {
                let lines = self.world.lines(Port::PowerMeter, state.0, state.1);
                let full = lines
                    .iter()
                    .filter(|line| self.truth.range.contains(line.frequency))
                    .map(|line| line.power.get() * (-self.slope(line.frequency)).power_ratio())
                    .sum();
                self.seen = Some((state, full));
                full
            }
        };
        full * emission.map_or(1.0, |emission| emission.share)
    }
}

#[cfg(test)]
mod tests;
