//! Which known lines prove a bench: frequencies, levels, looks, and what the reading of each may differ by.
//!
//! A line is looked at as a harmonic is, corrected with the same tables and given the same budget, so that what is
//! proven is what readings are made with. The budget of the difference has the generator's own lines beside them.

use spurline_judge::{Budget, RESOLVED_DB};
use spurline_path::{Path, PathError};
use spurline_profile::{GeneratorProfile, Kind};
use spurline_record::Role;
use spurline_units::{Db, Dbm, Hertz};
use thiserror::Error;

use crate::bench::{Bench, GeneratorUse, InstrumentAt};
use crate::budget::{analyser_budget, stated};
use crate::job::Job;
use crate::model::{Channel, PowerSetting, Unit};
use crate::settings::{LINE_SPAN, LineTask, Look, first_look, noise_at_input, noise_height};
use crate::way::Way;

/// The levels at the connector, about where the limits of harmonics lie.
const LEVELS: [f64; 2] = [-20.0, -40.0];
/// How many frequencies, spread evenly in the logarithm.
const FREQUENCIES: u32 = 5;
/// A line is only asked for where it will stand this far above what noise can be taken for a line.
const CLEAR_DB: f64 = 10.0;
/// A line beside the carrier stays this far from it, as a share of its frequency, and this far from its harmonics.
const FROM_CARRIER: f64 = 0.05;
const FROM_HARMONIC: f64 = 2.0 * LINE_SPAN;
/// Closer than this to what an output bears nothing is keyed.
const DANGER_DB: f64 = 3.0;
/// A known line lies beside the harmonics.
const NO_HARMONIC: u32 = 1;

/// One line that will be read.
#[derive(Clone, Debug, PartialEq)]
pub struct PlannedLine {
    /// The way by which it is read: its place among the bench's.
    pub way: usize,
    /// The carrier that will be there beside it.
    pub beside: Option<Hertz>,
    /// Its frequency.
    pub frequency: Hertz,
    /// The level that the generator is told to give.
    pub set: Dbm,
    /// What that comes to at the connector.
    pub expected: Dbm,
    /// The loss of the path from the connector to the analyser.
    pub path_loss: Db,
    /// How it is looked at.
    pub look: Look,
    /// What is known beforehand of the uncertainty of read less expected.
    pub budget: Budget,
}

/// The carrier beside which lines are read too.
#[derive(Clone, Copy, Debug)]
pub struct Beside<'a> {
    /// Its channel.
    pub channel: &'a Channel,
    /// Its power setting: the one that may give the most.
    pub power: &'a PowerSetting,
}

/// Everything that will be read to prove a bench.
#[derive(Clone, Debug)]
pub struct Proving<'a> {
    /// The lines while the unit is not keyed.
    pub alone: Vec<PlannedLine>,
    /// The carrier that is there for the others, if there are any.
    pub carrier: Option<Beside<'a>>,
    /// The lines beside it.
    pub beside: Vec<PlannedLine>,
    /// What is left out, and why.
    pub left_out: Vec<String>,
}

/// Why a bench cannot be proven as it was asked for. Nothing has been connected.
#[derive(Debug, Error)]
pub enum ProvingError {
    /// The bench has none.
    #[error("the bench `{bench}` has no signal generator")]
    NoGenerator {
        /// The bench's title.
        bench: String,
    },
    /// It has no such path, or the unit is not keyed on it.
    #[error("the bench has no path `{name}` on which the unit is keyed")]
    NoPath {
        /// What was asked for.
        name: String,
        /// Those that it has.
        known: String,
    },
    /// A frequency that was asked for is beyond the generator, the analyser or a table.
    #[error("{frequency} cannot be read by the path `{path}`: {why}")]
    Beyond {
        /// Which.
        frequency: Hertz,
        /// By which way.
        path: String,
        /// Why not.
        why: String,
    },
    /// There is no frequency that all of them reach.
    #[error("generator, analyser and the tables of the path `{path}` have no frequency in common")]
    NothingInCommon {
        /// By which way.
        path: String,
    },
    /// The unit would break the generator.
    #[error(
        "up to {level:.1} of the unit's power would run into the generator's output, which {most:.1} destroys"
    )]
    ReversePower {
        /// What would arrive there.
        level: Dbm,
        /// What it bears.
        most: Dbm,
    },
    /// The path does not cover a frequency that it was asked for.
    #[error(transparent)]
    Path(#[from] PathError),
}

