//! `replay`: a recorded run again, with its recorded instruments in place of the bench.

mod legs;

use std::collections::BTreeMap;

use clap::Args;
use serde_json::json;
use spurline_clock::{Clock, Pace};
use spurline_plan::{GLIMPSE_LONGEST, Job};
use spurline_profile::{AnswersEnd, Terminator};
use spurline_record::{Event, EventKind, InterlockName, Reading, Role, RunState, TextRole};
use spurline_replay::{Difference, Differing, Ending, ReplayError, Script, Served};
use spurline_runner::Recorded;
use spurline_sequencer::{Arming, Begun, Dispatcher, Kept, KeyLineAt, KeySetup, PROVEN, Setup, measure};
use spurline_store::{Prunable, StoredRun};
use spurline_transport::{Address, Tap};

use super::operator::LongAgo;
use crate::data::DataArgument;
use crate::exit::Exit;
use crate::talk::{Failure, counted, print, print_json, print_text, say};
use legs::Leg;

/// Repeat a run from the record, with its recorded instruments in place of the bench
///
/// Nothing is measured and nothing is keyed: the files of the run come from the record, and what its instruments
/// said then is said again. Everything that the program makes of it is worked out anew and compared, times aside.
/// Nothing is written into the record.
///
/// Ends with 0 if everything comes out the same, 1 if something differs, 2 if there is nothing to replay, 4 if the
/// program asks something else than what was recorded.
#[derive(Args, Debug)]
pub(crate) struct Replay {
    /// The run: its name, the beginning of it, or `last`
    run: String,
    /// Only serve the recorded instruments, for another program, until stopped
    ///
    /// Prints one line per instrument, its name and where it answers, then `ready`.
    #[arg(long)]
    serve: bool,
    #[command(flatten)]
    data: DataArgument,
    /// Print one JSON document
    #[arg(long)]
    pub(crate) json: bool,
}

/// What came out of a replay.
struct Replayed {
    events: Vec<Event>,
    /// Where it asked something else than what was recorded, or left something out.
    difference: Option<Difference>,
}

