//! Counters of what the benches did, as Prometheus text (version 0.0.4 of the exposition format).

use std::collections::BTreeMap;
use std::fmt::Write;
use std::sync::{Mutex, MutexGuard, PoisonError};

use spurline_record::{Event, EventKind, Outcome, RunState, VisitOutcome};

use crate::queue::{Standing, holds};

/// What one bench did in this life of the program.
#[derive(Clone, Debug, Default)]
struct Counts {
    /// Runs by how they ended: standing and outcome.
    runs: BTreeMap<(&'static str, &'static str), u64>,
    /// Readings by outcome.
    readings: BTreeMap<&'static str, u64>,
    /// Visits of a test day by what they came to.
    visits: BTreeMap<&'static str, u64>,
    key_downs: u64,
    keyed_s: f64,
    faults: u64,
}

/// The counters of all benches.
#[derive(Debug, Default)]
pub(crate) struct Metrics {
    benches: Mutex<BTreeMap<String, Counts>>,
}

/// What a bench shows at the moment of asking.
#[derive(Clone, Debug)]
pub(crate) struct Now {
    /// Its name.
    pub(crate) bench: String,
    /// How many runs wait for it.
    pub(crate) waiting: u64,
    /// Whether its key is down.
    pub(crate) key_down: bool,
    /// Whether it measures.
    pub(crate) measuring: bool,
}

impl Metrics {
    /// Follows what happens in a run of a bench.
    pub(crate) fn hear(&self, bench: &str, event: &Event) {
        let mut benches = self.lock();
        let counts = benches.entry(bench.to_owned()).or_default();
        match &event.kind {
            EventKind::ReadingFinished(reading) => {
                *counts.readings.entry(reading.outcome.word()).or_default() += 1;
            }
            EventKind::KeyUp { held } => {
                counts.key_downs += u64::from(held.get() > 0.0);
                counts.keyed_s += held.get();
            }
            EventKind::Failed(_) => counts.faults += 1,
            _ => {}
        }
    }

    /// An entry of the queue ended.
    pub(crate) fn ended(&self, bench: &str, standing: Standing, outcome: Option<Outcome>) {
        let how = match standing {
            Standing::Done => "done",
            Standing::Stopped => "stopped",
            Standing::Waiting | Standing::Running | Standing::Failed | Standing::Withdrawn => "failed",
        };
        let mut benches = self.lock();
        let runs = &mut benches.entry(bench.to_owned()).or_default().runs;
        let outcome = outcome.filter(|outcome| holds(standing == Standing::Done, *outcome));
        *runs.entry((how, outcome.map_or("none", Outcome::word))).or_default() += 1;
    }

    /// A run of a test day ended.
    pub(crate) fn ran(&self, bench: &str, state: RunState, outcome: Option<Outcome>) {
        let standing = match state {
            RunState::Finished => Standing::Done,
            RunState::Interrupted => Standing::Stopped,
            RunState::Running | RunState::BrokenOff | RunState::Failed => Standing::Failed,
        };
        self.ended(bench, standing, outcome);
    }

    /// A visit of a test day came to something.
    pub(crate) fn visited(&self, bench: &str, outcome: VisitOutcome) {
        let mut benches = self.lock();
        let visits = &mut benches.entry(bench.to_owned()).or_default().visits;
        *visits.entry(outcome.word()).or_default() += 1;
    }

