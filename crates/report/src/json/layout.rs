//! What was wired, with the units in the keys.

use serde::Serialize;
use serde_json::{Value, json};
use spurline_record::{LaidKey, LaidPart, LaidSupply, LaidWay, Layout};
use spurline_units::Range;

pub(super) fn layout(layout: &Layout) -> Value {
    json!({
        "common": layout.common.iter().map(part).collect::<Vec<_>>(),
        "ways": layout.ways.iter().map(way).collect::<Vec<_>>(),
        "key": layout.key.as_ref().map(key),
        "supplies": layout.supplies.iter().map(supply).collect::<Vec<_>>(),
        "calibrations": layout.calibrations,
    })
}

fn way(way: &LaidWay) -> Value {
    json!({
        "name": way.name,
        "ends_at": way.ends_at,
        "used": way.used,
        "parts": way.parts.iter().map(part).collect::<Vec<_>>(),
        "switches": way.set,
    })
}

fn part(part: &LaidPart) -> Value {
    json!({
        "name": part.name,
        "loss_db": part.loss.as_ref().map(range),
        "uncertainty_db": part.uncertainty,
        "covers_hz": range(&part.covers),
        "rated_w": part.rated,
    })
}

fn range<T: Copy + PartialOrd + Serialize>(range: &Range<T>) -> Value {
    json!({ "low": range.low(), "high": range.high() })
}

fn key(key: &LaidKey) -> Value {
    json!({
        "contact": key.contact,
        "line": key.line,
        "opens_by_itself_s": key.opens_by_itself,
        "longest_s": key.longest,
        "rest_s": key.rest,
    })
}

fn supply(supply: &LaidSupply) -> Value {
    json!({ "name": supply.name, "set_v": supply.set, "limit_a": supply.limit })
}
