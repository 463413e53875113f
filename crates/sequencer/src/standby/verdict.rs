//! What the looks come to: a reading for each line of the unit's near the limit, and one for how deep was looked.

use spurline_judge::{Contribution, Decision, Distribution, Spread, Verdict, judge_bound, judge_upper};
use spurline_path::PathError;
use spurline_plan::{Job, Way, reach};
use spurline_record::{Acquisition, Outcome, Quantity, Reading, Reason, ReasonCode};
use spurline_units::{Db, Dbm, Hertz};

use super::{EXCURSION, Line, Looks, NEAR, Shown};
use crate::ambient::{SAME_DB, Source};
use crate::conversion;
use crate::fault::RunFault;
use crate::line::fault;
use crate::search::peaks;
use crate::stage::{Place, budget_at, fill, put_limit};
use crate::trace;

pub(super) const QUANTITY: Quantity = Quantity::Standby;

/// The highest level that is let pass at a frequency.
pub(super) fn limit(job: &Job, frequency: Hertz) -> Option<Dbm> {
    let (standby, (carrier, power)) = job.plan.measure.standby.as_ref().zip(job.standby_question())?;
    standby.ceiling.at(carrier, power.watts(), frequency)
}

/// Writes the limit at a frequency into a reading.
fn limited(job: &Job, reading: &mut Reading, frequency: Hertz) -> Option<Dbm> {
    let (standby, (_, power)) = job.plan.measure.standby.as_ref().zip(job.standby_question())?;
    put_limit(reading, &standby.ceiling, power.watts(), frequency)
}

/// All readings of what was looked at; `blank` says nothing yet.
pub(super) fn judge(job: &Job, way: &Way, looks: Looks, blank: Reading) -> Result<Vec<Reading>, RunFault> {
    let mut readings = Vec::new();
    let mut open = Open::default();
    for line in &looks.lines {
        readings.extend(of_line(job, way, line, &blank, &mut open)?);
    }
    readings.insert(0, of_range(job, way, looks, &blank, open)?);
    for (place, reading) in readings.iter_mut().enumerate() {
        reading.ordinal += place as u32;
    }
    Ok(readings)
}

/// What keeps the range as a whole from being shown to comply, and what is to be told.
#[derive(Default)]
struct Open {
    reason: Option<Reason>,
    remarks: Vec<String>,
}

impl Open {
    fn because(&mut self, code: ReasonCode, text: String) {
        self.reason.get_or_insert(Reason::new(code, text));
    }
}

/// The reading of one line, if it is or may be the unit's.
fn of_line(
    job: &Job,
    way: &Way,
    line: &Line,
    blank: &Reading,
    open: &mut Open,
) -> Result<Option<Reading>, RunFault> {
    let at = line.seen.about();
    if let Some(reason) = fault(&line.on) {
        open.because(reason.code, format!("at {at}: {}", reason.text));
        return Ok(None);
    }
    let Some(on) = line.shown(way, &line.on)?.filter(Shown::is_clear) else {
        let text = format!("a sweep showed {} at {at}, and a look there by itself did not", line.seen.level);
        if line.seen.level > limit(job, line.seen.frequency).unwrap_or(line.seen.level) {
            open.because(
                ReasonCode::Ambient,
                format!("{text}: what comes and goes is not told apart from noise"),
            );
        } else {
            open.remarks.push(text);
        }
        return Ok(None);
    };
    for look in line.off.iter().chain(&line.again) {
        if let Some(reason) = fault(look) {
            open.because(reason.code, format!("at {at}: {}", reason.text));
            return Ok(None);
        }
    }
    let off = line.off.as_ref().map(|off| line.shown(way, off)).transpose()?.flatten();
    let again = line.again.as_ref().map(|again| line.shown(way, again)).transpose()?.flatten();
    let is_back = again.is_some_and(|again| (on.place.level - again.place.level).get() <= SAME_DB);
    let source = match (&line.off, &off) {
        (None, _) => Source::Unknown,
        (Some(_), Some(off)) if (on.place.level - off.place.level).get() <= SAME_DB => Source::Surroundings,
        (Some(_), _) if is_back => Source::Receiver,
        // It went, and did not come back with the unit: nobody knows whose it was.
        (Some(_), _) => Source::Unknown,
    };
    let mut reading = Reading {
        frequency: on.place.about(),
        name: Some(format!("line at {}", on.place.about())),
        ..blank.clone()
    };
    let of_limit = limited(job, &mut reading, on.place.frequency);
    let mut budget = budget_at(job, way, on.place.frequency, true)?;
    let scatter = trace::scatter(&line.on.sweeps, on.place.point as usize, reach(&line.on.settings));
    budget.lines.extend(scatter.map(|scatter| {
        let source = "scatter of this reading's sweeps";
        Contribution::new("repeatability of the sweeps", scatter.of_mean, Distribution::Standard, source)
            .with_freedom(scatter.freedom)
    }));
    fill(&mut reading, way, &on.place, &budget, false)?;
    reading.proof.peak_reach = reach(&line.on.settings) as u32;
    reading.proof.spread = scatter.map(|scatter| scatter.spread);
    reading.proof.floor = on.floor;
    reading.proof.read_from = Some(1);
    let spread = Spread::of(&budget);
    let decided =
        of_limit.map(|limit| judge_upper(on.place.level, limit, &spread, conversion::rule(&job.plan)));
    if source == Source::Surroundings {
        surroundings(&on, off.as_ref(), decided.as_ref(), open);
        return Ok(None);
    }
    reading.acquisitions = std::iter::once(&line.on).chain(&line.off).chain(&line.again).cloned().collect();
    if let Some(decision) = decided {
        decide(job, &mut reading, (&decision, &spread), source, line.off.is_some());
    }
    Ok(Some(reading))
}

