//! How the loss of a path is measured by substitution: what is measured, with which instrument, at which frequencies
//! and levels, and what is known beforehand of the uncertainty.
//!
//! The generator goes straight into an instrument, then through the path into the same instrument, at the same level and
//! with the same settings: what the two readings share cancels. What is left is the scale between the two levels, the
//! mismatch of both connections, and what only the measurement can tell.

use std::ops::Range as Span;

use spurline_judge::{Budget, Contribution, Distribution, RESOLVED_DB};
use spurline_path::{Part, Path, PathError, Reflection, Stated, Termination};
use spurline_profile::{GeneratorProfile, Kind, Specification};
use spurline_record::Role;
use spurline_units::{Db, Dbm, Hertz, Range, Vswr};
use thiserror::Error;

use crate::bench::Bench;
use crate::budget::{stated, zero_in_db};
use crate::job::Job;
use crate::settings::{Look, SUBSTITUTION_SPAN, noise_at_input, noise_height, substitution_look};
use crate::way::Branch;

/// The name of the row of parts that leads to the power meter.
const TO_METER: &str = "power_meter";
/// How many frequencies, unless it is said otherwise: over 1 MHz to 3 GHz one follows the other by a tenth.
pub const USUAL_POINTS: u32 = 81;
/// The power meter is not used where what it may show without power is more than this.
const LARGEST_ZERO_DB: f64 = 0.15;
/// From what an input or a part bears the generator's level keeps this far.
const CLEAR_OF_DAMAGE_DB: f64 = 6.0;
/// The least distance of the power meter's highest level.
const BELOW_FULL_SCALE_DB: f64 = 3.0;
/// A line is only asked for where it will stand this far above what noise can be taken for a line.
const CLEAR_DB: f64 = 10.0;
/// A scale is as wrong as is stated between levels that are farther apart than this; nearer, the error of the
/// difference goes with it (common practice: data sheets state linearity for each 10 dB).
const SCALE_STEP_DB: f64 = 10.0;
/// The harmonics of the generator that count, where a power meter reads everything at once.
const HARMONICS: [u32; 2] = [2, 3];

/// What is to be measured, as it is asked for.
#[derive(Clone, Copy, Debug, Default)]
pub struct Wanted<'a> {
    /// A way of the bench, or `power_meter` for the parts that lead there; the only way unless it is named.
    pub way: Option<&'a str>,
    /// The first part, unless the whole is measured.
    pub from: Option<&'a str>,
    /// The last part, unless it is measured to the end.
    pub to: Option<&'a str>,
    /// Frequencies beside the usual ones.
    pub more: &'a [Hertz],
    /// How many usual frequencies; [`USUAL_POINTS`] unless it is said.
    pub points: Option<u32>,
    /// The instrument, unless the better one is taken.
    pub with: Option<Role>,
}

/// The parts that are measured.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Stretch {
    /// The way to the analyser that they belong to, by its place among the bench's; `None` for that to the power meter.
    pub way: Option<usize>,
    /// Their places on that way.
    pub parts: Span<usize>,
    /// Whether they are all of it.
    pub whole: bool,
    /// What people call them, for example `direct` or `direct, from pad to cable`.
    pub name: String,
    /// The names of the parts, in their order.
    pub names: Vec<String>,
}

/// One frequency at which both readings are taken.
#[derive(Clone, Debug, PartialEq)]
pub struct SubstitutionPoint {
    /// The frequency.
    pub frequency: Hertz,
    /// Whether the plan or the caller asked for it.
    pub needed: bool,
    /// The level that the generator is told to give.
    pub set: Dbm,
    /// What the instrument should show straight.
    pub straight: Dbm,
    /// The loss as the bench file has it.
    pub nominal: Db,
    /// How it is looked at, if the analyser reads it.
    pub look: Option<Look>,
    /// What is known beforehand of the uncertainty of the loss.
    pub budget: Budget,
}

/// Everything that is read to measure a path.
#[derive(Clone, Debug)]
pub struct Substitution {
    /// The parts that are measured.
    pub stretch: Stretch,
    /// The instrument that reads: power meter or analyser.
    pub with: Role,
    /// The frequencies, in rising order.
    pub points: Vec<SubstitutionPoint>,
    /// What is left out, and why.
    pub left_out: Vec<String>,
    /// Whether something that is left out was asked for.
    pub lacks_needed: bool,
    /// What a reader of the result should know.
    pub notes: Vec<String>,
    /// The largest standing wave ratio of the two ends, as the bench file has it.
    pub vswr: Option<f64>,
}

