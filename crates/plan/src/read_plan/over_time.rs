//! Power along a key-down, as a plan says it.

use spurline_document::{Node, Reader};
use spurline_units::Seconds;

use super::above_zero;
use crate::measure::OverTime;

/// A power meter needs time for a reading, and nobody looks at more.
const SHORTEST: f64 = 0.2;
const MOST: u32 = 2000;

/// Reads what stands under `measure.power_over_time`.
pub(super) fn read(reader: &mut Reader, node: &Node) -> Option<OverTime> {
    let mut fields = reader.fields(node, "power over time")?;
    let span = fields.required(reader, "for");
    let every_node = fields.required(reader, "every");
    fields.close(reader);
    let span = span.and_then(|node| above_zero(reader, node, "a time", Seconds::new(0.0)));
    let every = every_node.and_then(|node| above_zero(reader, node, "a time", Seconds::new(0.0)));
    let over_time = OverTime { span: span?, every: every?, place: node.span };
    let told = if over_time.every.get() < SHORTEST {
        Some(format!("expected a time from {SHORTEST} s up, found {}", over_time.every))
    } else if over_time.every > over_time.span {
        Some(format!("expected no more than the {} of `for`, found {}", over_time.span, over_time.every))
    } else if over_time.count() > MOST {
        Some(format!("expected at most {MOST} readings, found {}", over_time.count()))
    } else {
        None
    };
    if let Some(told) = told {
        reader
            .mistake(every_node.map_or(node.span, |node| node.span), told)
            .hint("write `{ for: 60 s, every: 1 s }`");
        return None;
    }
    Some(over_time)
}
