//! What tests of a day begin with: the shipped day on the shipped bench, with something changed, and somebody who looks on.

use std::future::Future;
use std::path::Path;
use std::pin::Pin;

use spurline_clock::Pace;
use spurline_record::{Event, RunId, VisitOutcome, VisitResult};
use spurline_runner::{Company, Files, RecordAt};
use spurline_sequencer::{Listener, Operator, Prompted, ToneWanted};
use spurline_store::Disk;

use crate::day::Day;
use crate::desk::{Front, Show};
use crate::read::load_day;

/// The shipped day in a folder, with texts of its bench replaced.
pub(crate) fn day(folder: &Path, in_bench: &[(&str, &str)]) -> Day {
    let config = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../config");
    let read = |name: &str| std::fs::read_to_string(config.join(name)).unwrap();
    let bench = in_bench.iter().fold(read("benches/walk-in.yaml"), |text, (from, to)| {
        assert!(text.contains(from), "`{from}` is not in:\n{text}");
        text.replace(from, to)
    });
    std::fs::write(folder.join("bench.yaml"), bench).unwrap();
    let day = read("days/demo.yaml").replace("../benches/walk-in.yaml", "bench.yaml");
    std::fs::write(folder.join("day.yaml"), day).unwrap();
    let path = folder.join("day.yaml").display().to_string();
    load_day(&path, (None, &[], None), &Files::from_environment()).unwrap()
}

/// Where its record is.
pub(crate) fn record(folder: &Path) -> RecordAt {
    RecordAt { folder: folder.join("data"), disk: Disk::Any, reserve: 0 }
}

/// A result that says nothing but what it came to.
pub(crate) fn result(outcome: VisitOutcome) -> VisitResult {
    VisitResult { seconds: 1.0, ..VisitResult::of(outcome) }
}

/// Somebody who looks on, and does something before anybody is told to key.
#[derive(Default)]
pub(crate) struct Onlooker {
    pub(crate) before_key: Option<Box<dyn FnOnce()>>,
}

impl Company for Onlooker {
    fn say(&mut self, _: &str) {}

    fn named(&mut self, _: &RunId) {}

    fn listener(&mut self, _: usize, _: Pace) -> Box<dyn Listener> {
        if let Some(act) = self.before_key.take() {
            act();
        }
        Box::new(Deaf)
    }

    fn operator(&mut self) -> Box<dyn Operator> {
        Box::new(Deaf)
    }

    fn stop(&mut self) -> Pin<Box<dyn Future<Output = ()>>> {
        Box::pin(std::future::pending())
    }
}

impl Front for Onlooker {
    fn show(&mut self, _: &Day, _: Show<'_>) {}
}

#[derive(Debug)]
struct Deaf;

impl Listener for Deaf {
    fn hear(&mut self, _: &Event) {}
}

impl Operator for Deaf {
    fn prompted(&mut self, _: Prompted) {}

    fn set_tone(&mut self, _: Option<ToneWanted>) -> Pin<Box<dyn Future<Output = bool> + '_>> {
        Box::pin(std::future::ready(false))
    }
}
