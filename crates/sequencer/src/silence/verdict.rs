//! What the looks through the bands come to.

use spurline_judge::{Spread, Verdict, judge_bound, judge_upper};
use spurline_plan::{Job, SilenceApproach, Way, noise_at_input, peak_height};
use spurline_record::{Acquisition, Figure, Outcome, Reading, Reason, ReasonCode, Unit};
use spurline_units::{Db, Dbm, Hertz};

use super::{Looks, Loud};
use crate::conversion;
use crate::fault::RunFault;
use crate::stage::{Place, budget_at, fill, held, put_limit};

/// What comes with the key stands so far above what was there without it (common practice).
pub(super) const PART: Db = Db::new(10.0);
/// Beyond the highest that noise is expected to show, a point is something.
const BEYOND_NOISE: Db = Db::new(3.0);
/// A point to each side may hold the same line in another sweep.
const NEAR: usize = 2;
/// As near as this to a channel of the plan, a carrier is on it.
const ON_CHANNEL: Hertz = Hertz::new(25e3);

/// A band, without and with the key: the highest of all sweeps at each point.
pub(super) struct Seen<'a> {
    keyed: &'a Acquisition,
    before: Vec<f64>,
    with: Vec<f64>,
}

impl<'a> Seen<'a> {
    pub(super) fn of(before: &Acquisition, keyed: &'a Acquisition) -> Self {
        Self { keyed, before: held(&before.sweeps), with: held(&keyed.sweeps) }
    }

    /// What was at a point, or beside it, without the key.
    fn before(&self, point: usize) -> f64 {
        let end = (point + NEAR + 1).min(self.before.len());
        self.before[point.saturating_sub(NEAR).min(end)..end].iter().copied().fold(f64::MIN, f64::max)
    }

    fn is_new(&self, point: usize) -> bool {
        self.with[point] >= self.before(point) + PART.get()
    }

    /// The highest point that came with the key.
    pub(super) fn highest_new(&self) -> Option<usize> {
        (0..self.with.len())
            .filter(|point| self.is_new(*point))
            .max_by(|one, other| self.with[*one].total_cmp(&self.with[*other]))
    }

    fn place(&self, way: &Way, point: usize) -> Result<Place, RunFault> {
        Ok(Place::of(way, self.keyed, point, self.with[point])?)
    }
}

/// The highest that noise will show in looks like these, at the analyser's input.
fn noise(job: &Job, looks: &[spurline_plan::Look]) -> Option<Dbm> {
    let profile = job.bench.analyser_profile();
    let settings = looks.first()?.settings;
    Some(noise_at_input(profile, settings.rbw, settings.attenuation) + peak_height(looks))
}

/// A carrier that came with the key, if one stands out of the noise of a look with the attenuator in.
pub(super) fn carrier(
    job: &Job,
    way: &Way,
    before: &Acquisition,
    keyed: &Acquisition,
    approach: &SilenceApproach,
) -> Result<Option<Place>, RunFault> {
    let seen = Seen::of(before, keyed);
    let Some(noise) = noise(job, &approach.coarse) else { return Ok(None) };
    let clear = |point: &usize| Dbm::new(seen.with[*point]) > noise + BEYOND_NOISE;
    seen.highest_new().filter(clear).map(|point| seen.place(way, point)).transpose()
}

/// Judges what was seen at one frequency, and fills the reading in.
pub(super) fn judge(
    job: &Job,
    way: &Way,
    approach: &SilenceApproach,
    looks: Looks,
    refused: Option<String>,
    mut reading: Reading,
) -> Result<Reading, RunFault> {
    let commanded = reading.scope.carrier;
    if let Some(why) = &refused {
        reading.remarks.push(format!("the unit refused {commanded} ({why}); it was keyed all the same"));
    }
    reading.remarks.push(looked_at(approach));
    let reading = match (&looks.loud, looks.metered) {
        (Some(loud), _) => of_loud(job, way, loud, refused.is_some(), reading)?,
        (None, Some(level)) => of_meter(job, level, reading),
        (None, None) => of_bands(job, way, approach, &looks, reading)?,
    };
    Ok(with_looks(reading, looks))
}

fn looked_at(approach: &SilenceApproach) -> String {
    let bands: Vec<String> =
        approach.bands.iter().map(|band| format!("{} to {}", band.low(), band.high())).collect();
    let settings = approach.deep.first().map(|look| look.settings);
    let how = settings.map_or_else(String::new, |settings| {
        format!(
            ", with a peak detector, {} wide, behind {} of attenuation",
            settings.rbw, settings.attenuation
        )
    });
    let floor = approach.floor.map_or_else(String::new, |floor| format!("; noise was to show up to {floor}"));
    format!("looked through, keyed and unkeyed: {}{how}{floor}", bands.join(", "))
}

