//! `judge`: a run of the record judged again from its raw looks, by something else than what it was judged by.

mod changed;
mod replaced;
mod texts;

use std::collections::BTreeMap;

use clap::Args;
use serde_json::Value;
use spurline_clock::Pace;
use spurline_record::{JudgedFrom, Outcome, Reading, RunState, Verdict};
use spurline_sequencer::{Ended, judge_again};
use spurline_store::StoredRun;

use crate::data::{DataArgument, open_to_write};
use crate::exit::Exit;
use crate::table;
use crate::talk::{self, Failure, counted, print, print_json, print_text, say};
use changed::changes;
use replaced::Jobs;

/// Judge a run of the record again, from its raw looks: by another rule, decision or table
///
/// Nothing is measured and nothing is keyed. The new verdict is kept beside the run, which stays as it was: `show RUN`
/// lists the verdicts on it.
///
/// Ends as `run` does: with 0 if everything complies, 1 if something exceeds, 3 if nothing exceeds but something is
/// undecided, invalid or without limit; 2 if it cannot be judged so, 5 if the record failed.
#[derive(Args, Debug)]
pub(crate) struct Judge {
    /// The run: its name, the beginning of it, or `last`
    run: String,
    /// The rule, instead of the one that the plan names
    #[arg(long, value_name = "NAME")]
    rule: Option<String>,
    /// How levels near a limit are decided: guard-band or simple
    #[arg(long, value_name = "WORD")]
    decision: Option<String>,
    /// The width of the guard band over U
    #[arg(long, value_name = "NUMBER", allow_hyphen_values = true)]
    guard_factor: Option<String>,
    /// A fact about the unit, instead of what the plan states, for example `built=1976-05-01`; may be given several times
    ///
    /// The facts are those that the rule asks for: with one that it does not know the answer names them.
    #[arg(long = "fact", value_name = "NAME=VALUE")]
    facts: Vec<String>,
    /// A table of the path, by the name that the record has for it or the last part of that, and the file that takes its
    /// place, for example `pad-30.s2p=corrected.s2p`
    #[arg(long = "path", value_name = "NAME=FILE")]
    paths: Vec<String>,
    /// The bench file, instead of the recorded one, with the tables and profiles that it names
    #[arg(long, value_name = "FILE", conflicts_with = "paths")]
    bench: Option<String>,
    /// Only show what it would come to; keep nothing
    #[arg(long)]
    dry_run: bool,
    #[command(flatten)]
    data: DataArgument,
    /// Print one JSON document
    #[arg(long)]
    pub(crate) json: bool,
}

impl Judge {
    pub(crate) fn execute(self) -> Result<Exit, Failure> {
        // Looked at first: a mistyped name or folder must not bring an older record up to date, nor make one.
        let looked_at = self.data.open()?;
        let run = looked_at.resolve(&self.run)?;
        let store = if self.dry_run { looked_at } else { open_to_write(&self.data.folder()?)? };
        let stored = store.load(&run).or_else(|error| {
            // What is broken says more than what of it cannot be read.
            store.refuse_broken(&run)?;
            Err(error)
        })?;
        can_be_judged(&stored)?;
        // Nothing is judged by what somebody may have written into the record.
        store.refuse_broken(&run)?;
        let Jobs { was, now, replaced } = self.jobs(&stored)?;
        let readings = judge_again(&now, &was, &stored.readings).map_err(|error| Failure::Usage {
            message: format!("the run cannot be judged so: {}", first_line(&error)),
            advice: "a table must cover every frequency that the run read by it".to_owned(),
        })?;
        let at = spurline_clock::run(Pace::Real, |clock| async move { clock.timestamp() });
        let mut verdict = Verdict {
            run: stored.header.id.clone(),
            number: 0,
            at: at.map_err(Failure::runtime)?,
            outcome: Outcome::of_run(readings.iter().map(|judged| judged.reading.outcome)),
            head: None,
            header: replaced::header(&now, &stored.header),
            replaced,
            readings,
        };
        if !self.dry_run {
            verdict = store.keep_verdict(verdict)?;
        }
        let changes = changes(&stored.readings, &verdict);
        let notice = verdict.notice();
        let view = View::of(&stored, &verdict);
        if self.json {
            print_json(&view.json(&changes)?)?;
        } else if talk::is_quiet() {
            let without_limit =
                verdict.readings.iter().filter(|judged| judged.reading.outcome == Outcome::NoLimit).count();
            let outcome = verdict
                .outcome
                .map_or_else(|| "no readings".to_owned(), |outcome| outcome.of_run_in_words(without_limit));
            let name = if verdict.number == 0 { stored.header.id.to_string() } else { verdict.name() };
            print(format!("{name} {outcome}\n").as_bytes())?;
        } else {
            let mut text = changed::as_text(&changes, &verdict);
            text.push_str(&view.text());
            print_text(&text)?;
            say(&notice);
            match verdict.number {
                0 => say("nothing was kept"),
                _ => say(&format!("verdict {}", verdict.name())),
            }
        }
        Ok(exit(&stored, &verdict))
    }
}

