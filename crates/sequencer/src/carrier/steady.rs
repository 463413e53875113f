//! Whether the carrier stays what it is: within a look, from the beginning of a key-down to its end, and in its width.

use spurline_plan::{CARRIER_CHANGE_DB, CARRIER_ERROR, Job, Modulation, PowerSetting, noise_at_input};
use spurline_record::{Acquisition, Reason, ReasonCode};
use spurline_units::{Db, Dbm, Hertz};

use super::PRESENT_DB;
use crate::trace::{self, Course};

/// The standard deviation of a single sample of a line that stands `SNR` dB above the noise, in dB, is this times
/// 10^(-SNR/20): 20 log10(e) over the root of two (high signal-to-noise limit of the Rice distribution).
const SAMPLE_DB: f64 = 6.142;
/// The share of power that the occupied bandwidth holds (ITU-R SM.328: 0.5 % left out on either side).
const SHARE: f64 = 0.99;
/// So many bandwidths of a Gaussian filter hold that share of a line, and of one of four synchronously tuned poles
/// (scipy 1.17.1); filters of more noise bandwidth than the bound between them are taken for the latter.
const OF_A_LINE: [f64; 2] = [2.187_7, 3.04];
const GAUSSIAN_UP_TO: f64 = 1.09;
/// Shares of time that are as near as this are the same: a burst rises and falls.
pub(super) const SHARE_APART: f64 = 0.03;
/// From this depth on an amplitude swings by 15 dB: 20 log10((1 + m) / (1 - m)).
const GOES_OFF: f64 = 0.69;
/// What is wider than a line by this factor is not one.
const WIDER: f64 = 1.15;

/// How the carrier goes in a look at it in zero span.
pub(crate) fn course(job: &Job, look: &Acquisition) -> Option<(Course, Db)> {
    let settings = &look.settings;
    let level = mean_level(look)?;
    let noise = noise_at_input(job.bench.analyser_profile(), settings.rbw, settings.attenuation);
    let scatter = Db::new(SAMPLE_DB * (noise - level).amplitude_ratio());
    Course::of(look, scatter, Db::new(CARRIER_CHANGE_DB))
}

/// Whether the plan says that the carrier goes like this.
pub(super) fn is_declared(course: &Course, modulation: &Modulation) -> bool {
    match course {
        Course::Constant => true,
        Course::OnAndOff { .. } => match modulation {
            Modulation::Burst { .. } => true,
            // So deep a swing goes below what counts as there.
            Modulation::Am { depth, .. } => *depth >= GOES_OFF,
            Modulation::None | Modulation::Tone { .. } => false,
        },
        Course::Swinging { .. } | Course::Unsteady(_) => matches!(modulation, Modulation::Am { .. }),
        Course::Falling(_) | Course::Rising(_) => false,
    }
}

/// What a carrier does other than the bursts that the plan says it comes in.
pub(super) fn no_such_burst(course: &Course, modulation: &Modulation) -> Option<String> {
    let Modulation::Burst { .. } = modulation else { return None };
    let said = modulation.duty();
    match course {
        Course::OnAndOff { share } if (share - said).abs() > SHARE_APART => Some(format!(
            "the carrier is there for {:.0} % of the time, where the plan's bursts take {:.0} %",
            share * 100.0,
            said * 100.0
        )),
        Course::Constant => {
            Some("the carrier is there all the time, where the plan says that it comes in bursts".to_owned())
        }
        _ => None,
    }
}

