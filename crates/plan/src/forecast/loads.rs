//! Levels at everything that could be harmed, at the upper end of the power window.

use spurline_document::Reader;
use spurline_path::{PartPower, PathError};
use spurline_record::Role;
use spurline_units::{Db, Dbm};

use crate::job::Job;
use crate::model::{Channel, PowerSetting};
use crate::way::{Branch, Place};

/// The margin that is kept to what destroys an input.
const DAMAGE_MARGIN: f64 = 10.0;

/// The two texts that a part can stand in.
pub(super) struct Readers {
    pub(super) plan: Reader,
    pub(super) bench: Reader,
}

impl Readers {
    fn note(&mut self, place: Place, message: String, hint: &str) {
        match place {
            Place::Plan(span) => self.plan.mistake(span, message).hint(hint),
            Place::Bench(span) => self.bench.mistake(span, message).hint(hint),
        }
    }
}

/// One row of parts and what stands at its end.
struct End<'a> {
    branch: &'a Branch,
    name: &'static str,
    damage: Dbm,
    place: Option<Place>,
}

/// Notes every part and every input that would get more than it bears.
pub(super) fn check(
    job: &Job,
    channel: &Channel,
    power: &PowerSetting,
    readers: &mut Readers,
) -> Result<(), PathError> {
    let most = power.window.high();
    let watts = job.plan.unit.rated_power.map_or(most.watts(), |rated| rated.max(most.watts()));
    let mut told: Vec<Place> = Vec::new();
    for end in ends(job) {
        let powers = end.branch.path.power_into_each(watts, channel.carrier)?;
        let loss = end.branch.path.loss_at(channel.carrier)?;
        for (part, place) in powers.iter().zip(&end.branch.places).filter(|(part, _)| part.is_overrated()) {
            // A part that several ways pass is told once.
            if !told.contains(place) {
                note_overrated(readers, part, *place, channel, power);
                told.push(*place);
            }
        }
        let level = watts.to_dbm() - loss.total;
        let most = end.damage - Db::new(DAMAGE_MARGIN);
        if let Some(place) = end.place.filter(|place| level > most && !told.contains(place)) {
            let message = format!(
                "`{}` at `{}` would bring {level:.1} to the {}'s input; at most {most:.1} is allowed, \
                 {DAMAGE_MARGIN} dB below what destroys it",
                channel.name, power.name, end.name
            );
            readers.note(place, message, "put more attenuation between the unit and this instrument");
            told.push(place);
        }
    }
    meter_range(job, channel, power, readers)
}

/// A power meter outside the levels that it reads shows a figure all the same.
fn meter_range(
    job: &Job,
    channel: &Channel,
    power: &PowerSetting,
    readers: &mut Readers,
) -> Result<(), PathError> {
    let bench = &job.bench;
    let (Some(branch), Some(profile), Some(instrument)) =
        (&bench.meter, bench.meter_profile(), bench.instrument(Role::PowerMeter))
    else {
        return Ok(());
    };
    let loss = branch.path.loss_at(channel.carrier)?.total;
    let ends = [power.window.low(), power.window.high()].map(|end| end.dbm() - loss);
    if let Some(level) = ends.into_iter().find(|level| !profile.level.contains(*level)) {
        let message = format!(
            "`{}` at `{}` would bring {level:.1} to the power meter, which reads {:.0}",
            channel.name, power.name, profile.level
        );
        let hint =
            "change the attenuation in its branch so that the whole window of power lies within its range";
        readers.note(Place::Bench(instrument.address_span), message, hint);
    }
    Ok(())
}

fn ends(job: &Job) -> Vec<End<'_>> {
    let bench = &job.bench;
    let address = |role| bench.instrument(role).map(|instrument| Place::Bench(instrument.address_span));
    let input = bench.input.span.map(Place::Bench).or(address(Role::Analyser));
    let mut ways = vec![job.carrier_way()];
    if !job.one_key_down() {
        ways.push(job.harmonics_way());
    }
    let to_analyser = ways.into_iter().map(|way| End {
        branch: &way.branch,
        name: "analyser",
        damage: bench.input.damage,
        place: input,
    });
    let meter = bench.meter.as_ref().zip(bench.meter_profile()).map(|(branch, profile)| End {
        branch,
        name: "power meter",
        damage: profile.damage,
        place: address(Role::PowerMeter),
    });
    to_analyser.chain(meter).collect()
}

fn note_overrated(
    readers: &mut Readers,
    part: &PartPower,
    place: Place,
    channel: &Channel,
    power: &PowerSetting,
) {
    let rated = part.rated.map_or_else(String::new, |rated| rated.to_string());
    let message = format!(
        "`{}` at `{}` would put {:.2} into `{}`, which is rated for {rated}",
        channel.name, power.name, part.incident, part.name
    );
    let hint = "use a part that is rated for more; what it is rated for holds at room temperature, with air around it";
    readers.note(place, message, hint);
}