fn with_looks(mut reading: Reading, looks: Looks) -> Reading {
    let mut all: Vec<Acquisition> = Vec::new();
    // The look that the figure was read from stands first among them.
    let Looks { coarse, deep, loud, after, .. } = looks;
    all.extend(loud.map(|loud| loud.look));
    for (before, keyed) in deep {
        if let Some(keyed) = keyed {
            all.push(before);
            all.push(keyed);
        }
    }
    for (before, keyed) in coarse {
        all.push(before);
        all.extend(keyed);
    }
    all.extend(after);
    reading.acquisitions = all;
    reading
}

/// A carrier came.
fn of_loud(
    job: &Job,
    way: &Way,
    loud: &Loud,
    refused: bool,
    mut reading: Reading,
) -> Result<Reading, RunFault> {
    let place = loud.place;
    let commanded = reading.scope.carrier;
    reading.frequency = place.frequency;
    let limit = limit_at(job, &mut reading, place.frequency);
    let budget = budget_at(job, way, place.frequency, false)?;
    fill(&mut reading, way, &place, &budget, false)?;
    reading.proof.read_from = Some(1);
    let Some(limit) = limit else { return Ok(reading) };
    let decision = judge_upper(place.level, limit, &Spread::of(&budget), conversion::rule(&job.plan));
    reading.margin = Some(decision.margin.into());
    reading.conformance_probability = Some(decision.conformance_probability);
    let near = |other: Hertz| (other - place.frequency).get().abs() <= ON_CHANNEL.get();
    let channel = job.plan.channels.iter().find(|channel| near(channel.carrier));
    let from = if refused { ", although the unit refused it" } else { "" };
    let text = match channel {
        _ if near(commanded) => {
            format!("a carrier of {} came at {commanded}, where the unit must be silent{from}", place.level)
        }
        Some(channel) => format!(
            "keyed at {commanded}, a carrier of {} came instead at {}, on the channel `{}`: {}",
            place.level,
            place.about(),
            channel.name,
            if refused {
                "the unit refused the command and transmitted where it was"
            } else {
                "its inhibit does not hold the transmitter"
            },
        ),
        None => {
            format!("keyed at {commanded}, a carrier of {} came instead at {}", place.level, place.about())
        }
    };
    (reading.outcome, reading.reason) = match decision.verdict {
        _ if decision.too_uncertain => {
            (Outcome::Undecided, Some(conversion::too_uncertain(&job.plan, Spread::of(&budget).expanded())))
        }
        Verdict::Exceeds => (Outcome::Exceeds, Some(Reason::new(ReasonCode::Transmits, text))),
        Verdict::Complies => (Outcome::Complies, None),
        Verdict::Undecided => (Outcome::Undecided, Some(Reason::new(ReasonCode::WithinUncertainty, text))),
    };
    Ok(reading)
}

/// Power arrived, and none of the bands holds it.
fn of_meter(job: &Job, level: Dbm, mut reading: Reading) -> Reading {
    let commanded = reading.scope.carrier;
    let limit = limit_at(job, &mut reading, commanded);
    reading.figure = Some(Figure { value: level.get(), unit: Unit::Dbm, level: Some(level), bound: false });
    let Some(limit) = limit else { return reading };
    reading.margin = Some((limit - level).into());
    let text = format!(
        "the power meter shows about {level} while the unit is keyed, and nothing is in the bands that were looked \
         through: a carrier came somewhere else"
    );
    // A meter knows no frequency: that power came is certain, how much of it only about.
    (reading.outcome, reading.reason) = (Outcome::Exceeds, Some(Reason::new(ReasonCode::Transmits, text)));
    reading
}

/// The limit at a frequency, with where it comes from.
fn limit_at(job: &Job, reading: &mut Reading, frequency: Hertz) -> Option<Dbm> {
    let silence = job.plan.silence.as_ref()?;
    let power = job.silence_power()?.window.high().watts();
    put_limit(reading, &silence.ceiling, power, frequency)
}

/// One point that matters: how near it is to what is let pass.
struct Worst {
    place: Place,
    margin: Db,
    /// The place of its look among those that were taken.
    look: usize,
}

