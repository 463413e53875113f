//! From the lines at the input to what the filter meets: attenuator, mixer with its own products, errors.

use std::sync::Arc;

use spurline_clock::Moment;
use spurline_units::{Db, Dbm, Hertz, Range, Watts};

use super::errors::Errors;
use super::settings::Settings;
use super::view::View;
use super::waves::Waves;
use crate::bench::{AnalyserTruth, Identity};
use crate::draw::{Draws, Seed};
use crate::physics::detector::{Detection, Looking};
use crate::physics::envelope::Envelope;
use crate::physics::filter::Filter;
use crate::physics::line::Line;
use crate::physics::mixer::Mixer;
use crate::physics::phase_noise::{PhaseNoise, Skirts};
use crate::physics::products::Distorting;
use crate::world::{Contacts, Emission, Port, Voice, World};

/// What is between the connector and the trace.
#[derive(Debug)]
pub(super) struct FrontEnd {
    truth: AnalyserTruth,
    seed: Seed,
    world: Arc<World>,
    errors: Errors,
    skirts: Option<Skirts>,
    /// How far its frequency reference is off, as a share: what it shows is lower by as much.
    reference: f64,
    /// Of the display.
    steps_per_db: f64,
    /// Up to when the input was watched for damage.
    watched: Option<Moment>,
    sweeps: u64,
    /// That of the last sweep: the next one is often like it.
    detection: Option<Arc<Detection>>,
    /// What it saw at its end.
    view: Option<View>,
}

/// What reaches the detector while the unit's emission stays the same.
pub(super) struct Scene {
    pub(super) lines: Vec<Line>,
    pub(super) overload: bool,
    /// Whether the input is.
    pub(super) broken: bool,
}

