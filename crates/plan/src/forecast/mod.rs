//! What can be known without an instrument: levels at every part, limits, floors, times, and what cannot be
//! decided on this bench.

use std::time::Duration;

use spurline_document::{Mistakes, Reader};
use spurline_judge::COVERAGE;
use spurline_limits::Verdict;
use spurline_path::{PartPower, PathError};
use spurline_record::{Role, Scope};
use spurline_units::{Db, Dbm, Hertz, Power, Range, Seconds, Watts};

use crate::approach::Approach;
use crate::bench::first_line;
use crate::budget::analyser_budget;
use crate::job::Job;
use crate::model::{Channel, PowerSetting};
use crate::settings::{Look, SETTLE, carrier_look, noise_at_input, own_product_at_input, zero_span_look};

/// The margin that is kept to what destroys an input.
const DAMAGE_MARGIN: f64 = 10.0;
/// Round trips and the meter's readings, beside settling and sweeps, for the carrier and for each line.
const CARRIER_EXTRA: Duration = Duration::from_millis(500);
const LINE_EXTRA: Duration = Duration::from_millis(60);

/// What can be known without an instrument.
#[derive(Clone, Debug, PartialEq)]
pub struct Forecast {
    /// One for each channel and power setting.
    pub scopes: Vec<ScopeForecast>,
    /// What a person should know before keying.
    pub notes: Vec<String>,
}

/// One channel and power setting.
#[derive(Clone, Debug, PartialEq)]
pub struct ScopeForecast {
    /// Which.
    pub scope: Scope,
    /// The window of the carrier's power.
    pub window: Range<Power>,
    /// The carrier's level at the analyser's input, at the upper end of the window.
    pub analyser_input: Dbm,
    /// The carrier's level at the sensor, at the upper end of the window.
    pub meter_input: Option<Dbm>,
    /// What arrives at each part on the way to the analyser.
    pub parts: Vec<PartLoad>,
    /// How long the key will be down.
    pub keyed: Seconds,
    /// The harmonics.
    pub readings: Vec<ReadingForecast>,
}

/// The power at one part of the path.
#[derive(Clone, Debug, PartialEq)]
pub struct PartLoad {
    /// The part.
    pub name: String,
    /// What arrives there.
    pub incident: Watts,
    /// What it is rated for.
    pub rated: Option<Watts>,
}

/// One harmonic.
#[derive(Clone, Debug, PartialEq)]
pub struct ReadingForecast {
    /// Its order.
    pub order: u32,
    /// Its frequency.
    pub frequency: Hertz,
    /// The limit at both ends of the power window; `None` where the rule has no number.
    pub limit: Option<(Dbm, Dbm)>,
    /// The path's loss.
    pub path_loss: Option<Db>,
    /// The input attenuation that will be set.
    pub attenuation: Option<Db>,
    /// The noise floor to be expected, at the connector.
    pub floor: Option<Dbm>,
    /// The most that the analyser itself can make there, at the connector.
    pub own_product: Option<Dbm>,
    /// The uncertainty that is known beforehand.
    pub expanded: Option<Db>,
    /// Whether it can be decided.
    pub prospect: Prospect,
}

/// Whether a reading can be decided on this bench.
#[derive(Clone, Debug, PartialEq)]
pub enum Prospect {
    /// A line well below the limit will be seen to be.
    Able,
    /// It cannot be shown to comply, for this reason.
    Unable(String),
    /// There is no number to decide against.
    NoLimit(String),
}

impl Forecast {
    /// Looks ahead.
    ///
    /// # Errors
    ///
    /// What would overload a part or an instrument, or break the plan's own key-down time, each at its place in
    /// the file.
    pub fn of(job: &Job) -> Result<Self, Mistakes> {
        let mut plan = Reader::new(&job.document);
        let mut bench = Reader::new(&job.bench.document);
        let mut scopes = Vec::new();
        for channel in &job.plan.channels {
            for power in &channel.powers {
                let looked = check_loads(job, channel, power, &mut bench)
                    .and_then(|()| forecast_scope(job, channel, power));
                let scope = match looked {
                    Ok(scope) => scope,
                    Err(error) => {
                        plan.mistake(channel.carrier_span, first_line(&error));
                        continue;
                    }
                };
                if scope.keyed > job.plan.key.longest {
                    let span = job.plan.key.span.unwrap_or(channel.carrier_span);
                    plan.mistake(
                        span,
                        format!(
                            "`{}` at `{}` needs a key-down of {:.1}, longer than the {} that the plan allows",
                            channel.name, power.name, scope.keyed, job.plan.key.longest
                        ),
                    )
                    .hint("allow a longer key-down if the unit can bear it, or measure fewer harmonics");
                }
                scopes.push(scope);
            }
        }
        plan.adopt(bench.finish(Some(())));
        plan.finish(Some(Self { scopes, notes: notes(job) }))
    }
}