/// A stored run as a verdict on it has it.
pub(crate) struct View {
    stored: StoredRun,
    name: Option<String>,
    /// How each reading was made.
    from: Vec<JudgedFrom>,
}

impl View {
    /// The readings of a verdict with the looks of the run's, each found by its number: a run that went on after it was
    /// judged has others at their places.
    pub(crate) fn of(stored: &StoredRun, verdict: &Verdict) -> Self {
        let recorded: BTreeMap<u32, &Reading> =
            stored.readings.iter().map(|reading| (reading.ordinal, reading)).collect();
        let (mut readings, mut from) = (Vec::new(), Vec::new());
        for judged in &verdict.readings {
            // What was set aside since does not count any more.
            let Some(recorded) = recorded.get(&judged.reading.ordinal) else { continue };
            let mut reading = judged.reading.clone();
            if reading.acquisitions.is_empty() {
                // A verdict is kept without looks: they are the run's.
                reading.acquisitions.clone_from(&recorded.acquisitions);
            }
            readings.push(reading);
            from.push(judged.from);
        }
        let left_out = verdict.readings.len() - readings.len();
        let since = stored.readings.len() - readings.len();
        let mut header = verdict.header.clone();
        header.notes.insert(0, verdict.notice());
        let mut stored = stored.clone();
        if left_out + since > 0 {
            header.notes.insert(1, went_on(left_out, since));
        }
        if since > 0 {
            // It says nothing of a run that went to its end.
            stored.state = RunState::Interrupted;
        }
        let outcome = match left_out {
            0 => verdict.outcome,
            _ => Outcome::of_run(readings.iter().map(|reading| reading.outcome)),
        };
        let name = (verdict.number > 0).then(|| verdict.name());
        Self { stored: StoredRun { header, readings, outcome, ..stored }, name, from }
    }

    /// The run with the readings of the verdict.
    pub(crate) fn into_run(self) -> StoredRun {
        self.stored
    }

    fn text(&self) -> String {
        format!("{}\n{}", table::readings(&self.stored.readings), table::summary(&self.stored))
    }

    /// As a run, with what is different.
    pub(crate) fn json(&self, changes: &[changed::Change]) -> Result<Value, Failure> {
        let text = spurline_report::json(&spurline_runner::view(&self.stored))?;
        let mut document: Value = serde_json::from_str(&text)
            .map_err(|error| Failure::from(spurline_report::ReportError::from(error)))?;
        if let Some(document) = document.as_object_mut() {
            document.insert("verdict".to_owned(), Value::from(self.name.clone()));
            document.insert("of_run".to_owned(), Value::from(self.stored.header.id.as_str()));
            let readings = document.get_mut("readings").and_then(Value::as_array_mut);
            for (reading, from) in readings.into_iter().flatten().zip(&self.from) {
                reading["from"] = Value::from(from.word());
            }
            document.insert("changed".to_owned(), changes.iter().map(changed::as_json).collect());
        }
        Ok(document)
    }
}

/// What became of a run after it was judged.
fn went_on(left_out: usize, since: usize) -> String {
    let mut parts = Vec::new();
    if left_out > 0 {
        parts.push(format!("{} that were set aside then are left out", counted(left_out, "reading")));
    }
    if since > 0 {
        parts.push(format!("{} that came since are not judged here", counted(since, "reading")));
    }
    format!("the run went on after it was judged: {}", parts.join(", "))
}

/// Whether there is enough of a run to be judged again.
fn can_be_judged(stored: &StoredRun) -> Result<(), Failure> {
    let run = &stored.header.id;
    if stored.state == RunState::Running {
        return Err(Failure::Usage {
            message: format!("run {run} has no end: it is going on, or its process died"),
            advice: format!(
                "judge it once it has ended; `spurline resume {run}` goes on with one whose process died"
            ),
        });
    }
    if stored.readings.is_empty() {
        return Err(Failure::Usage {
            message: format!("run {run} has no readings"),
            advice: "`spurline runs` lists other runs".to_owned(),
        });
    }
    let pruned = |reading: &Reading| {
        let mut looks = reading.acquisitions.iter();
        looks.any(|look| look.sweeps.is_empty() || look.sweeps.iter().any(|sweep| sweep.levels.is_empty()))
    };
    match stored.readings.iter().find(|reading| pruned(reading)) {
        Some(reading) => Err(Failure::Usage {
            message: format!(
                "the raw sweeps of run {run} are not in the record any more, those of reading {} among them",
                reading.ordinal
            ),
            advice: "without them nothing is judged again: what was judged stands as it is".to_owned(),
        }),
        None => Ok(()),
    }
}

fn exit(stored: &StoredRun, verdict: &Verdict) -> Exit {
    let readings = verdict.readings.iter();
    let without_limit = readings.filter(|judged| judged.reading.outcome == Outcome::NoLimit).count();
    match Exit::of_run(&Ended { state: RunState::Finished, outcome: verdict.outcome, without_limit }) {
        // What a run that broke off has not read cannot comply.
        Exit::Good if stored.state != RunState::Finished => Exit::Undecided,
        exit => exit,
    }
}

fn first_line(error: &dyn std::error::Error) -> String {
    error.to_string().lines().next().unwrap_or_default().to_owned()
}