const PREAMPLIFIER_GAIN: f64 = 20.0;
/// The preamplifier's own noise figure keeps the floor from falling by its whole gain.
const PREAMPLIFIER_BENEFIT: f64 = 15.0;
/// What a broken input still lets through.
const BROKEN_LOSS: f64 = 40.0;
impl FrontEnd {
    pub(super) fn new(truth: AnalyserTruth, seed: Seed, world: Arc<World>) -> Self {
        let errors = Errors::draw(&truth, seed);
        let skirts = Skirts::new(
            PhaseNoise::new(&truth.phase_noise),
            PhaseNoise::new(&world.unit().truth.phase_noise),
        );
        let drawn = || truth.reference_spread * seed.normal("analyser reference");
        let reference = truth.reference_error.unwrap_or_else(drawn);
        let steps_per_db = 1.0 / truth.display_step.get();
        Self {
            truth,
            seed,
            world,
            errors,
            skirts,
            reference,
            steps_per_db,
            watched: None,
            sweeps: 0,
            detection: None,
            view: None,
        }
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

    /// Notes that a self-alignment has ended.
    pub(super) fn align(&mut self, now: Moment) {
        self.errors.align(now);
    }

    /// Notes damage since the last call: the input breaks whether a sweep looks at it or not.
    pub(super) fn watch(&mut self, now: Moment) {
        self.errors.begin(now);
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

    /// How the unit's power goes up and down with its modulation in voltage, and the key down from which that counts.
    pub(super) fn envelope(&self, at: Moment) -> Option<(Envelope, Moment)> {
        self.world.envelope(at)
    }

    /// The draws of the next sweep: each has a stream of its own.
    pub(super) fn next_draws(&mut self) -> Draws {
        self.sweeps += 1;
        self.world.of_visit().stream("analyser sweep", self.sweeps)
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

    /// What the last sweep saw, if that is all that one from `start` on with these settings may see.
    pub(super) fn view_for(&mut self, settings: &Settings, start: Moment) -> Option<View> {
        // What drifts is looked at anew each time.
        let kept = self.view.take().filter(|_| self.truth.drift == Db::new(0.0))?;
        kept.again(settings, self.world.is_damaged(start))
    }

    /// Keeps what a sweep saw at its end for the next one.
    pub(super) fn keep(&mut self, view: Option<View>) {
        self.view = view;
    }

    /// The noise that lines wear, if they do.
    pub(super) fn skirts(&self) -> Option<&Skirts> {
        self.skirts.as_ref()
    }

    /// What a frequency counter shows that stands at `marker` behind the filter: the strongest line that it passes, by the
    /// analyser's own reference, to the hertz.
    pub(super) fn counted(&self, settings: &Settings, marker: f64, at: Moment) -> Option<f64> {
        let scene = self.scene(settings, self.state(at), at, Db::new(0.0));
        let near = scene.lines.iter().filter(|line| (line.frequency.get() - marker).abs() <= settings.rbw());
        let strongest = near.max_by(|one, other| one.power.get().total_cmp(&other.power.get()))?;
        // What is no stronger than the noise is not counted.
        let noise = self.noise(settings, self.filter(settings));
        (strongest.power > noise).then(|| strongest.frequency.get().round())
    }

    /// A level as it is shown: by its scale, in its steps.
    pub(super) fn shown(&self, level: f64, settings: &Settings) -> f32 {
        self.rounded(self.errors.on_scale(level, settings))
    }

    /// A level in steps of the display.
    pub(super) fn rounded(&self, level: f64) -> f32 {
        // Levels are small enough for a whole number, which rounds faster than the library does.
        let steps = level * self.steps_per_db;
        ((steps + 0.5f64.copysign(steps)) as i64 as f64 / self.steps_per_db) as f32
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
        let arriving = self.world.lines(Port::Analyser, emission, contacts);
        let broken = self.world.is_damaged(at);
        let lost = loss + Db::new(if broken { BROKEN_LOSS } else { 0.0 });
        let voice = emission.and_then(|emission| emission.voice());
        let scene = self.displayed(&arriving, voice, settings, self.errors.of_settings(settings, at) - lost);
        Scene { broken, ..scene }
    }

    /// What becomes of the lines at the input before the filter, scaled to what is displayed: `gain` above that.
    fn displayed(&self, arriving: &[Line], voice: Option<Voice>, settings: &Settings, gain: Db) -> Scene {
        let preamplifier = Db::new(if settings.preamplifier { PREAMPLIFIER_GAIN } else { 0.0 });
        let to_mixer = preamplifier - Db::new(settings.attenuation());
        let mut waves = Waves::new(arriving);
        if let Some(ahead) = &self.truth.ahead {
            let distorting = Distorting {
                second_intercept: ahead.second_intercept,
                third_intercept: ahead.third_intercept,
            };
            let drawn = |order, at| self.drawn_angle("analyser ahead", order, at);
            waves.distort(&distorting, Db::new(0.0), |order, at| {
                ahead.phase.unwrap_or_else(|| drawn(order, at))
            });
        }
        let distorting = Distorting {
            second_intercept: Some(self.truth.second_intercept),
            third_intercept: Some(self.truth.third_intercept),
        };
        waves.distort(&distorting, to_mixer, |order, at| self.angle(order, at));
        let mut lines = waves.lines(|swings| self.world.sides(voice, swings));
        let mixer = Mixer { compression: self.truth.compression };
        let total: Watts = lines.iter().map(|line| line.power).sum();
        let total = (total.get() > 0.0).then(|| total.to_dbm() + to_mixer);
        let compression = total.map_or(Db::new(0.0), |total| mixer.compression_gain(total));
        self.add_images(&mut lines);
        self.add_residuals(&mut lines, to_mixer);
        for line in &mut lines {
            let error = gain + compression + self.errors.of_frequency(line.frequency);
            line.power = line.power * error.power_ratio();
            self.shift(line);
        }
        Scene { lines, overload: total.is_some_and(|total| mixer.is_overloaded(total)), broken: false }
    }

    /// Where a line is shown by a reference that is off.
    fn shift(&self, line: &mut Line) {
        if self.reference != 0.0 {
            let shown = |at: Hertz| at / (1.0 + self.reference);
            line.frequency = shown(line.frequency);
            line.of.centre = shown(line.of.centre);
        }
    }

    /// Each line once more, as far below it as the mixer's other sideband is.
    fn add_images(&self, lines: &mut Vec<Line>) {
        let Some(image) = &self.truth.image else { return };
        let share = (-image.rejection).power_ratio();
        let images: Vec<Line> = lines
            .iter()
            .map(|line| Line {
                frequency: Hertz::new((line.frequency - image.offset).get().abs()),
                power: line.power * share,
                of: line.of.lowered(image.offset),
            })
            .collect();
        lines.extend(images);
    }

    /// What is there with nothing at the input: the local oscillator at 0 Hz, and residuals.
    fn add_residuals(&self, lines: &mut Vec<Line>, to_mixer: Db) {
        let leak = (Hertz::new(0.0), self.truth.feed_through);
        let residuals = self.truth.residuals.iter().map(|residual| (residual.frequency, residual.level));
        let line = |(frequency, level): (Hertz, Dbm)| Line::bare(frequency, (level - to_mixer).to_watts());
        lines.extend(std::iter::once(leak).chain(residuals).map(line));
    }

    /// The angle of the mixer's own product at a frequency.
    fn angle(&self, order: u32, at: Hertz) -> f64 {
        let stated = self.truth.distortion_phase.iter().find(|(known, _)| *known == order);
        stated.map_or_else(|| self.drawn_angle("analyser own product", order, at), |(_, angle)| *angle)
    }

    /// One angle for each order and kilohertz.
    fn drawn_angle(&self, purpose: &str, order: u32, at: Hertz) -> f64 {
        self.seed.angle(&format!("{purpose} {order}"), (at.get() / 1e3).round() as u64)
    }
}

#[cfg(test)]
mod tests;
