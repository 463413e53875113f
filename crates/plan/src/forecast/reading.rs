//! What can be known of one harmonic beforehand.

use spurline_judge::{COVERAGE, RESOLVED_DB};
use spurline_limits::{Finding, Verdict};
use spurline_path::PathError;
use spurline_record::Role;
use spurline_units::{Db, Dbm, Hertz};

use crate::approach::Approach;
use crate::budget::analyser_budget;
use crate::job::Job;
use crate::model::{Channel, PowerSetting};
use crate::settings::{Look, noise_at_input, noise_height, own_product_at_input};

/// One harmonic.
#[derive(Clone, Debug, PartialEq)]
pub struct ReadingForecast {
    /// Its order.
    pub order: u32,
    /// Its frequency.
    pub frequency: Hertz,
    /// The way to the analyser.
    pub path: String,
    /// The limit at both ends of the power window; `None` where the rule has no number.
    pub limit: Option<(Dbm, Dbm)>,
    /// The path's loss.
    pub path_loss: Option<Db>,
    /// The input attenuation that will be set.
    pub attenuation: Option<Db>,
    /// The highest noise floor at which a line at it would still be shown to comply, at the connector.
    pub needed_floor: Option<Dbm>,
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

/// What can be known of one harmonic, and the look at it if it can be reached.
pub(super) fn forecast(
    job: &Job,
    channel: &Channel,
    power: &PowerSetting,
    order: u32,
) -> Result<(ReadingForecast, Option<Look>), PathError> {
    let way = job.harmonics_way();
    let frequency = channel.carrier.harmonic(order);
    let findings = job.findings_over_window(channel, power, order);
    let mut forecast = ReadingForecast {
        order,
        frequency,
        path: way.name.clone(),
        limit: limit(&findings),
        path_loss: None,
        attenuation: None,
        needed_floor: None,
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
    let carrier = job.carrier_at_analyser(way, channel, power)?;
    let floor = noise_at_input(profile, look.settings.rbw, attenuation) + path_loss;
    let own = own_product_at_input(profile, order, carrier, attenuation).map(|level| level + path_loss);
    let file = job.instrument(Role::Analyser).profile.source.name();
    let budget = analyser_budget(profile, file, &way.branch.path, &job.plan.unit, frequency, true)?;
    let expanded = budget.expanded(COVERAGE);
    forecast.path_loss = Some(path_loss);
    forecast.attenuation = Some(attenuation);
    forecast.floor = Some(floor);
    forecast.own_product = own;
    forecast.expanded = Some(expanded);
    if let Some((low, high)) = forecast.limit {
        let limit = low.min(high);
        // A line buried in the floor may read 3 dB above the highest noise before it counts as a line.
        let needed = limit - expanded - Db::new(RESOLVED_DB) - noise_height(&look);
        forecast.needed_floor = Some(needed);
        if forecast.prospect == Prospect::Able {
            forecast.prospect = prospect_of_bench(limit - expanded, needed, floor, own);
        }
    }
    Ok((forecast, Some(look)))
}

fn limit(findings: &[Finding]) -> Option<(Dbm, Dbm)> {
    match findings {
        [low, high] => low.level().zip(high.level()),
        _ => None,
    }
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

fn prospect_of_bench(most: Dbm, needed: Dbm, floor: Dbm, own: Option<Dbm>) -> Prospect {
    if floor > needed {
        return Prospect::Unable(format!(
            "the noise floor, {floor:.1}, is {:.1} too high: a narrower RBW or less loss in the path would help",
            floor - needed
        ));
    }
    match own.filter(|own| *own > most) {
        Some(own) => Prospect::Unable(format!(
            "the analyser itself may make {own:.1} there, {:.1} too much: a notch for the carrier would help",
            own - most
        )),
        None => Prospect::Able,
    }
}