/// Why a path cannot be measured as it was asked for. Nothing has been connected.
#[derive(Debug, Error)]
pub enum SubstitutionError {
    /// The bench has none.
    #[error("the bench `{bench}` has no signal generator")]
    NoGenerator {
        /// The bench's title.
        bench: String,
    },
    /// It has no such way.
    #[error("the bench has no path `{name}`")]
    NoWay {
        /// What was asked for.
        name: String,
        /// Those that it has.
        known: String,
    },
    /// It has several, and none was named.
    #[error("the bench has several paths, and none was named")]
    WhichWay {
        /// Those that it has.
        known: String,
    },
    /// The way has no such part.
    #[error("the path `{way}` has no part `{name}`")]
    NoPart {
        /// The way.
        way: String,
        /// What was asked for.
        name: String,
        /// Those that it has.
        known: String,
    },
    /// The last part stands before the first, or there is none.
    #[error("there is no part to be measured on the path `{way}`")]
    Nothing {
        /// The way.
        way: String,
    },
    /// The bench has no such instrument.
    #[error("the bench has no {role}")]
    NoInstrument {
        /// Which.
        role: Role,
    },
    /// A frequency that was asked for is out of reach.
    #[error("the loss cannot be measured at {frequency}: {why}")]
    Beyond {
        /// Which.
        frequency: Hertz,
        /// Why not.
        why: String,
    },
    /// There is no frequency at which it can be measured.
    #[error("there is no frequency at which the path `{way}` can be measured: {why}")]
    NowhereInReach {
        /// The way.
        way: String,
        /// Why not.
        why: String,
    },
    /// The path does not cover a frequency that it was asked for.
    #[error(transparent)]
    Path(#[from] PathError),
}

impl SubstitutionError {
    /// What to do about it.
    #[must_use]
    pub fn advice(&self) -> String {
        match self {
            Self::NoGenerator { .. } => "add `generator: { at: …, profile: … }` to the bench file".to_owned(),
            Self::NoWay { known, .. } | Self::WhichWay { known } => {
                format!("name one with `--way`: {known}")
            }
            Self::NoPart { known, .. } => format!("parts of this path: {known}"),
            Self::Nothing { .. } => "`--from` names the first part and `--to` the last".to_owned(),
            Self::NoInstrument { .. } => "leave `--with` out, or add the instrument to the bench file".to_owned(),
            Self::Beyond { .. } => "leave it out, or use another generator or instrument".to_owned(),
            Self::NowhereInReach { .. } => {
                "do the profiles say what the instruments reach, and the bench file about what the path loses?".to_owned()
            }
            Self::Path(_) => "say in the bench file about what the part loses there".to_owned(),
        }
    }
}

impl Substitution {
    /// What is measured of a bench. With a job, its carriers and their harmonics are among the frequencies.
    ///
    /// # Errors
    ///
    /// [`SubstitutionError`].
    pub fn plan(bench: &Bench, job: Option<&Job>, wanted: &Wanted<'_>) -> Result<Self, SubstitutionError> {
        let none = || SubstitutionError::NoGenerator { bench: bench.title.clone() };
        let at = bench.instrument(Role::Generator).ok_or_else(none)?;
        let used = bench.generator.as_ref().ok_or_else(none)?;
        let Kind::Generator(generator) = &at.profile.kind else { return Err(none()) };
        // The unit's own adapter is no part of the bench.
        let adapter = job.is_some_and(|job| job.plan.adapter.is_some());
        let (stretch, branch) = stretch(bench, wanted, adapter)?;
        let parts = branch.path.parts[stretch.parts.clone()].to_vec();
        let planner = Planner {
            bench,
            generator,
            generator_source: format!("{}: limits.vswr", at.profile.source.name()),
            before: renamed(&used.through, " before the path"),
            path: Path { parts },
        };
        let mut needed: Vec<Hertz> = wanted.more.to_vec();
        needed.extend(job.into_iter().flat_map(of_plan));
        let roles = match wanted.with {
            Some(role) => vec![role],
            None => vec![Role::PowerMeter, Role::Analyser],
        };
        let mut why = None;
        for role in &roles {
            if bench.instrument(*role).is_none() {
                why.get_or_insert(SubstitutionError::NoInstrument { role: *role });
                continue;
            }
            let is_last = roles.last() == Some(role);
            match planner.with(*role, &stretch, &needed, wanted) {
                // A power meter that cannot read everything leaves it to the analyser, which sees farther down.
                Ok(planned) if planned.left_out.is_empty() || is_last => return Ok(planned),
                Ok(_) => {}
                Err(error) => why = Some(error),
            }
        }
        Err(why.unwrap_or_else(none))
    }
}

/// Carriers and harmonics of a plan.
fn of_plan(job: &Job) -> Vec<Hertz> {
    let orders = 1..=job.plan.measure.harmonics_up_to.max(1);
    let channels = job.plan.channels.iter();
    channels.flat_map(|channel| orders.clone().map(|order| channel.carrier.harmonic(order))).collect()
}

/// Parts under names that no part behind them has.
fn renamed(parts: &[Part], more: &str) -> Path {
    let renamed = |part: &Part| Part { name: format!("{}{more}", part.name), ..part.clone() };
    Path { parts: parts.iter().map(renamed).collect() }
}

fn stretch<'b>(
    bench: &'b Bench,
    wanted: &Wanted<'_>,
    adapter: bool,
) -> Result<(Stretch, &'b Branch), SubstitutionError> {
    let mut known: Vec<&str> = bench.ways.iter().map(|way| way.name.as_str()).collect();
    known.extend(bench.meter.as_ref().map(|_| TO_METER));
    let (way, branch) = match wanted.way {
        None if bench.ways.len() > 1 => {
            return Err(SubstitutionError::WhichWay { known: known.join(", ") });
        }
        None => (Some(0), &bench.ways[0].branch),
        Some(name) => {
            let way = bench.ways.iter().position(|way| way.name == name);
            let meter = bench.meter.as_ref().filter(|_| name == TO_METER);
            match (way, meter) {
                (Some(way), _) => (Some(way), &bench.ways[way].branch),
                (None, Some(branch)) => (None, branch),
                (None, None) => {
                    return Err(SubstitutionError::NoWay { name: name.to_owned(), known: known.join(", ") });
                }
            }
        }
    };
    let way_name = way.map_or(TO_METER, |way| bench.ways[way].name.as_str()).to_owned();
    let parts = &branch.path.parts;
    let place = |name: &str| {
        parts.iter().position(|part| part.name == name).ok_or_else(|| SubstitutionError::NoPart {
            way: way_name.clone(),
            name: name.to_owned(),
            known: parts.iter().map(|part| part.name.as_str()).collect::<Vec<_>>().join(", "),
        })
    };
    let first = usize::from(adapter);
    let from = wanted.from.map_or(Ok(first), &place)?;
    let to = wanted.to.map_or(Ok(parts.len()), |name| place(name).map(|place| place + 1))?;
    if from >= to {
        return Err(SubstitutionError::Nothing { way: way_name });
    }
    let whole = from == first && to == parts.len();
    let names: Vec<String> = parts[from..to].iter().map(|part| part.name.clone()).collect();
    let name = match names.as_slice() {
        _ if whole => way_name,
        [one] => format!("{way_name}, {one}"),
        [one, .., other] => format!("{way_name}, from {one} to {other}"),
        [] => way_name,
    };
    Ok((Stretch { way, parts: from..to, whole, name, names }, branch))
}

