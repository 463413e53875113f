//! What a page shows of benches, entries and runs, in words and signs.

use askama::Template;
use jiff::Timestamp;
use spurline_record::{Outcome, RunState};
use spurline_report::{outcome_class, outcome_sign};
use spurline_store::RunSummary;

use super::coded::coded;
use crate::bench::{Bench, LastReading, Standing};
use crate::http::App;
use crate::queue::{Entry, Standing as Turn, WentOn};

/// What stands around every page.
pub(super) struct Frame {
    pub(super) service: String,
    pub(super) here: &'static str,
    /// Whether a bench holds a test day.
    pub(super) has_days: bool,
}

impl Frame {
    pub(super) fn of(app: &App, here: &'static str) -> Self {
        let service = app.service.configuration().title.clone();
        let has_days = app.service.benches().iter().any(|bench| bench.door.is_some());
        Self { service, here, has_days }
    }
}

/// A moment in UTC, to the second.
pub(super) fn when(at: Timestamp) -> String {
    at.strftime("%Y-%m-%d %H:%M:%S").to_string()
}

/// Class, sign and words of what a run came to.
pub(super) fn outcome(
    outcome: Option<Outcome>,
    without_limit: usize,
    state: RunState,
) -> (&'static str, &'static str, String) {
    let (class, sign, words) = match (state, outcome) {
        (RunState::Running, _) => ("soft", "…", "goes on"),
        (RunState::BrokenOff, _) => ("bad", "!", "broken off: its process died"),
        (RunState::Failed, _) => ("bad", "!", "the bench failed"),
        (RunState::Interrupted, _) => ("unsure", "■", "stopped"),
        (RunState::Finished, Some(outcome)) => {
            let seen = outcome.of_run_as_seen(without_limit);
            return (outcome_class(seen), outcome_sign(seen), outcome.of_run_in_words(without_limit));
        }
        (RunState::Finished, None) => ("unsure", "–", "no reading"),
    };
    (class, sign, words.to_owned())
}

/// The key of a bench that is down.
pub(super) struct Key {
    since_ms: i64,
    since: String,
    lease: f64,
}

/// The reading that was finished last.
pub(super) struct Last {
    class: &'static str,
    sign: &'static str,
    outcome: &'static str,
    text: String,
}

/// A bench on the page.
#[derive(Template)]
#[template(path = "card.html")]
pub(super) struct Card {
    name: String,
    title: String,
    simulated: bool,
    key: Option<Key>,
    keyed: String,
    standing: &'static str,
    paused: bool,
    measuring: bool,
    stopping: bool,
    what: String,
    prompt: Option<String>,
    doing: Option<String>,
    readings: u32,
    planned: u32,
    margin: Option<String>,
    last: Option<Last>,
    /// As HTML.
    trouble: Option<String>,
    /// As HTML.
    paused_because: Option<String>,
}

impl Card {
    pub(super) fn of(bench: &Bench) -> Self {
        let state = bench.state();
        let what = [state.plan.as_deref(), state.unit.as_deref(), state.state.as_deref()];
        Self {
            name: bench.at.name.clone(),
            title: bench.title.clone(),
            simulated: bench.simulated,
            key: state.key_down.map(|key| Key {
                since_ms: key.since.as_millisecond(),
                since: when(key.since),
                lease: key.lease_s,
            }),
            keyed: if state.keyed_s > 0.0 { format!("{:.1}", state.keyed_s) } else { String::new() },
            standing: match state.standing {
                Standing::Idle if bench.door.is_some() => "holds a test day, and waits for a radio",
                Standing::Idle => "waits for work",
                Standing::Measuring => "measures",
                Standing::Stopping => "stops: key up first",
            },
            paused: state.paused,
            measuring: state.standing != Standing::Idle,
            stopping: state.standing == Standing::Stopping,
            what: what.into_iter().flatten().collect::<Vec<_>>().join(" · "),
            prompt: state.prompt,
            doing: state.doing,
            readings: state.readings,
            planned: state.planned.max(state.readings).max(1),
            margin: state.least_margin_db.map(|margin| format!("{margin:.1}")),
            last: state.last.as_ref().map(last),
            trouble: state.trouble.as_deref().map(coded),
            paused_because: state.paused_because.map(|cause| coded(cause.in_words())),
        }
    }
}

fn last(reading: &LastReading) -> Last {
    let mut text = format!("{}, {:.4} MHz", reading.title, reading.frequency_hz / 1e6);
    if let Some(level) = reading.level_dbm {
        text.push_str(&format!(", {level:.1} dBm"));
    }
    if let (Some(margin), Some(uncertainty)) = (reading.margin_db, reading.uncertainty_db) {
        text.push_str(&format!(", margin {margin:.1} ± {uncertainty:.1} dB"));
    }
    Last {
        class: outcome_class(reading.outcome),
        sign: outcome_sign(reading.outcome),
        outcome: reading.outcome.word(),
        text,
    }
}