impl Replay {
    pub(crate) fn execute(self) -> Result<Exit, Failure> {
        let store = self.data.open()?;
        let run = store.resolve(&self.run)?;
        let transcript = store.transcript(&run)?;
        let stored = store.load(&run)?;
        if transcript.entries.is_empty() {
            let pruned = stored.prunings.iter().find(|pruning| pruning.what == Prunable::Transcript);
            return Err(match pruned {
                Some(pruning) => Failure::Usage {
                    message: format!("run {run}: {}", super::verify::pruned_words(pruning)),
                    advice: "without its messages nothing is repeated; `spurline verify` shows whether the rest is what was recorded".to_owned(),
                },
                None => Failure::Usage {
                    message: format!("run {run} has no transcript"),
                    advice: "a run has one from its first scope on; `spurline runs` lists other runs".to_owned(),
                },
            });
        }
        if !stored.prunings.is_empty() && !self.serve {
            return Err(Failure::Usage {
                message: format!("run {run} was pruned: what it showed is not there to be compared"),
                advice: "`spurline verify` shows whether the rest is what was recorded".to_owned(),
            });
        }
        let mut notes = notes(&stored, transcript.older);
        notes.splice(0..0, super::verify::altered(&store, &run)?);
        notes.iter().for_each(|note| say(&format!("note: {note}")));
        if self.serve {
            return self.serve(spurline_replay::scripts(transcript.entries));
        }
        let texts = Recorded(&stored.header.texts);
        let name = |role| texts.name_of(role).unwrap_or_default();
        let mut job = Job::load(name(TextRole::Plan), Some(name(TextRole::Bench)), &texts)?;
        plain_dialect(&mut job);
        let (mut compared, mut recorded, mut differing) = (0, 0, Vec::new());
        for leg in legs::of(&stored, transcript.entries) {
            let Leg { run, entries, kept } = leg;
            let scripts = spurline_replay::scripts(entries);
            // One whose process died before anything was written down of it left nothing to repeat.
            if scripts.is_empty() {
                continue;
            }
            let replayed = spurline_clock::run(Pace::Fast, |clock| repeat(&run, &job, scripts, kept, clock));
            let (count, differences) = compare(&run, replayed.map_err(Failure::runtime)??)?;
            compared += count;
            recorded += run.readings.len();
            differing.extend(differences);
        }
        if self.json {
            print_json(&as_json(&stored, (compared, recorded), &differing, &notes))?;
        } else {
            print_text(&as_text(&stored, (compared, recorded), &differing))?;
        }
        Ok(if differing.is_empty() { Exit::Good } else { Exit::Exceeds })
    }
    fn serve(&self, scripts: Vec<Script>) -> Result<Exit, Failure> {
        // Another program lives in real time.
        let served = spurline_clock::run(Pace::Real, |clock| async move {
            let served = spurline_replay::serve(scripts, clock).await?;
            // Whoever reads that it is ready may stop it at once.
            let stop = crate::stop::told_to_stop();
            let addresses = served.addresses().iter().map(|(link, at)| (link, Address::from(*at)));
            if self.json {
                let instruments: Vec<_> = addresses
                    .map(|(link, at)| json!({ "instrument": &**link, "address": at.to_string() }))
                    .collect();
                print_json(&json!({ "instruments": instruments }))?;
            } else {
                for (link, address) in addresses {
                    print(format!("{link} {address}\n").as_bytes())?;
                }
                print(b"ready\n")?;
            }
            let difference = tokio::select! {
                biased;
                difference = served.difference() => Some(difference),
                () = stop => None,
            };
            served.stop().await;
            match difference {
                Some(difference) => Err(ReplayError::Differs(difference).into()),
                None => Ok(Exit::Good),
            }
        });
        served.map_err(Failure::runtime)?
    }
}

/// How many readings of a leg were compared, and what came out otherwise than it was recorded.
fn compare(stored: &StoredRun, replayed: Replayed) -> Result<(usize, Vec<Differing>), Failure> {
    let readings: Vec<Reading> = replayed.events.iter().filter_map(reading).cloned().collect();
    // A run that someone stopped goes on when it is repeated, until there is nothing more to be answered; the
    // transcript of one whose process died ends before its readings do.
    let stopped = matches!(stored.state, RunState::Interrupted | RunState::Running | RunState::BrokenOff);
    let ran_out = replayed.difference.as_ref().is_some_and(|difference| difference.recorded.is_none());
    let compared = match stored.state {
        RunState::Running | RunState::BrokenOff if ran_out => stored.readings.len().min(readings.len()),
        // What was in hand when it was stopped was kept as it stood, and does not come again.
        RunState::Interrupted => {
            stored.readings.len().min(readings.len()).max(of_whole_parts(&stored.events))
        }
        _ => stored.readings.len(),
    };
    let found = if stopped { compared.min(readings.len()) } else { readings.len() };
    let mut differing = spurline_replay::readings(&stored.readings[..compared], &readings[..found]);
    if !(stopped && differing.is_empty()) {
        if let Some(difference) = replayed.difference {
            return Err(if lost_its_keyholder(&stored.events, readings.len()) {
                Failure::ReplayedSoFar(difference)
            } else {
                ReplayError::Differs(difference).into()
            });
        }
        differing.extend(Ending::of(&stored.events).differs(&Ending::of(&replayed.events)));
    }
    Ok((compared, differing))
}

/// Whether the process that held the key ended in a run, and another one took its place, where the replay has come to with
/// so many readings: the run tells that in a note.
fn lost_its_keyholder(events: &[Event], replayed: usize) -> bool {
    let told = |event: &Event| matches!(&event.kind, EventKind::Note(note) if note.contains(NO_HOLDER));
    let Some(place) = events.iter().position(told) else { return false };
    replayed >= of_whole_parts(&events[..place])
}