fn notes(job: &Job) -> Vec<String> {
    let mut notes = Vec::new();
    if job.bench.key.opens_by_itself.is_none() {
        notes.push(
            "the relay does not open by itself: if program and host die, the unit stays keyed until its own \
             time-out timer ends it. Set that timer, and know its value"
                .to_owned(),
        );
    }
    if let Some(caveat) = job.rule.status().caveat() {
        notes.push(format!("{caveat}: `{}` is {}", job.plan.rule, job.rule.status()));
    }
    notes
}

/// Levels at everything that could be harmed, at the upper end of the power window.
fn check_loads(
    job: &Job,
    channel: &Channel,
    power: &PowerSetting,
    bench: &mut Reader,
) -> Result<(), PathError> {
    let most = power.window.high();
    let watts = job.plan.unit.rated_power.map_or(most.watts(), |rated| rated.max(most.watts()));
    let branches = [
        Some((&job.bench.analyser, "analyser", job.bench.input.damage, job.bench.input.span, Role::Analyser)),
        job.bench
            .meter
            .as_ref()
            .zip(job.bench.meter_profile())
            .map(|(branch, profile)| (branch, "power meter", profile.damage, None, Role::PowerMeter)),
    ];
    for (branch, name, damage, span, role) in branches.into_iter().flatten() {
        let powers = branch.path.power_into_each(watts, channel.carrier)?;
        let loss = branch.path.loss_at(channel.carrier)?;
        for (part, span) in powers.iter().zip(&branch.spans).filter(|(part, _)| part.is_overrated()) {
            note_overrated(bench, part, *span, channel, power);
        }
        let level = watts.to_dbm() - loss.total;
        let most = damage - Db::new(DAMAGE_MARGIN);
        if level > most {
            let place = job.bench.instrument(role).map(|instrument| instrument.address_span);
            let Some(place) = span.or(place) else { continue };
            bench
                .mistake(place, format!(
                    "`{}` at `{}` would bring {level:.1} to the {name}'s input; at most {most:.1} is allowed, \
                     {DAMAGE_MARGIN} dB below what destroys it",
                    channel.name, power.name
                ))
                .hint("put more attenuation between the unit and this instrument");
        }
    }
    Ok(())
}

fn note_overrated(
    bench: &mut Reader,
    part: &PartPower,
    span: spurline_document::Span,
    channel: &Channel,
    power: &PowerSetting,
) {
    let rated = part.rated.map_or_else(String::new, |rated| rated.to_string());
    bench
        .mistake(span, format!(
            "`{}` at `{}` would put {:.2} into `{}`, which is rated for {rated}",
            channel.name, power.name, part.incident, part.name
        ))
        .hint("use a part that is rated for more; what it is rated for holds at room temperature, with air around it");
}

fn forecast_scope(job: &Job, channel: &Channel, power: &PowerSetting) -> Result<ScopeForecast, PathError> {
    let profile = job.bench.analyser_profile();
    let most = power.window.high().watts();
    let analyser_input = job.carrier_at_analyser(channel, power)?;
    let meter_loss = job.bench.meter.as_ref().map(|meter| meter.path.loss_at(channel.carrier)).transpose()?;
    let powers = job.bench.analyser.path.power_into_each(most, channel.carrier)?;
    let mut looks = vec![
        zero_span_look(profile, channel.carrier, analyser_input),
        carrier_look(profile, channel.carrier, analyser_input),
    ];
    let mut readings = Vec::new();
    for order in 2..=job.plan.measure.harmonics_up_to {
        let (reading, look) = forecast_reading(job, channel, power, analyser_input, order)?;
        readings.push(reading);
        looks.extend(look);
    }
    Ok(ScopeForecast {
        scope: Scope {
            channel: channel.name.clone(),
            carrier: channel.carrier,
            power_setting: power.name.clone(),
            supply: None,
            path: "analyser".to_owned(),
        },
        window: power.window,
        analyser_input,
        meter_input: meter_loss.map(|loss| most.to_dbm() - loss.total),
        parts: powers
            .into_iter()
            .map(|part| PartLoad { name: part.name, incident: part.incident, rated: part.rated })
            .collect(),
        keyed: keyed_time(&looks),
        readings,
    })
}