/// A line that stays with the unit off hides what the unit may emit at its place, if it is strong enough.
fn surroundings(on: &Shown, off: Option<&Shown>, decided: Option<&Decision>, open: &mut Open) {
    let (frequency, level) = (on.place.about(), on.place.level);
    let text = format!(
        "{level} is at {frequency} with the unit off as well{}: on the air, or the analyser's own",
        off.map_or_else(String::new, |off| format!(" ({})", off.place.level))
    );
    match decided {
        Some(decision) if decision.verdict != Verdict::Complies => {
            let text = format!(
                "{text}; what the unit emits there is not seen beside it: use a screened room, or look at another time"
            );
            open.because(ReasonCode::Ambient, text);
        }
        Some(_) | None => open.remarks.push(text),
    }
}

fn decide(
    job: &Job,
    reading: &mut Reading,
    (decision, spread): (&Decision, &Spread),
    source: Source,
    switched: bool,
) {
    reading.margin = Some(decision.margin.into());
    reading.conformance_probability = Some(decision.conformance_probability);
    let level = reading.level().expect("a line has a level");
    if source == Source::Receiver {
        reading
            .remarks
            .push("gone with the unit off, and there with it on again: it is the unit's".to_owned());
    }
    (reading.outcome, reading.reason) = match decision.verdict {
        _ if decision.too_uncertain => {
            (Outcome::Undecided, Some(conversion::too_uncertain(&job.plan, spread.expanded())))
        }
        Verdict::Complies => (Outcome::Complies, None),
        Verdict::Exceeds if source == Source::Receiver => {
            let text =
                format!("{level} comes from the unit while it is not keyed, and is gone with the unit off");
            (Outcome::Exceeds, Some(Reason::new(ReasonCode::Receiver, text)))
        }
        Verdict::Exceeds if switched => {
            let text = format!(
                "{level} was there while the unit was not keyed, went when it was switched off, and did not come back with \
                 it: whose it was is not known"
            );
            (Outcome::Undecided, Some(Reason::new(ReasonCode::Ambient, text)))
        }
        Verdict::Exceeds => {
            let text = format!(
                "{level} is there while the unit is not keyed, and nothing could switch the unit off to see whether it \
                 is the unit's: name a supply in plan and bench"
            );
            (Outcome::Undecided, Some(Reason::new(ReasonCode::Ambient, text)))
        }
        Verdict::Undecided => {
            let text = "the limit lies within the uncertainty";
            (Outcome::Undecided, Some(Reason::new(ReasonCode::WithinUncertainty, text)))
        }
    };
}

