//! Levels at everything that could be harmed, at the upper end of the power window.

use spurline_path::PathError;
use spurline_record::Role;
use spurline_units::{Db, Watts};

use super::worst::Worst;
use crate::job::Job;
use crate::model::{Channel, PowerSetting};
use crate::overload::{DAMAGE_MARGIN, End};
use crate::settings::{noise_at_input, zero_span_look};
use crate::way::{Place, Way};

/// How far above the noise a carrier must stand for its variation in zero span to be its own: with an RMS detector
/// over hundreds of samples a point, noise 10 dB down moves 101 points by about 0.4 dB.
const SEEN_CONSTANT_DB: f64 = 10.0;

/// Notes every part and every input that would get more than it bears.
pub(super) fn check(
    job: &Job,
    channel: &Channel,
    power: &PowerSetting,
    worst: &mut Worst,
) -> Result<(), PathError> {
    let watts = job.most_of(power);
    let what = format!("`{}` at `{}`", channel.name, power.name);
    for end in job.ends(ways(job)) {
        overrated(&end, channel, watts, &what, worst)?;
        damaged(job, &end, channel, watts, &what, worst)?;
    }
    carrier_in_sight(job, channel, power, &what, worst)?;
    meter_range(job, channel, power, &what, worst)
}

/// On the key-down of the harmonics the analyser must still see that the carrier came and is constant.
fn carrier_in_sight(
    job: &Job,
    channel: &Channel,
    power: &PowerSetting,
    what: &str,
    worst: &mut Worst,
) -> Result<(), PathError> {
    if job.one_key_down() {
        return Ok(());
    }
    let (way, profile) = (job.harmonics_way(), job.bench.analyser_profile());
    let loss = way.branch.path.loss_at(channel.carrier)?.total;
    let settings = zero_span_look(profile, channel.carrier, power.window.high().dbm() - loss).settings;
    let level = power.window.low().dbm() - loss;
    let above = level - noise_at_input(profile, settings.rbw, settings.attenuation);
    if above.get() < SEEN_CONSTANT_DB {
        let message = format!(
            "{what} would leave {level:.1} of the carrier at the analyser by the path `{}`, {above:.1} above the noise: \
             too little to see that it is constant",
            way.name
        );
        let hint = "let this path hold back less of the carrier, or lose less before the analyser";
        let span = job.plan.ways.harmonics.as_ref().map_or(channel.carrier_span, |(_, span)| *span);
        worst.note(Place::Plan(span), -above.get(), message, hint);
    }
    Ok(())
}

fn overrated(
    end: &End<'_>,
    channel: &Channel,
    watts: Watts,
    what: &str,
    worst: &mut Worst,
) -> Result<(), PathError> {
    let powers = end.branch.path.power_into_each(watts, channel.carrier)?;
    for (part, place) in powers.iter().zip(&end.branch.places) {
        let Some(rated) = part.rated.filter(|_| part.is_overrated()) else { continue };
        let message =
            format!("{what} would put {:.2} into `{}`, which is rated for {rated}", part.incident, part.name);
        let hint = "use a part that is rated for more; what it is rated for holds at room temperature, with air around it";
        worst.note(*place, part.incident / rated, message, hint);
    }
    Ok(())
}

fn damaged(
    job: &Job,
    end: &End<'_>,
    channel: &Channel,
    watts: Watts,
    what: &str,
    worst: &mut Worst,
) -> Result<(), PathError> {
    let level = watts.to_dbm() - end.branch.path.loss_at(channel.carrier)?.total;
    let most = end.damage - Db::new(DAMAGE_MARGIN);
    if let Some(place) = place(job, end).filter(|_| level > most) {
        let message = format!(
            "{what} would bring {level:.1} to the {}'s input; at most {most:.1} is allowed, {DAMAGE_MARGIN} dB \
             below what destroys it",
            end.name
        );
        let hint = "put more attenuation between the unit and this instrument";
        worst.note(place, 1e3 + (level - most).get(), message, hint);
    }
    Ok(())
}

/// A power meter outside the levels that it reads shows a figure all the same.
fn meter_range(
    job: &Job,
    channel: &Channel,
    power: &PowerSetting,
    what: &str,
    worst: &mut Worst,
) -> Result<(), PathError> {
    let bench = &job.bench;
    let (Some(branch), Some(profile), Some(instrument)) =
        (&bench.meter, bench.meter_profile(), bench.instrument(Role::PowerMeter))
    else {
        return Ok(());
    };
    let loss = branch.path.loss_at(channel.carrier)?.total;
    for level in [power.window.low(), power.window.high()].map(|end| end.dbm() - loss) {
        let range = profile.level;
        let beyond = (range.low() - level).max(level - range.high());
        if beyond.get() > 0.0 {
            let message = format!("{what} would bring {level:.1} to the power meter, which reads {range:.0}");
            let hint = "change the attenuation in its branch so that the whole window of power lies within its range";
            worst.note(Place::Bench(instrument.address_span), beyond.get(), message, hint);
        }
    }
    Ok(())
}

/// The ways on which the plan keys the unit.
fn ways(job: &Job) -> impl Iterator<Item = &Way> {
    let second = (!job.one_key_down()).then(|| job.harmonics_way());
    std::iter::once(job.carrier_way()).chain(second)
}

/// Where the input at an end is written: the analyser's own key, or the instrument.
fn place(job: &Job, end: &End<'_>) -> Option<Place> {
    let own = job.bench.input.span.filter(|_| end.role == Role::Analyser);
    own.or(job.bench.instrument(end.role).map(|instrument| instrument.address_span)).map(Place::Bench)
}