impl ProvingError {
    /// What to do about it.
    #[must_use]
    pub fn advice(&self) -> String {
        match self {
            Self::NoGenerator { .. } => "add `generator: { at: …, profile: … }` to the bench file".to_owned(),
            Self::NoPath { known, .. } => format!("paths of this bench: {known}"),
            Self::Beyond { .. } => "leave it out, or use another generator or other tables".to_owned(),
            Self::NothingInCommon { .. } => "do the profiles say what the instruments reach?".to_owned(),
            Self::ReversePower { .. } => {
                "put a pad between combiner and generator, and state the whole `isolation` in the bench file"
                    .to_owned()
            }
            Self::Path(_) => "extend the tables of the path".to_owned(),
        }
    }
}

/// What all lines have in common.
struct Known<'a> {
    bench: &'a Bench,
    analyser_file: &'a str,
    generator: &'a GeneratorProfile,
    used: &'a GeneratorUse,
    /// The generator in the unit's place, as far as its match matters.
    source: Unit,
}

impl<'a> Proving<'a> {
    /// What is read on a bench; with a job, also beside the first carrier of its plan if the bench says so.
    /// `more` are frequencies beside the usual ones; `path` is the only way to be looked at, if one is named.
    ///
    /// # Errors
    ///
    /// [`ProvingError`].
    pub fn plan(
        bench: &'a Bench,
        job: Option<&'a Job>,
        more: &[Hertz],
        path: Option<&str>,
    ) -> Result<Self, ProvingError> {
        let known = Known::of(bench)?;
        let ways = ways(bench, job, path)?;
        let carrier = match (job, known.used.isolation) {
            (Some(job), Some(isolation)) => known.beside(job, isolation)?,
            _ => None,
        };
        let mut proving = Self { alone: Vec::new(), carrier, beside: Vec::new(), left_out: Vec::new() };
        for place in ways {
            let frequencies = known.frequencies(&bench.ways[place], more)?;
            for frequency in frequencies {
                for level in LEVELS {
                    let level = Dbm::new(level);
                    let mut planned = known.line(place, frequency, level, job.zip(carrier), None)?;
                    if planned.is_err() && carrier.is_some() {
                        // Too weak with the attenuation that the carrier needs: without the carrier it needs none.
                        planned = known.line(place, frequency, level, None, None)?;
                    }
                    proving.take(planned, false);
                    let Some((job, beside)) = job.zip(carrier) else { continue };
                    // Harmonics are read by one way, and beside the carrier so are known lines.
                    if bench.ways[place].name != job.harmonics_way().name {
                        continue;
                    }
                    let nominal = beside.channel.carrier;
                    let frequency = clear_of(frequency, nominal);
                    if known.beyond(&bench.ways[place], frequency).is_none() {
                        let planned =
                            known.line(place, frequency, level, Some((job, beside)), Some(nominal))?;
                        proving.take(planned, true);
                    }
                }
            }
        }
        Ok(proving)
    }

    fn take(&mut self, planned: Result<PlannedLine, String>, beside: bool) {
        match planned {
            Ok(line) if beside => self.beside.push(line),
            Ok(line) => self.alone.push(line),
            Err(why) if self.left_out.contains(&why) => {}
            Err(why) => self.left_out.push(why),
        }
    }
}

/// The ways that are proven, by their places: those of the plan, else all on which the unit is keyed.
fn ways(bench: &Bench, job: Option<&Job>, path: Option<&str>) -> Result<Vec<usize>, ProvingError> {
    let used = |way: &Way| match job {
        Some(job) => [job.carrier_way(), job.harmonics_way()].iter().any(|used| used.name == way.name),
        None => true,
    };
    let keyed: Vec<usize> = (0..bench.ways.len()).filter(|place| bench.ways[*place].keyed).collect();
    let Some(name) = path else {
        return Ok(keyed.into_iter().filter(|place| used(&bench.ways[*place])).collect());
    };
    let found: Vec<usize> = keyed.iter().copied().filter(|place| bench.ways[*place].name == name).collect();
    if found.is_empty() {
        let known: Vec<&str> = keyed.iter().map(|place| bench.ways[*place].name.as_str()).collect();
        return Err(ProvingError::NoPath { name: name.to_owned(), known: known.join(", ") });
    }
    Ok(found)
}

