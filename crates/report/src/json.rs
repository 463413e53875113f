//! A run as one JSON document.

mod layout;
mod reading;

use serde_json::{Value, json};
use spurline_record::Outcome;

pub use reading::json as reading_json;

use crate::interlocks;
use crate::key::{self, KeyDown};
use crate::timeline;
use crate::view::{Particulars, ReportError, RunView};

/// The run as one JSON object, with a new line at its end.
///
/// Keys are in snake case and sorted; a key that holds a quantity ends in its unit. Figures are not rounded; times are
/// in UTC after RFC 3339. Every key is always there: `null` stands where there is nothing, and for what is not a
/// finite number. Later versions may add keys.
///
/// | key | holds |
/// |---|---|
/// | `run`, `plan`, `bench`, `software` | names |
/// | `outcome` | the worst outcome of the readings: `exceeds`, `invalid`, `undecided`, `complies`, `no limit`; `null` without a reading, and of a run that did not go to its end, unless something exceeds |
/// | `outcome_so_far` | the worst outcome of the readings that were taken, wherever the run stands, or `null` |
/// | `without_limit` | how many readings have no limit: where `outcome` is `complies`, those do not count as complying |
/// | `state` | `finished`, `failed`, `interrupted`, `running`, or `broken off` where its process died |
/// | `started`, `ended` | times; `ended` may be `null` |
/// | `unit` | `maker`, `model`, `serial`, `firmware` of the transmitter |
/// | `rule`, `rule_source`, `rule_status` | the rule, the text behind it, and how that text was read |
/// | `decision` | `guard-band` or `simple` |
/// | `simulated_seed` | a number if the bench was simulated: then nothing here is evidence |
/// | `instruments` | list of `role`, `address`, `profile`, `identity` (as `unit`) |
/// | `layout` | what was wired: `common` (parts), `ways` (each with `name`, `ends_at`, `used`, `parts`, `switches`), `key`, `supplies` |
/// | `key_downs` | list of `at`, `longest_s` (how long it might last), `held_s` (how long it did), `channel`, `power_setting` |
/// | `keyed` | what they come to: `count`, `total_s`, `longest_s`, `most_in_5_min_s`, `least_rest_s`, `without_end` (how many have no recorded end) |
/// | `interlocks` | list of `name`, `holds`, `why`, `set_aside` (the setting of the bench file that does so, or `null`), as told last |
/// | `reservations` | what the run leaves open even if it complies |
/// | `report` | `issue` (what the plan states for reports), `issued` (a day), `head` of the chain of hashes, `digests` of the files; `null` where nobody has looked them up |
/// | `notes` | what a reader should be told, in words: of the plan, then what happened on the way |
/// | `readings` | list, in the order in which they were taken |
///
/// A part has `name`, `loss_db` and `covers_hz` (each `low` and `high`), `uncertainty_db` (k = 2), `rated_w`.
///
/// A reading has:
///
/// | key | holds |
/// |---|---|
/// | `number` | its place in the run, from 1 |
/// | `quantity`, `order`, `name` | what was measured; the order of a harmonic; which of several of its kind |
/// | `channel`, `carrier_hz`, `power_setting`, `supply`, `path` | the state of unit and bench |
/// | `frequency_hz` | where it was read |
/// | `value`, `unit` | the figure and its unit |
/// | `level_dbm`, `bound` | the figure as a level at the connector; with `bound` the true level may be anything up to it |
/// | `limit_dbm` | an upper limit |
/// | `limit_low`, `limit_high` | the ends between which the figure must lie, in `unit`; one may be `null` |
/// | `possible_limits_dbm` | the limits of which the rule leaves open which applies |
/// | `margin_db`, `margin_hz` | limit minus figure; between two ends the distance to the nearer |
/// | `expanded_uncertainty_db`, `expanded_uncertainty_hz` | U, for 95 % |
/// | `outcome`, `reason_code`, `reason` | what it came to, and why, for programs and for people |
/// | `remarks` | what a reader should know beside that |
/// | `course` | of power over supply voltage or time: list of `name`, `unit`, `values`; the first is what the others go along |
///
/// # Errors
///
/// [`ReportError::Json`].
pub fn json(run: &RunView<'_>) -> Result<String, ReportError> {
    let header = run.header;
    let document = json!({
        "run": header.id,
        "outcome": run.settled(),
        "outcome_so_far": run.outcome,
        "without_limit": run.count(Outcome::NoLimit),
        "state": run.state,
        "plan": header.plan,
        "bench": header.bench,
        "unit": header.unit,
        "rule": header.rule,
        "rule_source": header.rule_source,
        "rule_status": header.rule_status,
        "decision": header.decision,
        "started": header.started,
        "ended": run.ended,
        "software": header.software,
        "simulated_seed": header.simulated,
        "instruments": run.instruments,
        "layout": layout::layout(&header.layout),
        "key_downs": key::downs(run.events).iter().map(key_down).collect::<Vec<_>>(),
        "keyed": keyed(run),
        "interlocks": interlocks::json(run.events),
        "notes": notes(run),
        "reservations": header.reservations,
        "report": run.particulars.map(report),
        "readings": run.readings.iter().map(reading::row).collect::<Vec<_>>(),
    });
    Ok(format!("{}\n", serde_json::to_string_pretty(&document)?))
}

/// What is stated beside the results, and by which hashes all of it is found again.
fn report(particulars: &Particulars) -> Value {
    json!({
        "issue": particulars.issue,
        "issued": particulars.issued,
        "head": particulars.head,
        "digests": particulars.digests,
    })
}

/// What all key-downs come to.
fn keyed(run: &RunView<'_>) -> Value {
    let total = key::total(&key::downs(run.events));
    json!({
        "count": total.times,
        "total_s": total.held,
        "longest_s": total.longest,
        "most_in_5_min_s": total.most_in_5_min,
        "least_rest_s": total.least_rest,
        "without_end": total.open,
    })
}

fn notes(run: &RunView<'_>) -> Vec<String> {
    run.header.notes.iter().cloned().chain(timeline::notes(run.events)).collect()
}

fn key_down(down: &KeyDown<'_>) -> Value {
    json!({
        "at": down.at,
        "longest_s": down.lease,
        "held_s": down.held,
        "channel": down.scope.map(|scope| &scope.channel),
        "power_setting": down.scope.map(|scope| &scope.power_setting),
    })
}