    /// All of them in Prometheus' text.
    #[must_use]
    pub(crate) fn text(&self, now: &[Now]) -> String {
        let benches = self.lock().clone();
        let mut page = Page::default();
        page.family(
            "spurline_runs_total",
            "counter",
            "Runs that ended, of the queue and of test days, by how and by outcome.",
        );
        for (bench, counts) in &benches {
            for ((how, outcome), count) in &counts.runs {
                page.line(&[("bench", bench), ("ended", how), ("outcome", outcome)], *count as f64);
            }
        }
        page.family("spurline_visits_total", "counter", "Visits of test days, by what they came to.");
        for (bench, counts) in &benches {
            for (outcome, count) in &counts.visits {
                page.line(&[("bench", bench), ("outcome", outcome)], *count as f64);
            }
        }
        page.family("spurline_readings_total", "counter", "Readings that were finished, by outcome.");
        for (bench, counts) in &benches {
            for (outcome, count) in &counts.readings {
                page.line(&[("bench", bench), ("outcome", outcome)], *count as f64);
            }
        }
        page.family("spurline_key_downs_total", "counter", "How often the unit was keyed.");
        benches.iter().for_each(|(bench, counts)| page.line(&[("bench", bench)], counts.key_downs as f64));
        page.family("spurline_keyed_seconds_total", "counter", "How long the unit was keyed.");
        benches.iter().for_each(|(bench, counts)| page.line(&[("bench", bench)], counts.keyed_s));
        page.family("spurline_faults_total", "counter", "Failures of a link, an instrument or the key.");
        benches.iter().for_each(|(bench, counts)| page.line(&[("bench", bench)], counts.faults as f64));
        page.family("spurline_queue_depth", "gauge", "Runs that wait.");
        now.iter().for_each(|now| page.line(&[("bench", &now.bench)], now.waiting as f64));
        page.family("spurline_key_down", "gauge", "1 while the key is down.");
        now.iter().for_each(|now| page.line(&[("bench", &now.bench)], f64::from(now.key_down)));
        page.family("spurline_measuring", "gauge", "1 while a run goes on.");
        now.iter().for_each(|now| page.line(&[("bench", &now.bench)], f64::from(now.measuring)));
        page.text
    }

    fn lock(&self) -> MutexGuard<'_, BTreeMap<String, Counts>> {
        // Counters: whoever broke off left them one short at most.
        self.benches.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// A page in the making.
#[derive(Default)]
struct Page {
    name: &'static str,
    text: String,
}

impl Page {
    fn family(&mut self, name: &'static str, kind: &str, help: &str) {
        self.name = name;
        // Writing to a string does not fail.
        let _written = write!(self.text, "# HELP {name} {help}\n# TYPE {name} {kind}\n");
    }

    fn line(&mut self, labels: &[(&str, &str)], value: f64) {
        let labels: Vec<String> =
            labels.iter().map(|(name, value)| format!("{name}=\"{}\"", escaped(value))).collect();
        let _written = writeln!(self.text, "{}{{{}}} {value}", self.name, labels.join(","));
    }
}

/// A label's value: backslash, quote and line feed are written with a backslash.
fn escaped(value: &str) -> String {
    value.replace('\\', "\\\\").replace('"', "\\\"").replace('\n', "\\n")
}

#[cfg(test)]
mod tests {
    use spurline_units::Seconds;

    use super::*;

    /// The form of a line is that of the exposition format's own examples: `name{label="value",…} value`.
    #[test]
    fn what_was_heard_is_counted() {
        let metrics = Metrics::default();
        let event = |kind| Event { sequence: 1, at: jiff::Timestamp::UNIX_EPOCH, kind };
        for held in [2.5, 0.0, 1.25] {
            metrics.hear("one", &event(EventKind::KeyUp { held: Seconds::new(held) }));
        }
        metrics.ended("one", Standing::Done, Some(Outcome::Exceeds));
        metrics.ran("one", RunState::Interrupted, Some(Outcome::Complies));
        metrics.ended("one", Standing::Stopped, Some(Outcome::Exceeds));
        metrics.visited("one", VisitOutcome::NotKeyed);
        metrics.ended("a\"b\\c\n", Standing::Failed, None);
        let now = Now { bench: "one".to_owned(), waiting: 3, key_down: true, measuring: false };
        let text = metrics.text(&[now]);
        for line in [
            "spurline_keyed_seconds_total{bench=\"one\"} 3.75",
            "spurline_key_downs_total{bench=\"one\"} 2",
            "spurline_runs_total{bench=\"one\",ended=\"done\",outcome=\"exceeds\"} 1",
            "spurline_runs_total{bench=\"a\\\"b\\\\c\\n\",ended=\"failed\",outcome=\"none\"} 1",
            "spurline_runs_total{bench=\"one\",ended=\"stopped\",outcome=\"none\"} 1",
            "spurline_runs_total{bench=\"one\",ended=\"stopped\",outcome=\"exceeds\"} 1",
            "spurline_visits_total{bench=\"one\",outcome=\"not keyed\"} 1",
            "spurline_queue_depth{bench=\"one\"} 3",
            "spurline_key_down{bench=\"one\"} 1",
            "spurline_measuring{bench=\"one\"} 0",
        ] {
            assert!(text.lines().any(|found| found == line), "{line}\n{text}");
        }
    }
}
