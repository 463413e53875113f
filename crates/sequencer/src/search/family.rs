//! What a line goes by: its name, by how it moves with the carrier and where it stands.

use spurline_plan::{Channel, Job};
use spurline_record::{Outcome, Reason, ReasonCode};
use spurline_units::{Db, Dbm, Hertz};

use super::moved::Motion;
use crate::scope::Done;

/// Frequencies that differ by less are the same: a zoomed look shows them so well.
const SAME: Hertz = Hertz::new(5e3);
/// A line on the other side of the carrier that is as far away has about this level.
const PARTNER_DB: f64 = 10.0;
/// Multiples of a step that are believed.
const MOST_STEPS: f64 = 64.0;

/// How the remark begins on a line whose family is not known.
const NOT_TOLD: &str = "its family is not told: ";
/// Why a line may be the analyser's.
const AGAINST: &str = "it moves against the carrier, as an image in the analyser does and hardly anything that a transmitter makes";
const MAY_BE_IMAGE: &str = "an image of the carrier in the analyser would be there so too: look with another analyser, or with \
                            a filter for the carrier before it, and see whether the line falls with the carrier";

/// Whether a remark of a reading is one of those that tell its family.
pub(super) fn is_told(remark: &str) -> bool {
    remark.starts_with(NOT_TOLD) || is_doubt(remark)
}

/// Whether it says why the line may be the analyser's.
pub(super) fn is_doubt(remark: &str) -> bool {
    [AGAINST, MAY_BE_IMAGE].contains(&remark)
}

/// One line, as it is named.
#[derive(Clone, Copy, Debug)]
struct Line {
    at: Hertz,
    level: Option<Dbm>,
}

/// Names the readings at `places` by how their lines move.
pub(super) fn tell(job: &Job, channel: &Channel, done: &mut Done, places: &[usize], motions: &[Motion]) {
    let lines: Vec<Line> = places
        .iter()
        .map(|place| Line { at: done.held[*place].frequency, level: done.held[*place].level() })
        .collect();
    let mut taken_away = Vec::new();
    for (n, (place, motion)) in places.iter().zip(motions).enumerate() {
        let known = job.plan.measure.search.as_ref().map_or(&[][..], |search| &search.references);
        let name = name(lines[n].at, channel.carrier, motion, known, &lines, motions);
        let partner = has_partner(&lines, n, motion, motions, channel.carrier);
        let alone = matches!(motion, Motion::Times(times) if *times > 0) && !partner;
        let reading = &mut done.held[*place];
        reading.name = Some(if alone { format!("{name}, or an image in the analyser") } else { name });
        if let Motion::NotTold(why) = motion {
            reading.remarks.push(format!("{NOT_TOLD}{why}"));
        }
        let Some(doubt) = doubt(motion, partner) else { continue };
        if matches!(motion, Motion::Times(times) if *times < 0) {
            done.search.responses.extend(reading.level().map(|level| (reading.frequency, level)));
            taken_away.push(*place);
        }
        if matches!(reading.outcome, Outcome::Exceeds) {
            reading.outcome = Outcome::Undecided;
            reading.reason = Some(Reason::new(ReasonCode::AnalyserResponse, doubt));
        } else {
            reading.remarks.push(doubt);
        }
    }
    // What the analyser makes is no reading of the unit, unless it hides whether one would comply.
    for place in taken_away.into_iter().rev() {
        if done.held[place].outcome == Outcome::Complies {
            done.held.remove(place);
        }
    }
    for (ordinal, reading) in (done.numbered + 1..).zip(&mut done.held) {
        reading.ordinal = ordinal;
    }
}

/// Why a line may be the analyser's although it comes and goes with the key.
fn doubt(motion: &Motion, partner: bool) -> Option<String> {
    match motion {
        Motion::Still | Motion::Share(..) => None,
        Motion::Times(times) if *times < 0 => Some(AGAINST.to_owned()),
        Motion::Times(_) if partner => None,
        Motion::Times(_) | Motion::NotTold(_) => Some(MAY_BE_IMAGE.to_owned()),
    }
}

/// Whether another line stands as far on the other side of what this one moves with: an image has no such twin.
fn has_partner(lines: &[Line], n: usize, motion: &Motion, motions: &[Motion], carrier: Hertz) -> bool {
    let Motion::Times(times) = motion else { return false };
    let centre = carrier * f64::from(*times);
    let twin = centre * 2.0 - lines[n].at;
    lines.iter().zip(motions).any(|(other, of_other)| {
        let level = other.level.zip(lines[n].level).map(|(one, other)| (one - other).abs());
        of_other == motion
            && (other.at - twin).get().abs() <= SAME.get()
            && level.is_some_and(|apart| apart <= Db::new(PARTNER_DB))
    })
}

