//! What can be known of the readings of the carrier's own spectrum beforehand.

use spurline_judge::{COVERAGE, COVERAGE_PROBABILITY};
use spurline_limits::{Facts, Question, Rule};
use spurline_path::PathError;
use spurline_record::{Quantity, Unit};
use spurline_units::{Db, Dbm, Hertz};

use super::{Prospect, Task, carrier_uncertainty, prospect_of_window};
use crate::budget::ratio_budget;
use crate::job::Job;
use crate::model::{Channel, PowerSetting};
use crate::settings::Look;
use crate::spectrum::{AskedReading, SpectrumTask, frequency_figures, own_noise, width_figures};

/// One reading of the carrier's own spectrum.
#[derive(Clone, Debug, PartialEq)]
pub struct SpectrumForecast {
    /// What it is, and where.
    pub asked: AskedReading,
    /// The way to the analyser.
    pub path: String,
    /// The limit that can be told now: the largest figure that complies, and its unit.
    pub limit: Option<(f64, Unit)>,
    /// The uncertainty that is known beforehand, in the unit of a difference of two figures.
    pub expanded: Option<(f64, Unit)>,
    /// What the analyser itself adds, at the connector, where levels are read.
    pub floor: Option<Dbm>,
    /// How it is looked at.
    pub choice: String,
    /// Whether it can be decided.
    pub prospect: Prospect,
}

/// So many places of a mask are held against what the analyser adds there.
const PLACES: u32 = 50;

/// The readings, and what is done for them while the key is down.
pub(super) fn forecast(
    job: &Job,
    channel: &Channel,
    power: &PowerSetting,
) -> Result<(Vec<SpectrumForecast>, Vec<Task>), PathError> {
    let tasks = job.spectrum_tasks(channel, power)?;
    let mut readings = Vec::new();
    for task in &tasks {
        for asked in job.asked_of(task, channel) {
            readings.push(reading(job, channel, power, task, asked)?);
        }
    }
    let tasks =
        tasks.iter().map(|task| Task { what: task.what().to_owned(), number: None, time: task.time() });
    Ok((readings, tasks.collect()))
}

fn reading(
    job: &Job,
    channel: &Channel,
    power: &PowerSetting,
    task: &SpectrumTask,
    asked: AskedReading,
) -> Result<SpectrumForecast, PathError> {
    let quantity = asked.quantity;
    let look = *task.looks().last().expect("every task has a look");
    let mut forecast = SpectrumForecast {
        asked,
        path: job.carrier_way().name.clone(),
        limit: None,
        expanded: None,
        floor: None,
        choice: choice(look),
        prospect: Prospect::Able,
    };
    let own = &job.plan.measure.spectrum;
    match quantity {
        Quantity::OccupiedBandwidth => {
            let limit = job.occupied_limit().map(|(limit, _)| limit);
            of_width(job, look, limit, &mut forecast);
        }
        Quantity::XdbBandwidth => {
            let limit = own.x_db.as_ref().and_then(|asked| asked.at_most);
            of_width(job, look, limit, &mut forecast);
        }
        Quantity::Band => of_band(job, channel, look, &mut forecast),
        Quantity::ChannelPower => {
            let expanded = carrier_uncertainty(job, channel, power)?;
            forecast.expanded = Some((expanded.get(), Unit::Db));
            forecast.prospect = prospect_of_window(job.plan.decision, power.window, expanded);
        }
        Quantity::FrequencyError => of_frequency(job, channel, power, look, &mut forecast),
        Quantity::AdjacentChannelPower => of_adjacent(job, channel, power, look, &mut forecast)?,
        _ => of_mask(job, channel, power, look, &mut forecast)?,
    }
    if let Some(reason) = job.spectrum_without_sense(quantity) {
        forecast.prospect = Prospect::Unable(reason.text);
    }
    Ok(forecast)
}

