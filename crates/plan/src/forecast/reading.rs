//! What can be known of one harmonic beforehand.

use spurline_judge::RESOLVED_DB;
use spurline_limits::{Finding, Verdict};
use spurline_path::{Distorted, PathError};
use spurline_units::{Db, Dbm, Hertz};

use crate::approach::Approach;
use crate::job::Job;
use crate::model::{Channel, PowerSetting};
use crate::settings::{LineTask, Look, Rooms, noise_at_input, noise_height, own_product_at_input, rooms};

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
    /// The resolution bandwidth that will be set.
    pub rbw: Option<Hertz>,
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
    /// How it will be looked at, and why so.
    pub choice: Option<String>,
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
        rbw: None,
        attenuation: None,
        needed_floor: None,
        floor: None,
        own_product: None,
        expanded: None,
        choice: None,
        prospect: findings
            .iter()
            .find_map(|finding| prospect_of_rule(&finding.verdict))
            .unwrap_or(Prospect::Able),
    };
    let (task, look, path_loss) = match job.approach(channel, power, order, &findings)? {
        Approach::Within { task, look, path_loss } => (task, look, path_loss),
        Approach::Beyond(why) => {
            forecast.prospect = Prospect::Unable(format!("beyond this bench: {why}"));
            return Ok((forecast, None));
        }
    };
    let profile = job.bench.analyser_profile();
    let attenuation = look.settings.attenuation;
    let width = look.settings.rbw.max(task.occupied);
    let floor = noise_at_input(profile, width, attenuation) + path_loss;
    let own = own_product_at_input(profile, order, task.carrier_at_input, attenuation)
        .map(|level| level + path_loss);
    let ahead = way.branch.path.distorted(channel.carrier, power.window.high().dbm(), order)?;
    let expanded = task.expanded;
    let rooms = rooms(profile, &task, &look);
    forecast.choice = Some(choice(&look, &rooms));
    forecast.path_loss = Some(path_loss);
    forecast.rbw = Some(look.settings.rbw);
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
            forecast.prospect = prospect_of_path(&ahead, limit - expanded)
                .unwrap_or_else(|| prospect_of_bench(&task, &look, &rooms, [floor, needed], own));
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

/// How a line is looked at, and what that leaves.
fn choice(look: &Look, rooms: &Rooms) -> String {
    let settings = &look.settings;
    let mut text = format!(
        "RBW {}, attenuation {:.0}, {} sweeps of {:.3} in {} of span; ",
        settings.rbw, settings.attenuation, look.sweeps, settings.sweep_time, settings.span
    );
    text.push_str(&match rooms.floor.get() {
        room if room >= 0.0 => format!("the floor is {room:.1} dB below what is needed"),
        room => format!("the floor is {:.1} dB above what is needed", -room),
    });
    match rooms.own.map(Db::get) {
        Some(room) if room >= 0.0 => text.push_str(&format!(", the own product {room:.1} dB")),
        Some(room) => text.push_str(&format!(", the own product {:.1} dB above", -room)),
        None => text.push_str("; nobody guarantees the own product: it is found by steps of the attenuator"),
    }
    text
}

/// What parts of the path keep from being decided, ahead of every setting of the analyser.
fn prospect_of_path(ahead: &Distorted, most: Dbm) -> Option<Prospect> {
    match ahead {
        Distorted::Not => None,
        Distorted::AtMost(level) if *level < most => None,
        Distorted::AtMost(level) => Some(Prospect::Unable(format!(
            "parts of the path may make {level:.1} there, {:.1} too much: a pad before them takes as many decibels off their \
             second harmonic, beside the unit's, and twice as many off their third",
            *level - most
        ))),
        Distorted::Unknown(parts) => Some(Prospect::Unable(format!(
            "`{}` may make harmonics ahead of the analyser's attenuator, and nobody says how little: state its guaranteed \
             intercepts, or read by a path without it",
            parts.join("`, `")
        ))),
    }
}

/// Whether a line at the floor would be shown to comply, and what would help if not.
fn prospect_of_bench(
    task: &LineTask,
    look: &Look,
    rooms: &Rooms,
    [floor, needed]: [Dbm; 2],
    own: Option<Dbm>,
) -> Prospect {
    if rooms.floor.get() < 0.0 {
        let missing = -rooms.floor;
        let rbw = look.settings.rbw;
        return Prospect::Unable(format!(
            "the noise floor, {floor:.1}, is {missing:.1} above the {needed:.1} that is needed even with an RBW of {rbw}: \
             {missing:.1} less loss in the path, a preamplifier that lowers the floor by as much, or a notch for the \
             carrier, which lets attenuation be taken out, would help"
        ));
    }
    match own.zip(rooms.own).filter(|(_, room)| room.get() < 0.0) {
        Some((own, room)) => {
            // With the carrier down by a decibel at the mixer, a product of order n is down by n.
            let notch = -room / f64::from(task.order.min(3));
            Prospect::Unable(format!(
                "the analyser itself may make {own:.1} there, {:.1} too much: a notch that takes {notch:.1} off the carrier \
                 would help, or a path that bears more attenuation",
                -room
            ))
        }
        None => Prospect::Able,
    }
}
