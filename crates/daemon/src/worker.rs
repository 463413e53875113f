//! A bench's own thread: takes what is next in its queue and has it measured, one run after the other.

use std::future::Future;
use std::pin::Pin;
use std::sync::Arc;

use spurline_clock::Pace;
use spurline_plan::Job;
use spurline_record::{Event, EventKind, Outcome, RunId, RunState};
use spurline_report::counted;
use spurline_runner::{Broken, Company, Done, Failure, Files, From, Measurement, Visitor};
use spurline_sequencer::{Listener, Operator, Prompted, ToneWanted};

use crate::bench::{Bench, Standing};
use crate::failure::in_words;
use crate::going_on;
use crate::queue::{Ending, Entry, Standing as Turn, holds};
use crate::service::Shared;
use crate::told;

/// Works until the service ends.
pub(crate) fn work(shared: &Arc<Shared>, bench: &Arc<Bench>) {
    while let Some(entry) = next(shared, bench) {
        shared.tell_bench(bench, &bench.state());
        shared.tell_queue();
        let ending = measured(shared, bench, &entry);
        if ending.standing == Turn::Stopped && shared.is_ending() && !bench.was_stopped_by_hand() {
            // It stays as one that goes on: the next life of the service goes on with it.
            return;
        }
        // Counted before: whoever sees in the queue that it ended finds it among the counts.
        shared.metrics.ended(&bench.at.name, ending.standing, ending.outcome);
        if let Err(error) = shared.queue.ended(entry.id, &ending, shared.now()) {
            tracing::error!(bench = bench.at.name, entry = entry.id, "{}", told::chain(&error));
        }
        let trouble = ending.told.filter(|_| ending.standing == Turn::Failed);
        shared.tell_bench(bench, &bench.rest(trouble));
        shared.tell_queue();
    }
}

/// What is next; `None` once the service ends.
fn next(shared: &Arc<Shared>, bench: &Arc<Bench>) -> Option<Entry> {
    bench.wait_for(|state| {
        if shared.is_ending() {
            return Some(None);
        }
        if state.paused {
            return None;
        }
        match shared.queue.take(&bench.at.name, shared.now()) {
            Ok(entry) => entry.map(|entry| {
                bench.begin(state, Some(entry.id));
                Some(entry)
            }),
            Err(error) => {
                tracing::error!(bench = bench.at.name, "{}", told::chain(&error));
                None
            }
        }
    })
}

fn measured(shared: &Arc<Shared>, bench: &Arc<Bench>, entry: &Entry) -> Ending {
    tracing::info!(bench = bench.at.name, entry = entry.id, plan = entry.wanted.plan, "begins");
    let done = match &entry.wanted.goes_on {
        Some(run) => gone_on(shared, bench, entry, run),
        None => begun(shared, bench, entry),
    };
    match done {
        Err(told) => {
            let told = told::in_one_line(&told);
            tracing::warn!(bench = bench.at.name, entry = entry.id, "not done: {told}");
            Ending { standing: Turn::Failed, outcome: None, told: Some(told) }
        }
        Ok(Done { id, ended }) => {
            if let Err(failure) = shared.scribe.write(&id) {
                tracing::error!(bench = bench.at.name, run = id.as_str(), "{}", told::chain(&failure));
            }
            let ending = match ended {
                Ok(ended) if ended.state == RunState::Interrupted => Ending {
                    standing: Turn::Stopped,
                    outcome: ended.outcome.filter(|outcome| holds(false, *outcome)),
                    told: Some("it was stopped, and can go on".to_owned()),
                },
                Ok(ended) => Ending {
                    standing: Turn::Done,
                    outcome: ended.outcome,
                    told: (ended.without_limit > 0).then(|| {
                        format!(
                            "{} without limit, which never count as complying",
                            counted(ended.without_limit, "reading")
                        )
                    }),
                },
                Err(failure) => {
                    let told = Some(told::in_one_line(&in_words(&failure)));
                    Ending { standing: Turn::Failed, outcome: None, told }
                }
            };
            let (standing, outcome) = (ending.standing.word(), ending.outcome.map(Outcome::word));
            tracing::info!(bench = bench.at.name, run = id.as_str(), standing, outcome, "ends");
            ending
        }
    }
}

