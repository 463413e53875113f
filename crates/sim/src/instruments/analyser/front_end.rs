//! From the lines at the input to what the filter meets: attenuator, mixer with its own products, errors.

use std::sync::Arc;

use spurline_clock::Moment;
use spurline_units::{Db, Dbm, Hertz, Range, Watts};

use super::settings::Settings;
use crate::bench::{AnalyserTruth, Identity};
use crate::draw::{Draws, Seed};
use crate::physics::detector::{Detection, Line, Looking};
use crate::physics::filter::Filter;
use crate::physics::mixer::Mixer;
use crate::physics::response::Response;
use crate::world::{Contacts, Emission, Port, World};

/// What is between the connector and the trace.
#[derive(Debug)]
pub(super) struct FrontEnd {
    truth: AnalyserTruth,
    seed: Seed,
    world: Arc<World>,
    response: Response,
    level_error: Db,
    /// Up to when the input was watched for damage.
    watched: Option<Moment>,
    sweeps: u64,
    /// That of the last sweep: the next one is often like it.
    detection: Option<Arc<Detection>>,
}

/// What reaches the detector while the unit's emission stays the same.
pub(super) struct Scene {
    pub(super) lines: Vec<Line>,
    pub(super) overload: bool,
}

/// The response is flat by definition here.
const RESPONSE_REFERENCE: f64 = 50e6;
const PREAMPLIFIER_GAIN: f64 = 20.0;
/// The preamplifier's own noise figure keeps the floor from falling by its whole gain.
const PREAMPLIFIER_BENEFIT: f64 = 15.0;
/// What a broken input still lets through.
const BROKEN_LOSS: f64 = 40.0;
/// Lines as near as this are one line.
const SAME_LINE: f64 = 1.0;
const STEPS_PER_DB: f64 = 100.0;

impl FrontEnd {
    pub(super) fn new(truth: AnalyserTruth, seed: Seed, world: Arc<World>) -> Self {
        let drawn = truth.level_spread * seed.normal("analyser level");
        let level_error = truth.level_error.unwrap_or(drawn);
        let reference = Hertz::new(RESPONSE_REFERENCE);
        let response = Response::draw(seed, "analyser response", truth.response_spread, reference);
        Self { truth, seed, world, response, level_error, watched: None, sweeps: 0, detection: None }
    }

    pub(super) fn identity(&self) -> &Identity {
        &self.truth.identity
    }

    pub(super) fn range(&self) -> Range<Hertz> {
        self.truth.range
    }

    pub(super) fn is_damaged(&self, now: Moment) -> bool {
        self.world.is_damaged(now)
    }

    /// Notes damage since the last call: the input breaks whether a sweep looks at it or not.
    pub(super) fn watch(&mut self, now: Moment) {
        let from = self.watched.replace(now).unwrap_or(now);
        if self.world.is_damaged(now) {
            return;
        }
        // Between two changes the power only rises to its full value, so the start of each stretch is enough.
        let starts = std::iter::once(from).chain(self.world.changes(from, now));
        for start in starts {
            let full = self.world.emission(start).map(Emission::at_full_power);
            let lines = self.world.lines(Port::Analyser, full, self.world.contacts(start));
            let total: Watts = lines.iter().map(|line| line.power).sum();
            if total > self.truth.damage.to_watts() {
                self.world.damage(start);
                return;
            }
        }
    }

    /// The draws of the next sweep: each has a stream of its own.
    pub(super) fn next_draws(&mut self) -> Draws {
        self.sweeps += 1;
        self.seed.stream("analyser sweep", self.sweeps)
    }

    /// What the unit does and how the path is switched.
    pub(super) fn state(&self, at: Moment) -> (Option<Emission>, Contacts) {
        (self.world.emission(at), self.world.contacts(at))
    }

    /// The resolution filter as it is set.
    pub(super) fn filter(&self, settings: &Settings) -> Filter {
        Filter::new(self.truth.filter, Hertz::new(settings.rbw()))
    }

    /// Detection that looks in a certain way.
    pub(super) fn detection(&mut self, looking: Looking) -> Arc<Detection> {
        match &self.detection {
            Some(known) if known.is_for(&looking) => known.clone(),
            _ => self.detection.insert(Arc::new(Detection::new(looking))).clone(),
        }
    }