fn of_width(job: &Job, look: &Look, limit: Option<Hertz>, forecast: &mut SpectrumForecast) {
    let expanded = width_figures(job.bench.analyser_profile(), look).coverage(COVERAGE_PROBABILITY).expanded;
    forecast.expanded = Some((expanded.get(), Unit::Hz));
    forecast.limit = limit.map(|limit| (limit.get(), Unit::Hz));
    forecast.prospect = match limit {
        None => Prospect::NoLimit("nothing says how wide it may be: write `at_most`".to_owned()),
        Some(limit) if limit <= expanded => Prospect::Unable(format!(
            "the limit of {limit} is no wider than the uncertainty of {expanded:.0}: a narrower RBW takes a longer key-down"
        )),
        Some(_) => Prospect::Able,
    };
}

/// By the place that the emission will have if it is as wide as expected.
fn of_band(job: &Job, channel: &Channel, look: &Look, forecast: &mut SpectrumForecast) {
    let half = job.expected_width() / 2.0;
    let Some(asked) = job.band(channel.carrier - half, channel.carrier + half) else { return };
    let widths = asked.places.iter().map(|(range, widest)| {
        let all = range.high() - range.low();
        widest.map_or(all, |widest| widest.min(all))
    });
    of_width(job, look, widths.reduce(Hertz::min), forecast);
    if let Some(needs) = asked.needs() {
        forecast.prospect = Prospect::Unable(needs);
    } else if asked.places.is_empty() {
        forecast.prospect = Prospect::NoLimit("the table has no band for this emission".to_owned());
    }
}

fn of_frequency(
    job: &Job,
    channel: &Channel,
    power: &PowerSetting,
    look: &Look,
    forecast: &mut SpectrumForecast,
) {
    let powers = [power.window.low().watts(), power.window.high().watts()];
    let Some(asked) = job.tolerance(channel.carrier, &powers) else { return };
    let Some(limit) = asked.possible.first().copied().filter(|_| asked.missing.is_empty()) else {
        forecast.prospect = match asked.needs() {
            Some(needs) => Prospect::Unable(needs),
            None => Prospect::NoLimit("the rule has no tolerance for this carrier".to_owned()),
        };
        return;
    };
    forecast.limit = Some((limit.get(), Unit::Hz));
    let figures = frequency_figures(job.bench.analyser_profile(), channel.carrier, look.settings.spacing());
    forecast.prospect = match figures.map(|figures| figures.coverage(COVERAGE_PROBABILITY).expanded) {
        None => Prospect::Unable(
            "the analyser's profile does not say how good its frequencies are: state `frequency_reference`"
                .to_owned(),
        ),
        Some(expanded) => {
            forecast.expanded = Some((expanded.get(), Unit::Hz));
            if expanded < limit {
                Prospect::Able
            } else {
                Prospect::Unable(format!(
                    "the tolerance of {limit:.0} is no wider than the uncertainty of {expanded:.0}: an external frequency \
                     reference would help"
                ))
            }
        }
    };
}

fn of_adjacent(
    job: &Job,
    channel: &Channel,
    power: &PowerSetting,
    look: &Look,
    forecast: &mut SpectrumForecast,
) -> Result<(), PathError> {
    let Some(adjacent) = &job.plan.measure.spectrum.adjacent else { return Ok(()) };
    let carrier = power.window.high().dbm();
    let expanded = ratio_budget(job.bench.analyser_profile(), false).expanded(COVERAGE);
    forecast.expanded = Some((expanded.get(), Unit::Db));
    let limit = match adjacent.below {
        Some(below) => Some(carrier - below),
        None => strictest(job.adjacent_rule(), channel, power, forecast.asked.frequency),
    };
    let half = adjacent.width / 2.0;
    let floor = own_floor(job, channel, power, look, (adjacent.spacing - half)..=(adjacent.spacing + half))?;
    beside(limit, floor, expanded, forecast);
    Ok(())
}

