//! What a search for spurious emissions will cover, and how deep.

use serde_json::{Value, json};
use spurline_plan::{SearchLayout, Segment};

use crate::table::{flush_right, table};

/// A table of the segments, and what they come to.
pub(super) fn text(search: &SearchLayout) -> String {
    let heading = format!(
        "  search {} to {}, nothing within {} of the carrier: {:.2} of sweeps while keyed, and as long not keyed",
        search.from,
        search.to,
        search.gap,
        search.time()
    );
    let mut text = format!("{}\n", crate::talk::wrapped(&heading, 4));
    let columns = ["from", "to", "RBW", "att.", "sweeps", "of s", "held", "found from", "limit", "U", "room"];
    let mut lines = table(&columns);
    for segment in &search.segments {
        lines.add_row(cells(segment));
    }
    flush_right(&mut lines, &[3, 4, 5, 6, 7, 8, 9, 10]);
    text.push_str(&lines.trim_fmt());
    text.push('\n');
    for (from, to, why) in &search.beyond {
        let line = format!("  {from} to {to}: not looked at, {why}");
        text.push_str(&format!("{}\n", crate::talk::wrapped(&line, 4)));
    }
    text
}

fn cells(segment: &Segment) -> Vec<String> {
    let dash = || "-".to_owned();
    let first = segment.looks.first();
    let room = segment.limit.map(|limit| limit - segment.found_from - segment.expanded);
    vec![
        segment.from.to_string(),
        segment.to.to_string(),
        segment.rbw.to_string(),
        format!("{:.0}", segment.attenuation.get()),
        segment.looks.len().to_string(),
        first.map_or_else(dash, |look| format!("{:.3}", look.settings.sweep_time.get())),
        first.map_or_else(dash, |look| look.sweeps.to_string()),
        format!("{:.1}", segment.found_from.get()),
        segment.limit.map_or_else(dash, |limit| format!("{:.1}", limit.get())),
        format!("{:.1}", segment.expanded.get()),
        room.map_or_else(dash, |room| format!("{:.1}", room.get())),
    ]
}

/// The same for programs.
pub(super) fn json(search: &SearchLayout) -> Value {
    json!({
        "from_hz": search.from,
        "to_hz": search.to,
        "gap_hz": search.gap,
        "keyed_s": search.time(),
        "segments": search.segments.iter().map(of_segment).collect::<Vec<_>>(),
        "not_looked_at": search.beyond.iter().map(|(from, to, why)| json!({
            "from_hz": from,
            "to_hz": to,
            "why": why,
        })).collect::<Vec<_>>(),
    })
}

fn of_segment(segment: &Segment) -> Value {
    let first = segment.looks.first();
    json!({
        "from_hz": segment.from,
        "to_hz": segment.to,
        "reference_bandwidth_hz": segment.reference,
        "rbw_hz": segment.rbw,
        "attenuation_db": segment.attenuation,
        "sweeps": segment.looks.len(),
        "sweep_time_s": first.map(|look| look.settings.sweep_time),
        "points": first.map(|look| look.settings.points),
        "held": first.map(|look| look.sweeps),
        "found_from_dbm": segment.found_from,
        "limit_dbm": segment.limit,
        "expanded_uncertainty_db": segment.expanded,
    })
}
