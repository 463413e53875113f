//! What the looks through the bands come to.

use spurline_judge::{Budget, Decision, Spread, Verdict, judge_bound, judge_upper};
use spurline_plan::{Job, SilenceApproach, Way};
use spurline_record::{Acquisition, Figure, Outcome, Reading, Reason, ReasonCode, SweepFlags, Unit};
use spurline_units::{Db, Dbm, Hertz};

use super::points::{Nearest, Worst, limit};
use super::{Looks, Loud, Metered};
use crate::conversion;
use crate::fault::RunFault;
use crate::stage::{Place, budget_at, fill, put_limit};

/// A meter knows no frequency: the path may lose so much more or less there than where the unit was told to be.
const UNKNOWN_LOSS: Db = Db::new(10.0);
/// As near as this to a channel of the plan, a carrier is on it.
const ON_CHANNEL: Hertz = Hertz::new(25e3);

/// Whether a line that was looked at by itself is above what is let pass, beyond what is uncertain.
pub(super) fn surely_exceeds(
    job: &Job,
    way: &Way,
    commanded: Hertz,
    place: &Place,
) -> Result<bool, RunFault> {
    let Some(limit) = limit(job, commanded, place.frequency) else { return Ok(false) };
    let budget = budget_at(job, way, place.frequency, false)?;
    let decision = judge_upper(place.level, limit, &Spread::of(&budget), conversion::rule(&job.plan));
    Ok(decision.verdict == Verdict::Exceeds && !decision.too_uncertain)
}