fn name(
    at: Hertz,
    carrier: Hertz,
    motion: &Motion,
    known: &[Hertz],
    lines: &[Line],
    motions: &[Motion],
) -> String {
    let same = |other: &Motion| other == motion;
    let of_kind = |place: &dyn Fn(Hertz) -> f64| -> Vec<f64> {
        let all = lines.iter().zip(motions).filter(|(_, other)| same(other));
        all.map(|(line, _)| place(line.at).abs()).collect()
    };
    match motion {
        Motion::NotTold(_) => format!("family not told, at {}", shown(at)),
        Motion::Share(order, 1) => format!("harmonic {order}"),
        Motion::Share(part, of) if part < of => format!("sub-harmonic, {part}/{of} of the carrier"),
        Motion::Share(part, of) => format!("{part}/{of} of the carrier"),
        Motion::Still => {
            let step = multiple(at.get(), known, &of_kind(&|at| at.get()));
            format!("clock at {}{}", shown(at), step.map_or_else(String::new, |step| format!(", {step}")))
        }
        Motion::Times(times) if *times < 0 => format!("response of the analyser, at {}", shown(at)),
        Motion::Times(times) => {
            let centre = carrier.get() * f64::from(*times);
            let offset = at.get() - centre;
            let step = multiple(offset.abs(), known, &of_kind(&|at| at.get() - centre));
            let sign = if offset < 0.0 { '-' } else { '+' };
            let of = if *times == 1 { String::new() } else { format!(" of harmonic {times}") };
            let step = step.map_or_else(String::new, |step| format!(", {step}"));
            let offset = nominal(offset.abs(), known);
            format!("reference spur at {sign}{}{of}{step}", shown(Hertz::new(offset)))
        }
    }
}

/// A frequency to the kilohertz, as well as a look shows it.
fn shown(at: Hertz) -> Hertz {
    Hertz::new((at.get() / 1e3).round() * 1e3)
}

/// The multiple of a known frequency that it is, or else itself.
fn nominal(of: f64, known: &[Hertz]) -> f64 {
    let multiples = known.iter().map(|step| (of / step.get()).round() * step.get());
    multiples.filter(|near| *near > 0.0).find(|near| (near - of).abs() <= SAME.get()).unwrap_or(of)
}

/// Which multiple of a known frequency it is, or else of the smallest of its kind that the others are multiples of.
fn multiple(of: f64, known: &[Hertz], kind: &[f64]) -> Option<String> {
    let times = |step: f64| {
        let times = (of / step).round();
        let fits =
            (1.0..=MOST_STEPS).contains(&times) && (of - times * step).abs() <= SAME.get() * times.sqrt();
        fits.then_some(times)
    };
    if let Some((step, times)) = known.iter().find_map(|step| Some((step, times(step.get())?))) {
        return Some(format!("{times} × {step}"));
    }
    let least = kind.iter().copied().reduce(f64::min)?;
    let found = times(least).filter(|times| *times > 1.0)?;
    Some(format!("{found} × {}", shown(Hertz::new(least))))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn named(mhz: f64, motion: &Motion, others: &[(f64, Motion)]) -> String {
        let all: Vec<(f64, Motion)> = others.iter().cloned().chain([(mhz, motion.clone())]).collect();
        let line = |mhz: f64| Line { at: Hertz::from_mhz(mhz), level: Some(Dbm::new(-40.0)) };
        let lines: Vec<Line> = all.iter().map(|(mhz, _)| line(*mhz)).collect();
        let motions: Vec<Motion> = all.iter().map(|(_, motion)| motion.clone()).collect();
        let known = [Hertz::from_mhz(12.8)];
        name(Hertz::from_mhz(mhz), Hertz::from_mhz(145.0), motion, &known, &lines, &motions)
    }

    #[test]
    fn names_say_what_a_line_goes_by() {
        let once = Motion::Times(1);
        assert_eq!(named(157.8, &once, &[]), "reference spur at +12.8 MHz, 1 × 12.8 MHz");
        assert_eq!(named(119.4, &once, &[]), "reference spur at -25.6 MHz, 2 × 12.8 MHz");
        assert_eq!(named(155.0, &once, &[(150.0, Motion::Times(1))]), "reference spur at +10 MHz, 2 × 5 MHz");
        assert_eq!(named(26.0, &Motion::Still, &[]), "clock at 26 MHz");
        assert_eq!(named(72.5, &Motion::Share(1, 2), &[]), "sub-harmonic, 1/2 of the carrier");
        assert_eq!(named(100.0, &Motion::Times(-1), &[]), "response of the analyser, at 100 MHz");
    }

    /// An image stands on one side only; what a synthesiser makes stands on both.
    #[test]
    fn a_twin_on_the_other_side_is_no_image() {
        let line = |mhz: f64, level: f64| Line { at: Hertz::from_mhz(mhz), level: Some(Dbm::new(level)) };
        let lines = [line(157.8, -40.0), line(132.2, -42.0), line(100.0, -40.0)];
        let motions = [Motion::Times(1), Motion::Times(1), Motion::Times(1)];
        let partner = |n| has_partner(&lines, n, &motions[n], &motions, Hertz::from_mhz(145.0));
        assert!(partner(0) && partner(1) && !partner(2));
        assert!(doubt(&Motion::Times(1), false).is_some() && doubt(&Motion::Times(1), true).is_none());
        assert!(doubt(&Motion::Still, false).is_none() && doubt(&Motion::Times(-1), true).is_some());
    }
}
