//! From where to where spurious emissions are looked for.

use serde_json::json;
use spurline_limits::span_of;
use spurline_units::Hertz;

use super::{Part, steps};

/// What is on the safe side where nobody knows what the equipment makes inside itself.
const LOWEST: f64 = 9e3;

pub(super) fn part(carrier: Hertz, lowest: Option<Hertz>) -> Part {
    let (span, derivation) = span_of(carrier, lowest.unwrap_or_else(|| Hertz::new(LOWEST)));
    let json = json!({ "from_hz": span.low(), "to_hz": span.high(), "derivation": derivation });
    let text = format!("search from {} to {}\n{}", span.low(), span.high(), steps(&derivation));
    Part { key: "span", json, text, is_good: true }
}
