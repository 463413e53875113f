//! How long things take.

use std::time::Duration;

use spurline_units::Seconds;

use super::{KeyDownForecast, ScopeForecast};
use crate::model::{Key, REST_FACTOR};
use crate::settings::{Look, SETTLE};

/// Round trips and the meter's readings, beside settling and sweeps.
const CARRIER_EXTRA: Duration = Duration::from_millis(500);

/// How long the key is down for the looks at the carrier alone.
pub(super) fn of_carrier(looks: &[Look]) -> Seconds {
    looks.iter().fold(Seconds::from(SETTLE + CARRIER_EXTRA), |sum, look| sum + look.time())
}

/// How long a whole run takes: every look is taken once more while the unit rests.
pub(super) fn of_run(scopes: &[ScopeForecast], times: usize, key: &Key) -> Seconds {
    let downs: Vec<&KeyDownForecast> = scopes.iter().flat_map(|scope| &scope.key_downs).collect();
    let keyed = downs.iter().fold(Seconds::default(), |sum, down| sum + down.keyed) * times as f64;
    // A rest follows every key-down but the last; the looks of the next one are taken within it.
    let rests: Vec<Seconds> = downs.iter().map(|down| rest_after(down, key)).collect();
    let all = rests.iter().fold(Seconds::default(), |sum, rest| sum + *rest) * times as f64;
    let last = rests.last().copied().unwrap_or_default();
    // A set-up has key-downs of its own, each with its rest.
    let set_ups = scopes.iter().filter_map(|scope| scope.set_up.as_ref());
    let found = set_ups.fold(Seconds::default(), |sum, set_up| sum + set_up.keyed + set_up.rests(key));
    let before = downs.first().map(|down| down.keyed).unwrap_or_default();
    before + keyed + all + found * times as f64 - last
}

fn rest_after(down: &KeyDownForecast, key: &Key) -> Seconds {
    key.rest.max(down.keyed * f64::from(REST_FACTOR)).max(down.keyed)
}