impl<'a> Known<'a> {
    fn of(bench: &'a Bench) -> Result<Self, ProvingError> {
        let none = || ProvingError::NoGenerator { bench: bench.title.clone() };
        let at: &InstrumentAt = bench.instrument(Role::Generator).ok_or_else(none)?;
        let used = bench.generator.as_ref().ok_or_else(none)?;
        let Kind::Generator(generator) = &at.profile.kind else { return Err(none()) };
        let reflection = (generator.vswr.reflection(), format!("{}: limits.vswr", at.profile.source.name()));
        let source = Unit {
            model: "generator".to_owned(),
            rated_power: None,
            reflection: reflection.clone(),
            reflection_off_carrier: reflection,
        };
        let analyser = bench.instrument(Role::Analyser);
        let analyser_file = analyser.map_or("", |analyser| analyser.profile.source.name());
        Ok(Self { bench, analyser_file, generator, used, source })
    }

    /// The carrier that lines are read beside: that of the plan's first channel at the setting that may give most.
    fn beside(&self, job: &'a Job, isolation: Db) -> Result<Option<Beside<'a>>, ProvingError> {
        let Some(channel) = job.plan.channels.first() else { return Ok(None) };
        let most = channel.powers.iter().max_by(|one, other| {
            one.window.high().watts().get().total_cmp(&other.window.high().watts().get())
        });
        let Some(power) = most else { return Ok(None) };
        let level = power.window.high().dbm() - isolation;
        let most = self.generator.reverse_power;
        if level > most - Db::new(DANGER_DB) {
            return Err(ProvingError::ReversePower { level, most });
        }
        Ok(Some(Beside { channel, power }))
    }

    /// The whole way of the generator's power: what lies before the connector, then the way.
    fn path(&self, way: &Way) -> Path {
        Path { parts: self.used.through.iter().chain(&way.branch.path.parts).cloned().collect() }
    }

    /// Why a frequency is out of reach by a way, if it is.
    fn beyond(&self, way: &Way, frequency: Hertz) -> Option<String> {
        let range = self.generator.frequency;
        if !range.contains(frequency) {
            return Some(format!("it is beyond the generator's range, {range}"));
        }
        let analyser = self.bench.beyond_analyser(frequency, Hertz::new(LINE_SPAN / 2.0));
        analyser
            .or_else(|| self.path(way).loss_at(frequency).err().map(|error| crate::bench::first_line(&error)))
    }

    /// The usual frequencies of a way and those that were asked for, in rising order.
    fn frequencies(&self, way: &Way, more: &[Hertz]) -> Result<Vec<Hertz>, ProvingError> {
        let analyser = self.bench.analyser_profile().ranges.frequency;
        let half = Hertz::new(LINE_SPAN / 2.0);
        let mut low = self.generator.frequency.low().max(analyser.low() + half);
        let mut high = self.generator.frequency.high().min(analyser.high() - half);
        for part in self.path(way).parts {
            let covered = part.loss.value.covered();
            low = low.max(covered.low());
            high = high.min(covered.high());
        }
        if low >= high {
            return Err(ProvingError::NothingInCommon { path: way.name.clone() });
        }
        let ratio = high / low;
        let spread = (0..FREQUENCIES).map(|step| {
            let exact = low.get() * ratio.powf(f64::from(step) / f64::from(FREQUENCIES - 1));
            round(exact, low.get(), high.get())
        });
        let mut all: Vec<Hertz> = spread.collect();
        for frequency in more {
            if let Some(why) = self.beyond(way, *frequency) {
                return Err(ProvingError::Beyond { frequency: *frequency, path: way.name.clone(), why });
            }
            all.push(*frequency);
        }
        all.sort_by(|one, other| one.get().total_cmp(&other.get()));
        all.dedup();
        Ok(all)
    }

    /// One line, or why it is left out.
    fn line(
        &self,
        place: usize,
        frequency: Hertz,
        wanted: Dbm,
        carrier: Option<(&Job, Beside<'_>)>,
        beside: Option<Hertz>,
    ) -> Result<Result<PlannedLine, String>, ProvingError> {
        let way = &self.bench.ways[place];
        let path = self.path(way);
        let path_loss = way.branch.path.loss_at(frequency)?.total;
        let before = path.loss_at(frequency)?.total - path_loss;
        // A tenth of a dB is a level that every generator can be told.
        let set = Dbm::new(((wanted + before).get() * 10.0).round() / 10.0);
        let expected = set - before;
        if !self.generator.level.contains(set) {
            let range = self.generator.level;
            return Ok(Err(format!(
                "{expected:.0} at {frequency}: the generator gives {range}, and {set} is needed"
            )));
        }
        let at_input = expected - path_loss;
        let at_analyser = carrier
            .map(|(job, beside)| job.carrier_at_analyser(way, beside.channel, beside.power))
            .transpose()?;
        let profile = self.bench.analyser_profile();
        let strongest = at_analyser.map_or(at_input, |carrier| carrier.max(at_input));
        let task = LineTask {
            frequency,
            order: NO_HARMONIC,
            carrier_at_input: strongest,
            limit_at_input: Some(at_input),
            expanded: Db::new(0.0),
            occupied: Hertz::new(0.0),
            reference: None,
            narrowest: Hertz::new(0.0),
            span: None,
        };
        let look = first_look(profile, &task);
        let floor = noise_at_input(profile, look.settings.rbw, look.settings.attenuation);
        if (at_input - floor) < noise_height(&look) + Db::new(RESOLVED_DB + CLEAR_DB) {
            let name = &way.name;
            return Ok(Err(format!(
                "{expected:.0} at {frequency} by `{name}`: with {:.0} of attenuation it is too weak behind a path of \
                 {path_loss:.0}",
                look.settings.attenuation
            )));
        }
        let mut budget = analyser_budget(profile, self.analyser_file, &path, &self.source, frequency, true)?;
        for line in &mut budget.lines {
            if let Some(rest) = line.name.strip_prefix("mismatch: unit ") {
                line.name = format!("mismatch: generator {rest}");
            }
        }
        budget.lines.extend(self.generator.accuracy.iter().map(stated));
        Ok(Ok(PlannedLine { way: place, beside, frequency, set, expected, path_loss, look, budget }))
    }
}

/// A frequency of few digits that still lies within its bounds.
fn round(exact: f64, low: f64, high: f64) -> Hertz {
    let step = 10f64.powf((exact.log10() - 2.0).floor());
    let rounded = (exact / step).round() * step;
    Hertz::new(if (low..=high).contains(&rounded) {
        rounded
    } else {
        exact.clamp(low, high).round().clamp(low, high)
    })
}

/// A frequency near the wanted one that is clear of a carrier and of its harmonics.
fn clear_of(wanted: Hertz, carrier: Hertz) -> Hertz {
    let order = (wanted / carrier).round().max(1.0);
    let nearest = carrier * order;
    let clear = if order > 1.0 { FROM_HARMONIC } else { (carrier.get() * FROM_CARRIER).max(FROM_HARMONIC) };
    let off = wanted - nearest;
    if off.get().abs() >= clear { wanted } else { nearest + Hertz::new(clear) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_beside_the_carrier_keeps_clear_of_it_and_of_its_harmonics() {
        let carrier = Hertz::from_mhz(146.0);
        for (wanted, expected) in
            [(100.0, 100.0), (146.0, 153.3), (292.0, 292.6), (291.8, 292.6), (300.0, 300.0)]
        {
            let found = clear_of(Hertz::from_mhz(wanted), carrier).mhz();
            assert!((found - expected).abs() < 1e-6, "{wanted} MHz: {found} MHz");
        }
    }

    #[test]
    fn frequencies_have_few_digits_and_stay_within_their_bounds() {
        assert_eq!(round(7_397_000.0, 1e6, 3e9), Hertz::new(7.4e6));
        assert_eq!(round(2_999_850_000.0, 1e6, 2_999_850_000.0), Hertz::new(2_999_850_000.0));
    }
}