/// By how much the carrier changed from the first look in zero span to the last one of a key-down, and why nothing that
/// was read in between counts, if that is too much.
pub(crate) fn changed(
    job: &Job,
    power: &PowerSetting,
    first: &Acquisition,
    last: &Acquisition,
) -> (Option<Db>, Option<Reason>) {
    let in_bursts = matches!(job.plan.modulation, Modulation::Burst { .. });
    let level = if in_bursts { trace::level_while_on } else { mean_level };
    let Some((before, after)) = level(first).zip(level(last)) else { return (None, None) };
    let change = after - before;
    if change.abs().get() <= CARRIER_CHANGE_DB {
        return (Some(change), None);
    }
    let width = power.window.high().dbm() - power.window.low().dbm();
    let ends =
        course(job, last).filter(|(course, _)| !in_bursts && matches!(course, Course::OnAndOff { .. }));
    let text = match change.get() {
        by if ends.is_some() || by < -(PRESENT_DB + width.get()) => format!(
            "the carrier left while its harmonics were read, {:.0} or more below what it was: {}",
            -change,
            if job.bench.key.is_by_hand() {
                "whoever keyed let go too early, or the unit's time-out timer ended it"
            } else {
                "the unit's time-out timer, or it has failed"
            }
        ),
        by if by < 0.0 => format!(
            "the carrier fell by {} while its harmonics were read: droop, or a battery that gives way",
            -change
        ),
        _ => format!("the carrier rose by {change} while its harmonics were read: it had not settled"),
    };
    (Some(change), Some(Reason::new(ReasonCode::CarrierNotConstant, text)))
}

fn mean_level(look: &Acquisition) -> Option<Dbm> {
    let levels = trace::mean_power(&look.sweeps);
    (!levels.is_empty()).then(|| Dbm::new(trace::power_mean(levels.into_iter())))
}

/// How wide the carrier is by itself; zero for a line, and for a burst, whose edges no sweep can tell from a width.
pub(super) fn occupied(job: &Job, look: &Acquisition) -> Hertz {
    if matches!(job.plan.modulation, Modulation::Burst { .. }) {
        return Hertz::new(0.0);
    }
    let poles = job.bench.analyser_profile().noise.bandwidth > GAUSSIAN_UP_TO;
    let line = look.settings.rbw * OF_A_LINE[usize::from(poles)];
    let width = trace::width_of(&trace::mean_power(&look.sweeps), &look.settings, SHARE);
    let wider = width.filter(|width| *width > line * WIDER);
    // What the filter adds to a width adds like a variance.
    wider.map_or(Hertz::new(0.0), |width| Hertz::new((width.get().powi(2) - line.get().powi(2)).sqrt()))
}

/// What a reader should know of a modulation that the plan speaks of and the carrier does not show.
pub(super) fn missing_modulation(job: &Job, course: Option<&Course>, occupied: Hertz) -> Option<String> {
    let told = job.plan.modulation.occupied(1);
    match job.plan.modulation {
        Modulation::Am { .. } if course == Some(&Course::Constant) => Some(
            "the plan says that the carrier's amplitude is modulated, but it is constant: is the tone on?"
                .to_owned(),
        ),
        Modulation::Tone { .. } if occupied < told * 0.5 => Some(format!(
            "the plan's modulation makes the carrier {told:.1} wide, but it shows less than half of that: is the tone on?"
        )),
        _ => None,
    }
}

/// Why harmonics would be looked for where they are not: how far the carrier lies from its channel, if that is too much.
/// The middle of all that stands out is where it is, modulated or not.
pub(super) fn off_frequency(look: &Acquisition, nominal: Hertz) -> Option<Reason> {
    let settings = &look.settings;
    let levels = trace::mean_power(&look.sweeps);
    let off = trace::centre_of(&levels, settings)? - nominal;
    if off.get().abs() <= CARRIER_ERROR.get() {
        return None;
    }
    let side = if off.get() > 0.0 { "above" } else { "below" };
    let text = format!(
        "the carrier lies {:.1} {side} its channel: its harmonics are not where they are looked for. Tune the unit, or \
         correct the plan",
        Hertz::new(off.get().abs())
    );
    Some(Reason::new(ReasonCode::OffFrequency, text))
}

/// What a reader should know of a width that the plan does not explain.
pub(super) fn remark(job: &Job, occupied: Hertz) -> Option<String> {
    let told = job.plan.modulation.occupied(1);
    if occupied.get() == 0.0 || occupied <= told * 1.5 {
        return None;
    }
    let plan = match job.plan.modulation {
        Modulation::None => "the plan says that nothing modulates it".to_owned(),
        _ => format!("the plan's modulation makes it {told:.1} wide"),
    };
    Some(format!(
        "the carrier is about {occupied:.1} wide, but {plan}: a sub-audible tone left on, hum, or a microphone? Each \
         harmonic is taken to be as many times as wide as its order, and its power is integrated"
    ))
}