/// What the note of a run that lost its keyholder says.
const NO_HOLDER: &str = "nobody holds the key any more";

/// How many readings belong to pieces of the plan that were done.
fn of_whole_parts(events: &[Event]) -> usize {
    let done = events.iter().rposition(|event| matches!(event.kind, EventKind::PartFinished(_)));
    events[..done.unwrap_or(0)].iter().filter_map(reading).count()
}

/// What a reader must know before what comes out.
fn notes(stored: &StoredRun, older: bool) -> Vec<String> {
    let header = &stored.header;
    let mut notes = Vec::new();
    let software = spurline_runner::SOFTWARE;
    if header.software != software {
        notes.push(format!(
            "the run was made by {}, this is {software}: it may ask and judge otherwise",
            header.software
        ));
    }
    if older {
        notes.push("the transcript was kept by an older version of the program".to_owned());
    }
    match stored.state {
        RunState::Running | RunState::BrokenOff => {
            notes.push("the run has no end: it is replayed as far as its transcript goes".to_owned())
        }
        RunState::Interrupted => notes.push("the run was stopped: it is replayed up to there".to_owned()),
        RunState::Finished | RunState::Failed => {}
    }
    notes
}

/// Does the run again, with its recorded instruments.
async fn repeat(
    stored: &StoredRun,
    job: &Job,
    scripts: Vec<Script>,
    kept: Option<Kept>,
    clock: Clock,
) -> Result<Replayed, Failure> {
    let served = spurline_replay::serve(scripts, clock).await?;
    let last = kept.as_ref().map_or(0, |kept| kept.last);
    let setup = Setup {
        before: spurline_sequencer::Before::default(),
        id: stored.header.id.clone(),
        software: stored.header.software.clone(),
        unit: None,
        firmware: None,
        simulated: stored.header.simulated,
        addresses: addresses(job, &served)?,
        key: KeySetup { program: None, line: KeyLineAt::Replayed },
        notes: Vec::new(),
        noted: stored.header.noted.clone(),
        kept,
        arming: Arming::Replayed,
        proven: proven(stored, job),
    };
    let mut memory = InMemory::default();
    let mut silent = Silent;
    let ended = {
        let mut out = Dispatcher::new(clock, &mut memory, &mut silent).after(last);
        let work = async {
            let begun = Begun::connect(job, &setup, clock, Tap::default()).await?;
            let begun = begun.with_operator(Box::new(LongAgo));
            measure(job, &setup, begun, clock, &mut out, std::future::pending()).await
        };
        tokio::select! {
            biased;
            // What the run makes of instruments that do not answer any more would say nothing.
            _ = served.difference() => None,
            ended = work => Some(ended),
        }
    };
    let difference = served.left();
    served.stop().await;
    match ended {
        // What failed is among the events, unless it failed before the first of them.
        Some(Err(fault)) if memory.0.is_empty() && difference.is_none() => {
            Err(spurline_runner::Failure::Run(fault).into())
        }
        Some(_) | None => Ok(Replayed { events: memory.0, difference }),
    }
}

/// What had shown the path when the run began, if a proof of the bench had. A run that an older version of the program made
/// keyed without a glimpse, and is repeated so.
fn proven(stored: &StoredRun, job: &Job) -> Option<String> {
    let leases = stored.events.iter().filter_map(|event| match &event.kind {
        EventKind::KeyDown { lease } => Some(*lease),
        _ => None,
    });
    if job.glimpses() && leases.clone().count() > 0 && leases.clone().all(|lease| lease > GLIMPSE_LONGEST) {
        let how = stored_proof(stored);
        return how.or_else(|| Some("the run was made without a glimpse".to_owned()));
    }
    stored_proof(stored)
}

