//! `path`: the loss of a path, measured by substitution and written down as a table that a bench file names.

mod file;
mod hand;
mod shown;

use std::collections::BTreeMap;
use std::path::PathBuf;

use clap::{Args, ValueEnum};
use jiff::civil::Date;
use spurline_clock::{Clock, Pace};
use spurline_plan::{Bench, Job, Substitution, SubstitutionError, Wanted};
use spurline_record::Role;
use spurline_runner::{Files, Held, write_whole};
use spurline_sequencer::{MeasuredPath, Mover, PathEnded, PathOutcome, PathSetup, measure_path};
use spurline_sim::SimulatedBench;
use spurline_transport::Tap;
use spurline_units::Hertz;

use super::prove::{frequency, warn_of_generator};
use crate::exit::Exit;
use crate::stop::told_to_stop;
use crate::talk::{self, Failure, print_json, say};
use hand::{Person, Simulator};

/// Measure what a path loses, and write the table that a bench file names
///
/// A signal generator goes straight into the power meter, or the analyser where the meter cannot read what comes through
/// the path; then through the path into the same instrument, at the same level. The difference is the loss. That is done
/// several times, the cables taken off and put on again each time, and once more straight at the end. You are asked to
/// connect each; answer `n` to stop. The table has the loss and its uncertainty at every frequency, the days, and the
/// serial numbers of the instruments.
///
/// The unit is off the path all the while and is never keyed. The generator's output is off while anything is connected,
/// and off at the end. Pads stay hot after a run, and a connector under power burns.
///
/// Ends with 0 if the table was written, 1 if the measurement is invalid (nothing was written), 2 for a wrong file or
/// usage, 3 if it was written but lacks a frequency that was asked for, 4 if the bench failed, 5 if the file could not be
/// written, 130 if it was stopped (nothing was written).
#[derive(Args, Debug)]
pub(crate) struct Path {
    /// The bench: its generator, its instruments, and about what its parts lose
    bench: String,
    /// The file that the table is written to
    #[arg(long, value_name = "FILE")]
    out: PathBuf,
    /// Write it even if the file is there already
    #[arg(long)]
    replace: bool,
    /// A plan, whose carriers and harmonics are among the frequencies
    #[arg(long, value_name = "PLAN")]
    plan: Option<String>,
    /// The path: a name under `paths`, or `power_meter` for the parts that lead there; not needed if there is one only
    #[arg(long, value_name = "NAME")]
    way: Option<String>,
    /// Measure this part alone
    #[arg(long, value_name = "NAME", conflicts_with_all = ["from", "to"])]
    part: Option<String>,
    /// The first part that is measured, seen from the unit
    #[arg(long, value_name = "NAME")]
    from: Option<String>,
    /// The last part that is measured
    #[arg(long, value_name = "NAME")]
    to: Option<String>,
    /// A frequency that is measured too, for example "439 MHz"; may be given several times
    #[arg(long = "at", value_name = "FREQUENCY")]
    at: Vec<String>,
    /// How many frequencies, spread evenly in the logarithm over what all can do
    #[arg(long, value_name = "COUNT", value_parser = clap::value_parser!(u32).range(2..=2000), default_value_t = spurline_plan::USUAL_POINTS)]
    points: u32,
    /// How often the path is connected
    #[arg(long, value_name = "COUNT", value_parser = clap::value_parser!(u32).range(2..=100), default_value_t = 3)]
    repeats: u32,
    /// The instrument that reads, if it is not to be chosen
    #[arg(long, value_enum, value_name = "INSTRUMENT")]
    with: Option<With>,
    /// The last day on which the table is good, for example 2027-01-10
    #[arg(long, value_name = "DATE", conflicts_with = "good_for")]
    due: Option<Date>,
    /// For how many days the table is good, for example 365d
    #[arg(long, value_name = "DAYS", value_parser = days, default_value = "365d")]
    good_for: u32,
    /// Print one JSON document instead of a table
    #[arg(long)]
    pub(crate) json: bool,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
enum With {
    /// The power meter: the better scale
    PowerMeter,
    /// The analyser: sees farther down
    Analyser,
}

impl With {
    const fn role(self) -> Role {
        match self {
            Self::PowerMeter => Role::PowerMeter,
            Self::Analyser => Role::Analyser,
        }
    }
}

/// What is measured: a bench, and with a plan the job that it makes with it.
struct Subject {
    bench: Bench,
    job: Option<Job>,
}

impl Path {
    pub(crate) fn execute(self) -> Result<Exit, Failure> {
        let more = self.at.iter().map(|text| frequency(text)).collect::<Result<Vec<Hertz>, _>>()?;
        self.may_write()?;
        let subject = self.subject()?;
        let Subject { bench, job } = &subject;
        let simulated = spurline_runner::read_simulated(bench)?;
        let wanted = Wanted {
            way: self.way.as_deref(),
            from: self.part.as_deref().or(self.from.as_deref()),
            to: self.part.as_deref().or(self.to.as_deref()),
            more: &more,
            points: Some(self.points),
            with: self.with.map(With::role),
        };
        let planned = Substitution::plan(bench, job.as_ref(), &wanted).map_err(refused)?;
        if !self.json {
            shown::before(&planned, self.repeats);
        }
        let held = match &simulated {
            Some(_) => Held::default(),
            None => Held::take(bench.instruments.iter().map(|instrument| &instrument.address))?,
        };
        let pace = simulated.as_ref().map_or(Pace::Real, SimulatedBench::pace);
        let ran = spurline_clock::run(pace, |clock| self.measure(bench, &planned, simulated.as_ref(), clock));
        let ended = ran.map_err(Failure::runtime)??;
        drop(held);
        match ended {
            PathEnded::Interrupted => {
                say("stopped: the key is up, the generator's output is off, and nothing was written");
                Ok(Exit::Interrupted)
            }
            PathEnded::Declined => {
                say("not connected: the generator's output is off, and nothing was written");
                Ok(Exit::Interrupted)
            }
            PathEnded::Finished(measured) => {
                self.finish(bench, &planned, &measured, simulated.as_ref().map(SimulatedBench::seed))
            }
        }
    }