/// What all points have in common.
struct Planner<'a> {
    bench: &'a Bench,
    generator: &'a GeneratorProfile,
    generator_source: String,
    /// From the generator's output to the place where the path begins.
    before: Path,
    path: Path,
}

/// The instrument at the end, as far as it matters here.
struct Reader<'a> {
    role: Role,
    range: Range<Hertz>,
    vswr: Vswr,
    file: &'a str,
    scale: Option<&'a Specification>,
    /// The most that it is given.
    most: Dbm,
}

impl<'a> Planner<'a> {
    fn reader(&self, role: Role) -> Result<Reader<'a>, SubstitutionError> {
        let none = SubstitutionError::NoInstrument { role };
        let Some(at) = self.bench.instrument(role) else { return Err(none) };
        let file = at.profile.source.name();
        match &at.profile.kind {
            Kind::PowerMeter(profile) => Ok(Reader {
                role,
                range: profile.frequency,
                vswr: profile.vswr,
                file,
                scale: profile.accuracy.iter().find(|figure| figure.name.ends_with("linearity")),
                most: (profile.level.high() - Db::new(BELOW_FULL_SCALE_DB))
                    .min(profile.damage - Db::new(CLEAR_OF_DAMAGE_DB)),
            }),
            Kind::Analyser(profile) => {
                let half = Hertz::new(SUBSTITUTION_SPAN / 2.0);
                let whole = profile.ranges.frequency;
                let range = Range::new(whole.low() + half, whole.high() - half).unwrap_or(whole);
                Ok(Reader {
                    role,
                    range,
                    vswr: profile.limits.vswr,
                    file,
                    scale: profile.accuracy.iter().find(|figure| figure.name.ends_with("scale fidelity")),
                    most: (self.bench.input.damage - Db::new(CLEAR_OF_DAMAGE_DB))
                        .min(profile.limits.linear_to + profile.ranges.attenuation.high()),
                })
            }
            Kind::Supply(_)
            | Kind::Relay(_)
            | Kind::Unit(_)
            | Kind::Generator(_)
            | Kind::AudioGenerator(_) => Err(none),
        }
    }

    fn with(
        &self,
        role: Role,
        stretch: &Stretch,
        needed: &[Hertz],
        wanted: &Wanted<'_>,
    ) -> Result<Substitution, SubstitutionError> {
        let reader = self.reader(role)?;
        let nowhere =
            |why: &str| SubstitutionError::NowhereInReach { way: stretch.name.clone(), why: why.to_owned() };
        let nothing = || nowhere("generator, instrument and parts have no frequency in common");
        let range = self.common(&reader).ok_or_else(nothing)?;
        let mut notes = Vec::new();
        let mut lacks_needed = false;
        let mut left_out: Vec<String> = Vec::new();
        let mut wants: Vec<(Hertz, bool)> = Vec::new();
        for frequency in needed {
            if range.contains(*frequency) {
                wants.push((*frequency, true));
                continue;
            }
            let why = format!("generator, {role} and parts reach {range}");
            if wanted.more.contains(frequency) {
                return Err(SubstitutionError::Beyond { frequency: *frequency, why });
            }
            let note = format!("the plan needs more than can be measured: {why}");
            if !notes.contains(&note) {
                notes.push(note);
            }
        }
        wants.extend(spread(range, wanted.points.unwrap_or(USUAL_POINTS)).map(|usual| (usual, false)));
        wants.sort_by(|one, other| one.0.get().total_cmp(&other.0.get()).then(other.1.cmp(&one.1)));
        wants.dedup_by(|next, kept| next.0 == kept.0);
        let mut points = Vec::new();
        for (frequency, needed) in wants {
            match self.point(&reader, frequency, needed)? {
                Ok(point) => points.push(point),
                Err(why) => {
                    lacks_needed |= needed;
                    left_out.push(format!("{frequency}: {why}"));
                }
            }
        }
        let Some(first) = points.first() else {
            return Err(nowhere(left_out.first().map_or("nothing is left", String::as_str)));
        };
        let ends = self.path.reflection_at(first.frequency)?;
        if ends.input.is_none() || ends.output.is_none() {
            notes.push(
                "an end of the path states no reflection (`vswr`): what it does to the level is not in U"
                    .to_owned(),
            );
        }
        let vswr = self.vswr(&points);
        Ok(Substitution { stretch: stretch.clone(), with: role, points, left_out, lacks_needed, notes, vswr })
    }

    /// The largest standing wave ratio of the two ends over all points.
    fn vswr(&self, points: &[SubstitutionPoint]) -> Option<f64> {
        let at = |point: &SubstitutionPoint| {
            let ends = self.path.reflection_at(point.frequency).ok()?;
            Some(ends.input?.value.vswr().max(ends.output?.value.vswr()))
        };
        points.iter().map(at).collect::<Option<Vec<f64>>>()?.into_iter().reduce(f64::max)
    }

    /// What generator, instrument and parts have in common.
    fn common(&self, reader: &Reader<'_>) -> Option<Range<Hertz>> {
        let mut low = self.generator.frequency.low().max(reader.range.low());
        let mut high = self.generator.frequency.high().min(reader.range.high());
        for covered in [&self.before, &self.path].into_iter().map(Path::covered) {
            let covered = covered?;
            (low, high) = (low.max(covered.low()), high.min(covered.high()));
        }
        Range::new(low, high).filter(|range| range.low() < range.high())
    }

    /// One point, or why it is left out.
    fn point(
        &self,
        reader: &Reader<'_>,
        frequency: Hertz,
        needed: bool,
    ) -> Result<Result<SubstitutionPoint, String>, PathError> {
        let before = self.before.loss_at(frequency)?.total;
        let nominal = self.path.loss_at(frequency)?.total;
        let bears = self.path.parts.iter().chain(&self.before.parts).filter_map(|part| part.rated);
        let bears = bears.map(|rated| rated.to_dbm() - Db::new(CLEAR_OF_DAMAGE_DB));
        let most = bears.fold(reader.most, Dbm::min).min(self.generator.level.high() - before) + before;
        // A tenth of a dB is a level that every generator can be told.
        let set = Dbm::new((most.get() * 10.0 + 1e-9).floor() / 10.0);
        if !self.generator.level.contains(set) {
            let range = self.generator.level;
            return Ok(Err(format!("the generator gives {range}, and {set} is needed")));
        }
        let straight = set - before;
        let through = straight - nominal;
        let (look, mut lines) = match reader.role {
            Role::PowerMeter => match self.by_meter(frequency, straight, through) {
                Ok(lines) => (None, lines),
                Err(why) => return Ok(Err(why)),
            },
            _ => match self.by_analyser(frequency, straight, through) {
                Ok(look) => (Some(look), Vec::new()),
                Err(why) => return Ok(Err(why)),
            },
        };
        lines.splice(0..0, scale(reader.scale, nominal));
        lines.extend(self.mismatch(reader, frequency)?);
        let budget = Budget { lines };
        Ok(Ok(SubstitutionPoint { frequency, needed, set, straight, nominal, look, budget }))
    }

    /// What a power meter adds of its own.
    fn by_meter(&self, frequency: Hertz, straight: Dbm, through: Dbm) -> Result<Vec<Contribution>, String> {
        let Some(profile) = self.bench.meter_profile() else {
            return Err("there is no power meter".to_owned());
        };
        if through < profile.level.low() {
            let least = profile.level.low();
            return Err(format!(
                "{through:.1} come through the path, and the power meter reads from {least} up"
            ));
        }
        let zero = zero_in_db(profile.zero, through.to_watts());
        if zero.get() > LARGEST_ZERO_DB {
            let weak = format!("{through:.1} come through the path: too weak for this power meter's zero");
            return Err(weak);
        }
        let zero = Contribution::new(
            "power meter: zero, through the path",
            zero,
            Distribution::Rectangular,
            profile.zero_source.clone(),
        );
        let straight_zero = Contribution::new(
            "power meter: zero, straight",
            zero_in_db(profile.zero, straight.to_watts()),
            Distribution::Rectangular,
            profile.zero_source.clone(),
        );
        Ok(vec![straight_zero, zero, self.harmonics(frequency)])
    }

    /// What harmonics of the generator do to a reading of everything: as much as the path passes them better than the
    /// line.
    fn harmonics(&self, frequency: Hertz) -> Contribution {
        let loss = |at: Hertz| self.path.loss_at(at).map(|loss| loss.total);
        let below = self.generator.harmonics;
        let at_line = loss(frequency).unwrap_or_default();
        let share = |by: Db| (by - below).power_ratio();
        let (mut straight, mut through) = (0.0, 0.0);
        for order in HARMONICS {
            straight += share(Db::new(0.0));
            // Where the path is not known it may pass them as it passes the line.
            through += share(at_line - loss(frequency.harmonic(order)).unwrap_or(at_line));
        }
        let change = Db::new(10.0 * ((1.0 + through) / (1.0 + straight)).log10()).abs();
        Contribution::new(
            "generator: harmonics",
            change,
            Distribution::Rectangular,
            format!("limits.harmonics of the generator's profile, {below}"),
        )
    }

    fn by_analyser(&self, frequency: Hertz, straight: Dbm, through: Dbm) -> Result<Look, String> {
        let profile = self.bench.analyser_profile();
        let look = substitution_look(profile, frequency, straight);
        let floor = noise_at_input(profile, look.settings.rbw, look.settings.attenuation);
        if (through - floor) < noise_height(&look) + Db::new(RESOLVED_DB + CLEAR_DB) {
            let attenuation = look.settings.attenuation;
            return Err(format!(
                "{through:.1} come through the path: too near the noise with {attenuation:.0} of attenuation"
            ));
        }
        Ok(look)
    }

    /// The echoes of both connections. What is on one side only, of the path or before it, is the same in both, or
    /// belongs to the loss.
    fn mismatch(&self, reader: &Reader<'_>, frequency: Hertz) -> Result<Vec<Contribution>, PathError> {
        let end = |name: &str, vswr: Vswr, source: String| Termination {
            name: name.to_owned(),
            reflection: Stated::new(Reflection::from_vswr(vswr), source),
        };
        let source = end("generator", self.generator.vswr, self.generator_source.clone());
        let load = end(reader.role.name(), reader.vswr, format!("{}: limits.vswr", reader.file));
        let is_source =
            |name: &str| name == source.name || self.before.parts.iter().any(|part| part.name == name);
        let line = |found: &spurline_path::Interface, how: &str| {
            let name = format!("mismatch, {how}: {} to {}", found.left, found.right);
            Contribution::mismatch(name, found.mismatch.above(), found.source.clone())
        };
        let straight = self.before.interfaces_at(frequency, Some(&source), Some(&load))?;
        let straight = straight.iter().filter(|found| found.right == load.name);
        let mut lines: Vec<Contribution> = straight.map(|found| line(found, "straight")).collect();
        let behind = renamed(&self.path.parts, " of the path").parts;
        let whole = Path { parts: self.before.parts.iter().cloned().chain(behind).collect() };
        let through = whole.interfaces_at(frequency, Some(&source), Some(&load))?;
        let crosses = |found: &&spurline_path::Interface| {
            found.right == load.name || (is_source(&found.left) && !is_source(&found.right))
        };
        lines.extend(through.iter().filter(crosses).map(|found| line(found, "through the path")));
        Ok(lines)
    }
}