/// The time that these looks, of which the first two are at the carrier, take with all that goes with them.
fn keyed_time(looks: &[Look]) -> Seconds {
    let swept: Duration = looks.iter().map(|look| look.settings.sweep_time.duration() * look.sweeps).sum();
    let lines = looks.len().saturating_sub(2) as u32;
    Seconds::from(SETTLE + CARRIER_EXTRA + swept + LINE_EXTRA * lines)
}

/// What can be known of one harmonic, and the look at it if it can be reached.
fn forecast_reading(
    job: &Job,
    channel: &Channel,
    power: &PowerSetting,
    carrier_at_input: Dbm,
    order: u32,
) -> Result<(ReadingForecast, Option<Look>), PathError> {
    let frequency = channel.carrier.harmonic(order);
    let findings = job.findings_over_window(channel, power, order);
    let limit = match findings.as_slice() {
        [low, high] => low.level().zip(high.level()),
        _ => None,
    };
    let mut forecast = ReadingForecast {
        order,
        frequency,
        limit,
        path_loss: None,
        attenuation: None,
        floor: None,
        own_product: None,
        expanded: None,
        prospect: findings
            .iter()
            .find_map(|finding| prospect_of_rule(&finding.verdict))
            .unwrap_or(Prospect::Able),
    };
    let (look, path_loss) = match job.approach(channel, power, order, &findings)? {
        Approach::Within { look, path_loss } => (look, path_loss),
        Approach::Beyond(why) => {
            forecast.prospect = Prospect::Unable(format!("beyond this bench: {why}"));
            return Ok((forecast, None));
        }
    };
    let profile = job.bench.analyser_profile();
    let attenuation = look.settings.attenuation;
    let floor = noise_at_input(profile, look.settings.rbw, attenuation) + path_loss;
    let own =
        own_product_at_input(profile, order, carrier_at_input, attenuation).map(|level| level + path_loss);
    let file = job.instrument(Role::Analyser).profile.source.name();
    let budget = analyser_budget(profile, file, &job.bench.analyser.path, &job.plan.unit, frequency, true)?;
    let expanded = budget.expanded(COVERAGE);
    forecast.path_loss = Some(path_loss);
    forecast.attenuation = Some(attenuation);
    forecast.floor = Some(floor);
    forecast.own_product = own;
    forecast.expanded = Some(expanded);
    if let (Some((low, high)), Prospect::Able) = (limit, &forecast.prospect) {
        forecast.prospect = prospect_of_bench(low.min(high), expanded, floor, own);
    }
    Ok((forecast, Some(look)))
}

fn prospect_of_rule(verdict: &Verdict) -> Option<Prospect> {
    match verdict {
        Verdict::Limit { .. } => None,
        Verdict::NoLimit => Some(Prospect::NoLimit("the rule has no number here".to_owned())),
        Verdict::Exempt => Some(Prospect::NoLimit("the rule's numbers do not apply to this unit".to_owned())),
        Verdict::Undetermined { missing, .. } => {
            Some(Prospect::Unable(format!("the rule needs to know: {}", missing.join(", "))))
        }
    }
}

fn prospect_of_bench(limit: Dbm, expanded: Db, floor: Dbm, own: Option<Dbm>) -> Prospect {
    // A line buried in the floor reads up to 3 dB above it before it counts as a line.
    let bound = floor + Db::new(spurline_judge::RESOLVED_DB);
    let short = |level: Dbm| level + expanded - limit;
    if short(bound).get() > 0.0 {
        return Prospect::Unable(format!(
            "the noise floor, {floor:.1}, is {:.1} too high: a narrower RBW or less loss in the path would help",
            short(bound)
        ));
    }
    match own {
        Some(own) if short(own).get() > 0.0 => Prospect::Unable(format!(
            "the analyser itself may make {own:.1} there, {:.1} too much: a notch for the carrier would help",
            short(own)
        )),
        _ => Prospect::Able,
    }
}