/// How deep was looked: the level below which nothing is hidden, where that comes nearest to the limit.
fn of_range(
    job: &Job,
    way: &Way,
    looks: Looks,
    blank: &Reading,
    mut open: Open,
) -> Result<Reading, RunFault> {
    let standby = job.plan.measure.standby.as_ref().expect("standby that is judged is asked for");
    let mut reading = Reading {
        name: Some(format!("{} to {}", standby.range.low(), standby.range.high())),
        ..blank.clone()
    };
    reading.remarks = vec![how(&looks)];
    let mut worst: Option<(Place, Db)> = None;
    for wide in &looks.wide {
        if let Some(reason) = fault(wide) {
            let settings = &wide.settings;
            let (low, high) = (settings.centre - settings.span / 2.0, settings.centre + settings.span / 2.0);
            reading.reason = Some(Reason::new(reason.code, format!("from {low} to {high}: {}", reason.text)));
            reading.acquisitions = looks.wide;
            return Ok(reading);
        }
        for place in depths(way, wide)? {
            let Some(limit) = limit(job, place.frequency) else {
                limited(job, &mut reading, place.frequency);
                reading.frequency = place.frequency;
                reading.acquisitions = looks.wide;
                return Ok(reading);
            };
            let margin = limit - place.level;
            if worst.is_none_or(|(_, known)| margin < known) {
                worst = Some((place, margin));
            }
        }
    }
    if looks.left > 0 {
        open.because(
            ReasonCode::Ambient,
            format!(
                "{} more lines come near the limit or above it than were looked at by themselves: quieter surroundings, or a \
                 narrower range",
                looks.left
            ),
        );
    }
    let Some((place, margin)) = worst else {
        reading.reason = Some(Reason::new(ReasonCode::NotKeyed, "nothing was looked at"));
        return Ok(reading);
    };
    reading.frequency = place.frequency;
    let limit = limited(job, &mut reading, place.frequency);
    let budget = budget_at(job, way, place.frequency, true)?;
    fill(&mut reading, way, &place, &budget, true)?;
    reading.proof.peak_point = None;
    reading.margin = Some(margin.into());
    let spread = Spread::of(&budget);
    let decision = limit.map(|limit| judge_bound(place.level, limit, &spread, conversion::rule(&job.plan)));
    reading.conformance_probability = decision.as_ref().map(|decision| decision.conformance_probability);
    (reading.outcome, reading.reason) = match decision {
        Some(decision) if decision.too_uncertain => {
            (Outcome::Undecided, Some(conversion::too_uncertain(&job.plan, spread.expanded())))
        }
        Some(decision) if decision.verdict != Verdict::Complies => {
            let text = format!(
                "a line at {} is seen from {} on: too much to say that none is there; less loss before the analyser would help",
                place.about(),
                place.level
            );
            (Outcome::Undecided, Some(Reason::new(ReasonCode::FloorTooHigh, text)))
        }
        _ => match open.reason {
            Some(reason) => (Outcome::Undecided, Some(reason)),
            None => (Outcome::Complies, None),
        },
    };
    reading.remarks.extend(open.remarks);
    reading.acquisitions = looks.wide;
    Ok(reading)
}

fn how(looks: &Looks) -> String {
    let settings = looks.wide.first().map(|look| look.settings);
    let first = settings.map_or_else(String::new, |settings| {
        format!(
            "swept with the key up, with a peak detector, {} wide, behind {} of attenuation; ",
            settings.rbw, settings.attenuation
        )
    });
    format!("{first}lines within {NEAR} of the limit were looked at by themselves: {}", looks.lines.len())
}

/// Along a sweep, from which level on a line is found.
fn depths(way: &Way, wide: &Acquisition) -> Result<Vec<Place>, PathError> {
    let settings = &wide.settings;
    let above = spurline_judge::mean_peak(peaks::looks(wide, 1)) + EXCURSION;
    let last = settings.points as usize - 1;
    let blocks = peaks::noise(wide, 1).into_iter().enumerate();
    blocks
        .map(|(block, noise)| {
            let point = (block * peaks::BLOCK + peaks::BLOCK / 2).min(last);
            Place::of(way, wide, point, noise + above.get())
        })
        .collect()
}