    /// Before anybody moves a cable: whether what comes of it can be written.
    fn may_write(&self) -> Result<(), Failure> {
        let usage = |message: String, advice: &str| Failure::Usage { message, advice: advice.to_owned() };
        let shown = self.out.display();
        let is_yaml = self
            .out
            .extension()
            .is_some_and(|ending| ending.eq_ignore_ascii_case("yaml") || ending.eq_ignore_ascii_case("yml"));
        if !is_yaml {
            return Err(usage(
                format!("expected a file ending in `.yaml`, found `{shown}`"),
                "a bench file takes a table by that ending",
            ));
        }
        if self.out.exists() && !self.replace {
            return Err(usage(
                format!("`{shown}` is there already"),
                "name another file, or say `--replace` to write over it",
            ));
        }
        let folder = self.out.parent().filter(|folder| !folder.as_os_str().is_empty());
        match folder {
            Some(folder) if !folder.is_dir() => Err(usage(
                format!("there is no folder `{}`", folder.display()),
                "make it first: nothing was connected",
            )),
            _ => Ok(()),
        }
    }

    fn subject(&self) -> Result<Subject, Failure> {
        let Some(plan) = &self.plan else {
            return Ok(Subject {
                bench: Job::load_bench(&self.bench, &Files::from_environment())?,
                job: None,
            });
        };
        let job = Job::load(plan, Some(&self.bench), &Files::from_environment())?;
        Ok(Subject { bench: job.bench.clone(), job: Some(job) })
    }

    async fn measure(
        &self,
        bench: &Bench,
        planned: &Substitution,
        simulated: Option<&SimulatedBench>,
        clock: Clock,
    ) -> Result<PathEnded, Failure> {
        let today = spurline_runner::today(clock);
        if let Some(due) = self.due.filter(|due| *due < today) {
            return Err(Failure::Usage {
                message: format!("expected a day from {today} on for `--due`, found {due}"),
                advice: "it is the last day on which the table is good; nothing was connected".to_owned(),
            });
        }
        let (served, addresses) = match simulated {
            Some(truth) => {
                let (served, addresses) = spurline_runner::serve_anywhere(bench, truth, clock).await?;
                (Some(served), addresses)
            }
            None => {
                crate::measuring::warn_of_port(bench);
                (None, BTreeMap::new())
            }
        };
        let setup =
            PathSetup { repeats: self.repeats, addresses, key: spurline_runner::key(served.as_ref()) };
        let mut mover: Box<dyn Mover> = match &served {
            Some(served) => Box::new(Simulator(served)),
            None => Box::new(Person { bench }),
        };
        let json = self.json;
        let mut tell = |what: spurline_sequencer::PathProgress<'_>| {
            if !json {
                shown::told(what);
            }
        };
        let stop = told_to_stop();
        let stopping = async {
            stop.await;
            say("stopping: output off first");
        };
        let tap = Tap::default();
        let ended =
            measure_path(bench, planned, &setup, (clock, &tap), mover.as_mut(), &mut tell, stopping).await;
        drop(mover);
        if let Some(served) = served {
            served.stop().await;
        }
        ended.map_err(|fault| {
            warn_of_generator(&fault);
            Failure::Path(fault)
        })
    }

    fn finish(
        &self,
        bench: &Bench,
        planned: &Substitution,
        measured: &MeasuredPath,
        seed: Option<u64>,
    ) -> Result<Exit, Failure> {
        let written = match &measured.outcome {
            PathOutcome::Invalid(_) => None,
            PathOutcome::Sound => {
                let day = jiff::tz::Offset::UTC.to_datetime(measured.at).date();
                let due = self.due.map_or_else(|| good_until(day, self.good_for), Ok)?;
                let table = file::table(bench, planned, measured, self.repeats, (day, due), seed);
                write_whole(&self.out, table.to_yaml().as_bytes())?;
                Some(table)
            }
        };
        if self.json {
            print_json(&shown::json(planned, measured, written.as_ref().map(|table| (table, &*self.out))))?;
        } else if !talk::is_quiet() {
            talk::print_text(&shown::table_of(planned, measured))?;
            if written.is_some() {
                say(&shown::how_to_use(planned, &self.out));
            }
        }
        Ok(match (&measured.outcome, measured.lacks_needed) {
            (PathOutcome::Invalid(_), _) => Exit::Exceeds,
            (PathOutcome::Sound, true) => Exit::Undecided,
            (PathOutcome::Sound, false) => Exit::Good,
        })
    }
}

/// The last good day after so many.
fn good_until(day: Date, days: u32) -> Result<Date, Failure> {
    day.checked_add(jiff::Span::new().days(i64::from(days))).map_err(|_| Failure::Usage {
        message: format!("there is no day {days} days after {day}"),
        advice: "say a day with `--due`".to_owned(),
    })
}

/// A number of days, as `365d`.
fn days(text: &str) -> Result<u32, String> {
    const MOST: u32 = 3660;
    let number = text.trim().strip_suffix('d').and_then(|number| number.trim_end().parse().ok());
    number
        .filter(|days| (1..=MOST).contains(days))
        .ok_or_else(|| format!("expected whole days from 1d to {MOST}d, for example 365d"))
}

fn refused(error: SubstitutionError) -> Failure {
    Failure::Usage { message: error.to_string(), advice: error.advice() }
}
