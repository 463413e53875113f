//! What happened, in JSON and in words.

use std::error::Error;

use serde_json::json;
use spurline_record::{Acquisition, EventKind, Reading};

use crate::bench::upper;

/// The most points of a trace that are shown while a run goes on.
const MOST_POINTS: usize = 1001;

/// An error with its causes, in one line.
pub(crate) fn chain(error: &dyn Error) -> String {
    let mut causes: Vec<String> =
        std::iter::successors(Some(error), |&cause| cause.source()).map(ToString::to_string).collect();
    causes.dedup();
    causes.join(": ")
}

/// Words of several lines in one: a line of a log has a time and a level, or is none.
pub(crate) fn in_one_line(words: &str) -> String {
    let lines = words.lines().map(str::trim).filter(|line| !line.is_empty());
    let mut made = String::with_capacity(words.len());
    for line in lines {
        match (made.is_empty(), line.starts_with("help:")) {
            (true, _) => {}
            (false, true) => made.push_str(" — "),
            (false, false) => made.push_str(" ; "),
        }
        made.push_str(line);
    }
    made
}

/// Words with what to do about them.
pub(crate) fn with_advice(words: String, advice: Option<impl AsRef<str>>) -> String {
    match advice {
        Some(advice) => format!("{words} — help: {}", advice.as_ref()),
        None => words,
    }
}

/// Whether an event changes what a page shows of its bench.
pub(crate) fn is_seen(kind: &EventKind) -> bool {
    match kind {
        EventKind::RunStarted(_)
        | EventKind::ScopeStarted { .. }
        | EventKind::Doing(_)
        | EventKind::Prompt(_)
        | EventKind::KeyDown { .. }
        | EventKind::KeyUp { .. }
        | EventKind::ReadingFinished(_)
        | EventKind::RunEnded { .. } => true,
        EventKind::InstrumentFound(_)
        | EventKind::Interlocks(_)
        | EventKind::PartFinished(_)
        | EventKind::Resumed(_)
        | EventKind::Note(_)
        | EventKind::Failed(_) => false,
    }
}

/// The last keyed sweep of a reading.
fn drawn(reading: &Reading) -> Option<&Acquisition> {
    let is_drawn = |look: &&Acquisition| {
        look.keyed
            && look.settings.span.get() > 0.0
            && look.sweeps.last().is_some_and(|sweep| !sweep.levels.is_empty())
    };
    reading.acquisitions.iter().rev().find(is_drawn)
}

/// Whether a reading has a sweep that can be drawn.
pub(crate) fn is_drawn(reading: &Reading) -> bool {
    drawn(reading).is_some()
}

/// The last keyed sweep of a reading with what it was held against, levels at the unit's connector.
pub(crate) fn trace(bench: &str, reading: &Reading) -> String {
    let look = drawn(reading);
    let correction = reading.correction.as_ref().map_or(0.0, |correction| correction.path_loss.get());
    let shown = look.and_then(|look| Some((look, look.sweeps.last()?))).map(|(look, sweep)| {
        let levels = &sweep.levels;
        let bunch = levels.len().div_ceil(MOST_POINTS).max(1);
        let points: Vec<(f64, f64)> = levels
            .chunks(bunch)
            .enumerate()
            .map(|(place, chunk)| {
                let highest = chunk.iter().copied().fold(f32::NEG_INFINITY, f32::max);
                (look.settings.frequency_of(place * bunch).get(), f64::from(highest) + correction)
            })
            .collect();
        json!({
            "frequencies_hz": points.iter().map(|(frequency, _)| *frequency).collect::<Vec<_>>(),
            "levels_dbm": points.iter().map(|(_, level)| *level).collect::<Vec<_>>(),
            "rbw_hz": look.settings.rbw.get(),
        })
    });
    json!({
        "bench": bench,
        "ordinal": reading.ordinal,
        "title": reading.title(),
        "frequency_hz": reading.frequency.get(),
        "limit_dbm": upper(reading),
        "level_dbm": reading.level().map(|level| level.get()),
        "outcome": reading.outcome.word(),
        "trace": shown,
    })
    .to_string()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn several_lines_become_one() {
        for (words, line) in [
            ("", ""),
            ("one", "one"),
            ("one\n  help: two\n", "one — help: two"),
            ("a.yaml:3: x\n\r\n  b.yaml:4: y\r\n", "a.yaml:3: x ; b.yaml:4: y"),
        ] {
            assert_eq!(in_one_line(words), line);
        }
    }
}