fn of_mask(
    job: &Job,
    channel: &Channel,
    power: &PowerSetting,
    look: &Look,
    forecast: &mut SpectrumForecast,
) -> Result<(), PathError> {
    let expanded = ratio_budget(job.bench.analyser_profile(), true).expanded(COVERAGE);
    forecast.expanded = Some((expanded.get(), Unit::Db));
    let (rule, facts) = job.mask_rule();
    let (out_to, carrier) = (job.mask_out_to(), power.window.high().dbm());
    let mut worst: Option<(Db, Dbm, Option<Dbm>)> = None;
    for place in 1..=PLACES {
        let offset = out_to * (f64::from(place) / f64::from(PLACES));
        let Some(limit) = strictest((rule, facts), channel, power, channel.carrier + offset) else {
            continue;
        };
        if limit >= carrier {
            continue;
        }
        let half = look.settings.rbw / 2.0;
        let floor = own_floor(job, channel, power, look, (offset - half)..=(offset + half))?;
        // Where nobody states the oscillator's noise, the input's is the least that there is.
        let room = limit - floor.0;
        if worst.is_none_or(|(least, ..)| room < least) {
            worst = Some((room, limit, floor.1));
        }
    }
    match worst {
        Some((room, limit, stated)) => beside(Some(limit), (limit - room, stated), expanded, forecast),
        None => beside(None, (Dbm::new(0.0), None), expanded, forecast),
    }
    Ok(())
}

/// What the analyser adds at the connector: what is known of it, and the same if that is all.
fn own_floor(
    job: &Job,
    channel: &Channel,
    power: &PowerSetting,
    look: &Look,
    offsets: std::ops::RangeInclusive<Hertz>,
) -> Result<(Dbm, Option<Dbm>), PathError> {
    let way = job.carrier_way();
    let loss = way.branch.path.loss_at(channel.carrier)?.total;
    let at_input = job.carrier_at_analyser(way, channel, power)?;
    let attenuation = look.settings.attenuation;
    let occupied = job.plan.modulation.occupied(1);
    let own = own_noise(job.bench.analyser_profile(), attenuation, at_input, occupied, offsets);
    let total = own.total().map(|total| total.to_dbm() + loss);
    Ok((total.unwrap_or(own.thermal + loss), total))
}

/// Whether a level beside the carrier can be decided with what the analyser adds there.
fn beside(
    limit: Option<Dbm>,
    (floor, stated): (Dbm, Option<Dbm>),
    expanded: Db,
    forecast: &mut SpectrumForecast,
) {
    let Some(limit) = limit else {
        forecast.prospect = Prospect::NoLimit("the rule has no number here".to_owned());
        return;
    };
    forecast.limit = Some((limit.get(), Unit::Dbm));
    forecast.floor = Some(floor);
    let most = limit - expanded;
    forecast.prospect = if floor >= most {
        Prospect::Unable(format!(
            "the analyser itself may add {floor:.1} there, {:.1} more than the {most:.1} that may be read: an analyser with \
             less noise beside a carrier would help",
            floor - most
        ))
    } else if stated.is_none() {
        forecast.choice.push_str(
            "; the analyser's profile does not say how much `phase_noise` it adds so near: nothing is shown to exceed",
        );
        Prospect::Able
    } else {
        Prospect::Able
    };
}

/// The strictest limit of a rule at a place, over the window of power.
fn strictest(
    (rule, facts): (&Rule, &Facts),
    channel: &Channel,
    power: &PowerSetting,
    at: Hertz,
) -> Option<Dbm> {
    [power.window.low(), power.window.high()]
        .into_iter()
        .filter_map(|power| Question::new(channel.carrier, power.watts()).ok())
        .flat_map(|question| rule.limit(&question.at(at), facts).branches().to_vec())
        .filter_map(|finding| finding.level())
        .reduce(Dbm::min)
}

fn choice(look: &Look) -> String {
    let settings = &look.settings;
    format!(
        "RBW {}, {} points in {} of span, attenuation {:.0}, {} sweeps of {:.2}",
        settings.rbw, settings.points, settings.span, settings.attenuation, look.sweeps, settings.sweep_time
    )
}