/// Whether a meter showed so much that no loss of the path makes it little.
pub(super) fn surely_metered(approach: &SilenceApproach, metered: &Metered) -> bool {
    let above = |level: Dbm| approach.ceiling.is_some_and(|limit| level - limit > UNKNOWN_LOSS);
    metered.of_the_key().is_some_and(above)
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
    if job.bench.key.is_by_hand() {
        let told = "a person keyed, and had 3 s to do so: where nothing comes nobody sees whether the unit was keyed";
        reading.remarks.push(told.to_owned());
    }
    reading.remarks.push(looked_at(approach));
    if let Some(level) = looks.metered.before {
        reading.remarks.push(format!(
            "the power meter shows {level} without the key: it cannot tell whether something came elsewhere"
        ));
    }
    let metered = looks.metered.of_the_key();
    let metered = metered.filter(|level| approach.ceiling.is_none_or(|limit| limit - *level < UNKNOWN_LOSS));
    let reading = match (&looks.loud, metered) {
        (Some(loud), _) => of_loud(job, way, loud, refused.is_some(), reading)?,
        (None, Some(level)) => of_meter(job, approach, level, reading),
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
    let Looks { coarse, deep, near, again, loud, after, .. } = looks;
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
    all.extend(near);
    all.extend(again);
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
    reading.frequency = place.about();
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
fn of_meter(job: &Job, approach: &SilenceApproach, level: Dbm, mut reading: Reading) -> Reading {
    let commanded = reading.scope.carrier;
    limit_at(job, &mut reading, commanded);
    reading.figure = Some(Figure { value: level.get(), unit: Unit::Dbm, level: Some(level), bound: false });
    let Some(limit) = approach.ceiling else { return reading };
    reading.margin = Some((limit - level).into());
    let text = format!(
        "the power meter shows about {level} while the unit is keyed, and nothing is in the bands that were looked \
         through: something came at another frequency"
    );
    // That power came is certain; how much of it is not, as the loss of the path at its frequency is unknown.
    (reading.outcome, reading.reason) = if level - limit > UNKNOWN_LOSS {
        (Outcome::Exceeds, Some(Reason::new(ReasonCode::Transmits, text)))
    } else {
        let text = format!(
            "{text}, too near to {limit} to tell by a meter that knows no frequency: name wider `bands`"
        );
        (Outcome::Undecided, Some(Reason::new(ReasonCode::WithinUncertainty, text)))
    };
    reading
}

/// The limit at a frequency, with where it comes from.
fn limit_at(job: &Job, reading: &mut Reading, frequency: Hertz) -> Option<Dbm> {
    let silence = job.plan.silence.as_ref()?;
    let power = job.silence_power()?.window.high().watts();
    put_limit(reading, &silence.ceiling, power, frequency)
}

/// A point judged by itself, or as a bound on everything.
fn judged(job: &Job, way: &Way, worst: &Worst, bound: bool) -> Result<(Decision, Budget), RunFault> {
    let budget = budget_at(job, way, worst.place.frequency, true)?;
    let limit = worst.place.level + worst.margin;
    let judge = if bound { judge_bound } else { judge_upper };
    Ok((judge(worst.place.level, limit, &Spread::of(&budget), conversion::rule(&job.plan)), budget))
}

/// The deep looks in which the unit's own does not comply so far.
pub(super) fn open(job: &Job, way: &Way, looks: &Looks) -> Result<Vec<usize>, RunFault> {
    let mut open = Vec::new();
    for number in 0..looks.deep.len() {
        let unit = Nearest::of(job, way, looks, |look| look == number)?.unit;
        if let Some(unit) = unit
            && judged(job, way, &unit, false)?.0.verdict != Verdict::Complies
        {
            open.push(number);
        }
    }
    Ok(open)
}

/// Why the looks are worth nothing, if they are not.
fn fault_of(looks: &Looks) -> Option<Reason> {
    let keyed = looks.deep.iter().filter_map(|(_, keyed)| keyed.as_ref());
    let flags: Vec<SweepFlags> = keyed.chain(&looks.again).map(|keyed| keyed.flags).collect();
    if flags.iter().any(|flags| flags.overload) {
        let text = "the analyser was overloaded, and no carrier is in the bands that were looked through";
        return Some(Reason::new(ReasonCode::Overload, text));
    }
    let text = "the analyser swept too fast for its bandwidth";
    flags.iter().any(|flags| flags.uncalibrated).then(|| Reason::new(ReasonCode::Uncalibrated, text))
}

/// Nothing loud came: the point that is nearest to what is let pass decides.
fn of_bands(
    job: &Job,
    way: &Way,
    approach: &SilenceApproach,
    looks: &Looks,
    mut reading: Reading,
) -> Result<Reading, RunFault> {
    let commanded = reading.scope.carrier;
    if let Some(reason) = fault_of(looks) {
        limit_at(job, &mut reading, commanded);
        (reading.outcome, reading.reason) = (Outcome::Invalid, Some(reason));
        return Ok(reading);
    }
    let Nearest { unit, any, unnumbered } = Nearest::of(job, way, looks, |_| true)?;
    if let Some(unit) = &unit {
        let (decision, budget) = judged(job, way, unit, false)?;
        if decision.verdict != Verdict::Complies {
            return of_unit(job, way, unit, (&decision, &budget), reading);
        }
        let text =
            format!("{} came with the key at {}, which is let pass", unit.place.level, unit.place.about());
        reading.remarks.push(text);
    }
    if let Some(frequency) = unnumbered {
        limit_at(job, &mut reading, frequency);
        return Ok(reading);
    }
    let Some(any) = any.filter(|_| looks.deep.len() == approach.deep.len()) else {
        limit_at(job, &mut reading, commanded);
        let text = "nothing was looked at while the unit was keyed";
        (reading.outcome, reading.reason) = (Outcome::Invalid, Some(Reason::new(ReasonCode::NotKeyed, text)));
        return Ok(reading);
    };
    let (decision, budget) = judged(job, way, &any, true)?;
    let place = any.place;
    limit_at(job, &mut reading, place.frequency);
    fill(&mut reading, way, &place, &budget, true)?;
    reading.proof.read_from = Some(any.look as u32 * 2 + 2);
    reading.margin = Some(any.margin.into());
    reading.conformance_probability = Some(decision.conformance_probability);
    reading.frequency = place.about();
    (reading.outcome, reading.reason) = match decision.verdict {
        _ if decision.too_uncertain => {
            (Outcome::Undecided, Some(conversion::too_uncertain(&job.plan, Spread::of(&budget).expanded())))
        }
        Verdict::Complies => {
            let text = format!("nothing is above {} anywhere; that is at {}", place.level, place.about());
            reading.remarks.push(text);
            reading.frequency = commanded;
            (Outcome::Complies, None)
        }
        Verdict::Undecided | Verdict::Exceeds if any.stands => {
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
    Ok(reading)
}

/// Something weak came with the key, and is not let pass.
fn of_unit(
    job: &Job,
    way: &Way,
    unit: &Worst,
    (decision, budget): (&Decision, &Budget),
    mut reading: Reading,
) -> Result<Reading, RunFault> {
    let Place { frequency, level, .. } = unit.place;
    reading.frequency = unit.place.about();
    limit_at(job, &mut reading, frequency);
    fill(&mut reading, way, &unit.place, budget, false)?;
    reading.proof.read_from = Some(unit.look as u32 * 2 + 2);
    reading.margin = Some(decision.margin.into());
    reading.conformance_probability = Some(decision.conformance_probability);
    let came = format!("keyed at {}, {level} came at {}", reading.scope.carrier, unit.place.about());
    (reading.outcome, reading.reason) = match decision.verdict {
        _ if decision.too_uncertain => {
            (Outcome::Undecided, Some(conversion::too_uncertain(&job.plan, Spread::of(budget).expanded())))
        }
        _ if unit.again != Some(true) => {
            let text = format!(
                "{came}, and not again on another key-down: somebody else's, or a unit that comes and goes"
            );
            (Outcome::Undecided, Some(Reason::new(ReasonCode::Ambient, text)))
        }
        Verdict::Exceeds => {
            let text = format!("{came}, where the unit must be silent");
            (Outcome::Exceeds, Some(Reason::new(ReasonCode::Transmits, text)))
        }
        Verdict::Undecided | Verdict::Complies => {
            let text = format!("{came}: what is let pass lies within the uncertainty");
            (Outcome::Undecided, Some(Reason::new(ReasonCode::WithinUncertainty, text)))
        }
    };
    Ok(reading)
}