fn begun(shared: &Arc<Shared>, bench: &Arc<Bench>, entry: &Entry) -> Result<Done, String> {
    let plan = shared.plans.path(&entry.wanted.plan).map_err(|error| told::chain(&error))?;
    let file = bench.at.file.display().to_string();
    let job = Job::load(&plan.display().to_string(), Some(&file), &Files::from_environment());
    let job = job.map_err(|error| in_words(&error.into()))?;
    let from = From::Beginning { unit: entry.wanted.unit.clone(), firmware: entry.wanted.firmware.clone() };
    execute(shared, bench, entry, &job, from).map_err(|failure| in_words(&failure))
}

/// Goes on with a run that broke off; one that had ended has nothing left to do.
fn gone_on(shared: &Arc<Shared>, bench: &Arc<Bench>, entry: &Entry, run: &RunId) -> Result<Done, String> {
    let broken = Broken::take_up(&shared.record.folder, run).map_err(|failure| in_words(&failure))?;
    // Also for one that waited while the files of the service were changed.
    if !going_on::fits(bench, &broken.job.texts) {
        let (name, texts) = (&bench.at.name, &broken.job.texts);
        let fitting = going_on::fitting(&shared.benches, texts, None);
        let words = format!(
            "run {run} was begun with {}, and bench `{name}` has another file, {}, or a changed one",
            going_on::file_of(texts),
            bench.at.file.display()
        );
        return Err(told::with_advice(words, Some(going_on::advice(&fitting))));
    }
    execute(shared, bench, entry, &broken.job, broken.from()).map_err(|failure| in_words(&failure))
}

fn execute(
    shared: &Arc<Shared>,
    bench: &Arc<Bench>,
    entry: &Entry,
    job: &Job,
    from: From,
) -> Result<Done, Failure> {
    // Only the bench file arms a real bench: nobody stands beside it.
    let measurement =
        Measurement { job, record: shared.record.clone(), arm: false, from, visitor: Visitor::default() };
    measurement.execute(&mut Attendant { shared: shared.clone(), bench: bench.clone(), entry: entry.id })
}

/// What a run has for company in a service.
struct Attendant {
    shared: Arc<Shared>,
    bench: Arc<Bench>,
    entry: u64,
}

impl Company for Attendant {
    fn say(&mut self, text: &str) {
        tracing::info!(bench = self.bench.at.name, "{}", told::in_one_line(text));
    }

    fn named(&mut self, id: &RunId) {
        if let Err(error) = self.shared.queue.named(self.entry, id) {
            tracing::error!(bench = self.bench.at.name, "{}", told::chain(&error));
        }
        let state = self.bench.change(|state| state.run = Some(id.clone()));
        self.shared.tell_bench(&self.bench, &state);
    }

    fn listener(&mut self, readings: usize, _: Pace) -> Box<dyn Listener> {
        self.bench.change(|state| state.planned = u32::try_from(readings).unwrap_or(u32::MAX));
        Box::new(Ears::of(&self.shared, &self.bench))
    }

    fn operator(&mut self) -> Box<dyn Operator> {
        Box::new(Absent)
    }

    fn stop(&mut self) -> Pin<Box<dyn Future<Output = ()>>> {
        Box::pin(self.bench.stopped())
    }
}

/// Nobody is at the bench: a tone that a person would set is not set.
#[derive(Debug)]
pub(crate) struct Absent;

impl Operator for Absent {
    fn prompted(&mut self, _: Prompted) {}

    fn set_tone(&mut self, _: Option<ToneWanted>) -> Pin<Box<dyn Future<Output = bool> + '_>> {
        Box::pin(std::future::ready(false))
    }
}

/// Hears a run for whoever looks at the bench.
pub(crate) struct Ears {
    shared: Arc<Shared>,
    bench: Arc<Bench>,
}

impl Ears {
    /// For a bench.
    pub(crate) fn of(shared: &Arc<Shared>, bench: &Arc<Bench>) -> Self {
        Self { shared: shared.clone(), bench: bench.clone() }
    }
}

impl Listener for Ears {
    fn hear(&mut self, event: &Event) {
        let bench = &self.bench;
        self.shared.metrics.hear(&bench.at.name, event);
        let state = bench.change(|state| {
            state.follow(event);
            // A run that was told to stop stays so until it has ended.
            debug_assert!(state.standing != Standing::Idle);
        });
        if let EventKind::ReadingFinished(reading) = &event.kind {
            let trace = told::trace(&bench.at.name, reading);
            if told::is_drawn(reading) {
                bench.drew(trace.clone());
            }
            self.shared.hub.tell("trace", trace);
        }
        if told::is_seen(&event.kind) {
            self.shared.tell_bench(bench, &state);
        }
    }
}