    /// A level as it is shown.
    pub(super) fn displayed_level(&self, level: f64) -> f32 {
        // Levels are small enough for a whole number, which rounds faster than the library does.
        let steps = level * STEPS_PER_DB;
        ((steps + 0.5f64.copysign(steps)) as i64 as f64 / STEPS_PER_DB) as f32
    }

    /// Mean noise power behind the filter, referred to the input.
    pub(super) fn noise(&self, settings: &Settings, filter: Filter) -> Watts {
        let bandwidth = Db::new(10.0 * filter.noise_bandwidth().get().log10());
        let benefit = if settings.preamplifier { PREAMPLIFIER_BENEFIT } else { 0.0 };
        let level = self.truth.noise + bandwidth + Db::new(settings.attenuation() - benefit);
        level.to_watts()
    }

    /// What reaches the detector at a moment, less what the speed of the sweep takes from lines.
    pub(super) fn scene(
        &self,
        settings: &Settings,
        (emission, contacts): (Option<Emission>, Contacts),
        at: Moment,
        loss: Db,
    ) -> Scene {
        let lines = self.world.lines(Port::Analyser, emission, contacts);
        let broken = Db::new(if self.world.is_damaged(at) { BROKEN_LOSS } else { 0.0 });
        self.displayed(lines, settings, loss + broken)
    }

    /// What becomes of the lines at the input before the filter, scaled to what is displayed.
    fn displayed(&self, mut lines: Vec<Line>, settings: &Settings, loss: Db) -> Scene {
        lines.retain(|line| line.power.get() > 0.0);
        let gain = Db::new(if settings.preamplifier { PREAMPLIFIER_GAIN } else { 0.0 });
        let to_mixer = gain - Db::new(settings.attenuation());
        let mixer = Mixer {
            second_intercept: self.truth.second_intercept,
            third_intercept: self.truth.third_intercept,
            compression: self.truth.compression,
        };
        self.add_own_products(&mut lines, &mixer, to_mixer);
        let total: Watts = lines.iter().map(|line| line.power).sum();
        let total = (total.get() > 0.0).then(|| total.to_dbm() + to_mixer);
        let compression = total.map_or(Db::new(0.0), |total| mixer.compression_gain(total));
        let leak =
            Line { frequency: Hertz::new(0.0), power: (self.truth.feed_through - to_mixer).to_watts() };
        lines.push(leak);
        let step = self.attenuator_error(settings.attenuation());
        for line in &mut lines {
            let error = self.level_error + self.response.at(line.frequency) + step + compression - loss;
            line.power = line.power * error.power_ratio();
        }
        Scene { lines, overload: total.is_some_and(|total| mixer.is_overloaded(total)) }
    }

    /// The mixer's second and third harmonic of the strongest line, added as voltages to what is there already.
    fn add_own_products(&self, lines: &mut Vec<Line>, mixer: &Mixer, to_mixer: Db) {
        let strongest =
            lines.iter().copied().max_by(|one, other| one.power.get().total_cmp(&other.power.get()));
        let Some(strongest) = strongest else { return };
        let at_mixer = strongest.power.to_dbm() + to_mixer;
        for order in 2..=3 {
            let Some(product) = mixer.own_harmonic(order, at_mixer) else { continue };
            let product: Dbm = product - to_mixer;
            let frequency = strongest.frequency.harmonic(order);
            let known = lines.iter_mut().find(|line| (line.frequency - frequency).get().abs() < SAME_LINE);
            match known {
                None => lines.push(Line { frequency, power: product.to_watts() }),
                Some(line) => {
                    let (one, other) = (line.power.get().sqrt(), product.to_watts().get().sqrt());
                    let angle = self.phase(order);
                    let sum = one * one + other * other + 2.0 * one * other * angle.cos();
                    line.power = Watts::new(sum.max(0.0));
                }
            }
        }
    }

    fn phase(&self, order: u32) -> f64 {
        let stated = self.truth.distortion_phase.iter().find(|(known, _)| *known == order);
        stated.map_or_else(|| self.seed.angle("analyser own product", u64::from(order)), |(_, angle)| *angle)
    }

    /// Each setting of the attenuator has an error of its own, always the same.
    fn attenuator_error(&self, attenuation: f64) -> Db {
        self.truth.attenuator_spread * self.seed.normal(&format!("analyser attenuator {attenuation:.0} dB"))
    }
}

#[cfg(test)]
mod tests;