/// Nothing loud came: the point that is nearest to what is let pass decides.
fn of_bands(
    job: &Job,
    way: &Way,
    approach: &SilenceApproach,
    looks: &Looks,
    mut reading: Reading,
) -> Result<Reading, RunFault> {
    let silence = job.plan.silence.as_ref().expect("a plan whose silence is judged has one");
    let power = job.silence_power().expect("it has a power setting").window.high().watts();
    let commanded = reading.scope.carrier;
    let taken: Vec<(&Acquisition, &Acquisition)> =
        looks.deep.iter().filter_map(|(before, keyed)| keyed.as_ref().map(|keyed| (before, keyed))).collect();
    if let Some((_, keyed)) = taken.iter().find(|(_, keyed)| keyed.flags.overload || keyed.flags.uncalibrated)
    {
        let (code, text) = if keyed.flags.overload {
            (
                ReasonCode::Overload,
                "the analyser was overloaded, and no carrier is in the bands that were looked through",
            )
        } else {
            (ReasonCode::Uncalibrated, "the analyser swept too fast for its bandwidth")
        };
        limit_at(job, &mut reading, commanded);
        reading.reason = Some(Reason::new(code, text));
        return Ok(reading);
    }
    let (mut of_unit, mut of_any): (Option<Worst>, Option<Worst>) = (None, None);
    for (number, (before, keyed)) in taken.iter().enumerate() {
        let seen = Seen::of(before, keyed);
        let after: Vec<&Acquisition> =
            looks.after.iter().filter(|after| after.settings == keyed.settings).collect();
        for point in 0..seen.with.len() {
            let place = seen.place(way, point)?;
            let Some(limit) = silence.ceiling.at(commanded, power, place.frequency) else {
                limit_at(job, &mut reading, place.frequency);
                return Ok(reading);
            };
            let margin = limit - place.level;
            let is_less = |known: &Option<Worst>| known.as_ref().is_none_or(|known| margin < known.margin);
            // What is there after key up as well came from somewhere else.
            let stays = || {
                after.iter().any(|after| Seen::of(after, keyed).before(point) + PART.get() > seen.with[point])
            };
            if seen.is_new(point) && is_less(&of_unit) && !stays() {
                of_unit = Some(Worst { place, margin, look: number });
            }
            if is_less(&of_any) {
                of_any = Some(Worst { place, margin, look: number });
            }
        }
    }
    let Some(of_any) = of_any else {
        limit_at(job, &mut reading, commanded);
        (reading.outcome, reading.reason) =
            super::nothing_seen("nothing was looked at while the unit was keyed");
        return Ok(reading);
    };
    let rule = conversion::rule(&job.plan);
    // Without a limit nothing came so far.
    let judged = |worst: &Worst, bound: bool| -> Result<_, RunFault> {
        let budget = budget_at(job, way, worst.place.frequency, true)?;
        let limit = worst.place.level + worst.margin;
        let spread = Spread::of(&budget);
        let judge = if bound { judge_bound } else { judge_upper };
        Ok((judge(worst.place.level, limit, &spread, rule), budget))
    };
    let noise = noise(job, &approach.deep);
    let stands = |place: &Place| noise.is_none_or(|noise| place.raw > noise + BEYOND_NOISE);
    if let Some(unit) = of_unit.filter(|unit| stands(&unit.place)) {
        let (decision, budget) = judged(&unit, false)?;
        if decision.verdict != Verdict::Complies {
            reading.frequency = unit.place.frequency;
            limit_at(job, &mut reading, unit.place.frequency);
            fill(&mut reading, way, &unit.place, &budget, false)?;
            reading.proof.read_from = Some(unit.look as u32 * 2 + 2);
            reading.margin = Some(decision.margin.into());
            reading.conformance_probability = Some(decision.conformance_probability);
            let came = format!("keyed at {commanded}, {} came at {}", unit.place.level, unit.place.about());
            (reading.outcome, reading.reason) = match decision.verdict {
                Verdict::Exceeds => {
                    let text = format!("{came}, where the unit must be silent");
                    (Outcome::Exceeds, Some(Reason::new(ReasonCode::Transmits, text)))
                }
                Verdict::Undecided | Verdict::Complies => {
                    let text = format!("{came}: what is let pass lies within the uncertainty");
                    (Outcome::Undecided, Some(Reason::new(ReasonCode::WithinUncertainty, text)))
                }
            };
            return Ok(reading);
        }
    }
    let (decision, budget) = judged(&of_any, true)?;
    let place = of_any.place;
    let limit = limit_at(job, &mut reading, place.frequency);
    fill(&mut reading, way, &place, &budget, true)?;
    reading.proof.read_from = Some(of_any.look as u32 * 2 + 2);
    reading.margin = limit.map(|limit| (limit - place.level).into());
    reading.conformance_probability = Some(decision.conformance_probability);
    (reading.outcome, reading.reason) = match decision.verdict {
        _ if decision.too_uncertain => {
            (Outcome::Undecided, Some(conversion::too_uncertain(&job.plan, Spread::of(&budget).expanded())))
        }
        Verdict::Complies => (Outcome::Complies, None),
        Verdict::Undecided | Verdict::Exceeds if stands(&place) => {
            let text = format!(
                "{} is at {} without the key as well: what the unit emits there is not seen beside it",
                place.level,
                place.about()
            );
            (Outcome::Undecided, Some(Reason::new(ReasonCode::Ambient, text)))
        }
        Verdict::Undecided | Verdict::Exceeds => {
            let text =
                format!("noise shows up to {}: too much to say that nothing else is there", place.level);
            (Outcome::Undecided, Some(Reason::new(ReasonCode::FloorTooHigh, text)))
        }
    };
    if reading.outcome == Outcome::Complies {
        reading.remarks.push(format!(
            "nothing is above {} anywhere; the highest is at {}",
            place.level, place.frequency
        ));
        reading.frequency = commanded;
    } else {
        reading.frequency = place.frequency;
    }
    Ok(reading)
}