/// The scale between the two levels: the error of each, as far as they are apart.
fn scale(figure: Option<&Specification>, apart: Db) -> Vec<Contribution> {
    let Some(figure) = figure else { return Vec::new() };
    let share = (apart.get().abs() / SCALE_STEP_DB).min(1.0);
    ["straight", "through the path"]
        .map(|how| {
            let line = stated(figure);
            Contribution { name: format!("{}, {how}", line.name), value: line.value * share, ..line }
        })
        .to_vec()
}

/// So many frequencies of few digits, spread evenly in the logarithm, both ends among them.
fn spread(range: Range<Hertz>, points: u32) -> impl Iterator<Item = Hertz> {
    let (low, high) = (range.low().get(), range.high().get());
    let steps = f64::from(points.max(2) - 1);
    (0..points.max(2)).map(move |step| {
        let exact = low * (high / low).powf(f64::from(step) / steps);
        let digit = 10f64.powf((exact.log10() - 2.0).floor());
        let rounded = (exact / digit).round() * digit;
        let is_end = step == 0 || step + 1 == points.max(2);
        Hertz::new(if is_end || !(low..=high).contains(&rounded) { exact.clamp(low, high) } else { rounded })
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn frequencies_are_spread_from_end_to_end() {
        let range: Range<Hertz> = "1 MHz..3 GHz".parse().unwrap();
        let all: Vec<f64> = spread(range, USUAL_POINTS).map(Hertz::get).collect();
        assert_eq!((all.len(), all[0], all[80]), (81, 1e6, 3e9));
        // 3000^(1/80) is 1.10526 (numpy 2.4.6); three digits are good to half a per cent.
        assert!(all.windows(2).all(|pair| (pair[1] / pair[0] / 1.105_26 - 1.0).abs() < 0.01), "{all:?}");
    }

    /// 0.03 dB at 36 dB apart counts in full, at 0.5 dB by a twentieth.
    #[test]
    fn levels_that_are_near_each_other_share_the_error_of_the_scale() {
        let figure = Specification {
            name: "power meter: linearity".to_owned(),
            value: Db::new(0.03),
            distribution: spurline_profile::Distribution::Rectangular,
            source: "test".to_owned(),
        };
        let values = |apart: f64| -> Vec<f64> {
            scale(Some(&figure), Db::new(apart)).iter().map(|line| line.value.get()).collect()
        };
        assert_eq!(values(36.0), [0.03, 0.03]);
        assert!(values(0.5).iter().all(|value| (value - 0.0015).abs() < 1e-12));
    }
}