/// What became of an entry's run later.
pub(super) struct LaterRow {
    pub(super) id: u64,
    pub(super) class: &'static str,
    pub(super) stands: &'static str,
}

impl LaterRow {
    fn of(later: WentOn) -> Self {
        let stands = match later.standing {
            Turn::Waiting => "waits",
            Turn::Running => "goes on now",
            Turn::Done => later.outcome.map_or("no reading", Outcome::word),
            Turn::Stopped => "stopped again",
            Turn::Failed => "not done",
            Turn::Withdrawn => "withdrawn",
        };
        let seen = later.outcome.filter(|_| later.standing == Turn::Done);
        Self { id: later.entry, class: seen.map_or("", outcome_class), stands }
    }
}

/// An entry of the queue on the page.
pub(super) struct QueueRow {
    pub(super) id: u64,
    pub(super) class: &'static str,
    pub(super) bench: String,
    pub(super) plan: String,
    pub(super) goes_on: Option<String>,
    pub(super) unit: String,
    /// What of both it says.
    pub(super) unit_is: &'static str,
    pub(super) by: String,
    pub(super) at: String,
    pub(super) when: String,
    pub(super) mark: Option<&'static str>,
    pub(super) stands: &'static str,
    pub(super) stands_class: &'static str,
    pub(super) run: Option<String>,
    /// As HTML.
    pub(super) told: Option<String>,
    pub(super) went_on: Option<LaterRow>,
    pub(super) waits: bool,
    pub(super) can_go_on: bool,
}

impl QueueRow {
    pub(super) fn of(is_paused: bool, entry: Entry) -> Self {
        let (class, stands_class, mark, stands) = match entry.standing {
            Turn::Waiting if is_paused => ("", "", None, "waits: its bench is paused"),
            Turn::Waiting => ("", "", None, "waits"),
            Turn::Running => ("running", "", Some("…"), "goes on now"),
            Turn::Done => ("", "", None, entry.outcome.map_or("no reading", Outcome::word)),
            Turn::Stopped => ("", "unsure", Some("■"), "stopped"),
            Turn::Failed => ("", "bad", Some("!"), "not done"),
            Turn::Withdrawn => ("gone", "", None, "withdrawn"),
        };
        let at = entry.ended.or(entry.began).unwrap_or(entry.asked);
        let unit_is = match (&entry.wanted.unit, &entry.wanted.firmware) {
            (Some(_), None) => "unit",
            (None, Some(_)) => "firmware",
            (Some(_), Some(_)) | (None, None) => "unit, firmware",
        };
        let said = [entry.wanted.unit, entry.wanted.firmware];
        // What is told of an entry that was done is what its outcome does not say.
        let seen = entry
            .outcome
            .filter(|_| entry.standing == Turn::Done)
            .map(|outcome| outcome.of_run_as_seen(usize::from(entry.told.is_some())));
        Self {
            id: entry.id,
            class,
            bench: entry.wanted.bench,
            plan: entry.wanted.plan,
            goes_on: entry.wanted.goes_on.map(|run| run.to_string()),
            unit: said.into_iter().flatten().collect::<Vec<_>>().join(", "),
            unit_is,
            by: entry.wanted.by,
            at: at.to_string(),
            when: when(at),
            mark: seen.map(outcome_sign).or(mark),
            stands,
            stands_class: seen.map_or(stands_class, outcome_class),
            // The newest entry of a run has the button.
            can_go_on: entry.run.is_some()
                && entry.went_on.is_none()
                && matches!(entry.standing, Turn::Stopped | Turn::Failed),
            run: entry.run.map(|run| run.to_string()),
            told: entry.told.as_deref().filter(|_| entry.went_on.is_none()).map(coded),
            went_on: entry.went_on.map(LaterRow::of),
            waits: entry.standing == Turn::Waiting,
        }
    }
}

/// A run on the page.
pub(super) struct RunRow {
    pub(super) id: String,
    pub(super) plan: String,
    pub(super) unit: String,
    pub(super) bench: String,
    pub(super) simulated: bool,
    pub(super) at: String,
    pub(super) when: String,
    pub(super) readings: u32,
    pub(super) class: &'static str,
    pub(super) sign: &'static str,
    pub(super) outcome: String,
}

impl RunRow {
    pub(super) fn of(run: RunSummary) -> Self {
        let (class, sign, outcome) = outcome(run.outcome, run.without_limit as usize, run.state);
        let unit = [run.unit.model, run.unit.serial, run.unit.firmware];
        Self {
            id: run.id.to_string(),
            plan: run.plan,
            unit: unit.into_iter().filter(|text| !text.is_empty()).collect::<Vec<_>>().join(", "),
            bench: run.bench,
            simulated: run.simulated.is_some(),
            at: run.started.to_string(),
            when: when(run.started),
            readings: run.readings,
            class,
            sign,
            outcome,
        }
    }
}