fn stored_proof(stored: &StoredRun) -> Option<String> {
    let told = stored.events.iter().filter_map(|event| match &event.kind {
        EventKind::Interlocks(told) => Some(told),
        _ => None,
    });
    let first = told.flatten().find(|interlock| interlock.name == InterlockName::PathProven)?;
    Some(first.why.clone()).filter(|why| why.starts_with(PROVEN))
}

/// The transcript holds messages, whatever marked their ends: recorded instruments mark them in the plain way.
fn plain_dialect(job: &mut Job) {
    for instrument in &mut job.bench.instruments {
        let messages = &mut instrument.profile.messages;
        messages.terminator = Terminator::Lf;
        messages.answers_end = AnswersEnd::Terminator;
        messages.echo = false;
        messages.prompt.clear();
    }
}

/// Where the recorded instruments answer, by the part that each plays.
fn addresses(job: &Job, served: &Served) -> Result<BTreeMap<Role, Address>, Failure> {
    // No run speaks to the signal generator, and to the audio generator only one that searches for a level.
    let unused = |role: Role| match role {
        Role::Generator => true,
        Role::AudioGenerator => job.plan.set_up.is_none(),
        _ => false,
    };
    let roles = job.bench.instruments.iter().map(|instrument| instrument.role);
    roles
        .filter(|role| !unused(*role))
        .map(|role| {
            let found = served.addresses().iter().find(|(link, _)| **link == *role.name());
            let found = found.map(|(_, at)| (role, Address::from(*at)));
            found.ok_or_else(|| Failure::Usage {
                message: format!("the transcript holds nothing of the {role}"),
                advice: "a run is replayed only with all the instruments that it was made with".to_owned(),
            })
        })
        .collect()
}

fn reading(event: &Event) -> Option<&Reading> {
    match &event.kind {
        EventKind::ReadingFinished(reading) => Some(reading),
        _ => None,
    }
}

/// Keeps what happens in memory.
#[derive(Debug, Default)]
struct InMemory(Vec<Event>);

impl spurline_sequencer::Recorder for InMemory {
    fn keep(&mut self, events: &[Event]) -> Result<(), Box<dyn std::error::Error + Send + Sync>> {
        self.0.extend_from_slice(events);
        Ok(())
    }
}

struct Silent;

impl spurline_sequencer::Listener for Silent {
    fn hear(&mut self, _event: &Event) {}
}

fn as_text(stored: &StoredRun, (compared, recorded): (usize, usize), differing: &[Differing]) -> String {
    let all = counted(recorded, "reading");
    let count = if compared == recorded { all } else { format!("{compared} of {all}") };
    let mut text = format!("replayed run {}: {count}, ", stored.header.id);
    if differing.is_empty() {
        text.push_str("all the same\n");
        for fault in Ending::of(&stored.events).faults {
            text.push_str(&format!("  failed as it did: {fault}\n"));
        }
        return text;
    }
    let readings = differing.iter().filter(|differing| differing.reading.is_some()).count();
    text.push_str(&format!("{readings} not the same\n"));
    for Differing { reading, field, recorded, replayed } in differing {
        let place = reading.map_or_else(|| "end".to_owned(), |number| format!("reading {number}"));
        text.push_str(&format!("  {place}, {field}: recorded {recorded}, replayed {replayed}\n"));
    }
    text
}

fn as_json(
    stored: &StoredRun,
    (compared, recorded): (usize, usize),
    differing: &[Differing],
    notes: &[String],
) -> serde_json::Value {
    let differences: Vec<_> = differing
        .iter()
        .map(|Differing { reading, field, recorded, replayed }| {
            json!({ "reading": reading, "field": field, "recorded": recorded, "replayed": replayed })
        })
        .collect();
    json!({
        "run": stored.header.id,
        "readings": recorded,
        "compared": compared,
        "same": differing.is_empty(),
        "differences": differences,
        "notes": notes,
    })
}
