//! `check`: everything that can be known without an instrument.

mod json;
mod search;
mod spectrum;
mod text;
mod timetable;
mod watch;

use clap::Args;
use jiff::civil::Date;
use spurline_clock::Pace;
use spurline_plan::{FactForecast, Forecast, Job, Library, ModulationFact, Prospect, abandoned_key};
use spurline_runner::Files;

use crate::exit::Exit;
use crate::talk::{self, Failure, print_json, print_text};

/// Say everything about a plan that can be known without an instrument
///
/// Limits, levels at every part of the path, the floor that each reading needs and the one to be expected, what
/// this bench cannot decide and what would help, key-downs and time. Ends with 2 if the plan would be refused, and with
/// 130 when `--watch` is stopped.
#[derive(Args, Debug)]
pub(crate) struct Check {
    /// The plan
    plan: String,
    /// The bench, instead of the one that the plan names
    #[arg(long, value_name = "FILE")]
    bench: Option<String>,
    /// Check again whenever the plan or a file that it refers to changes, until Ctrl-C
    #[arg(long, conflicts_with = "json")]
    watch: bool,
    /// Print one JSON document
    #[arg(long)]
    pub(crate) json: bool,
}

impl Check {
    pub(crate) fn execute(self) -> Result<Exit, Failure> {
        if self.watch {
            return watch::execute(&self);
        }
        let today = spurline_clock::run(Pace::Real, |clock| async move { spurline_runner::today(clock) });
        self.once(&Files::from_environment(), today.map_err(Failure::runtime)?)?;
        Ok(Exit::Good)
    }

    fn once(&self, library: &dyn Library, today: Date) -> Result<(), Failure> {
        let job = Job::load(&self.plan, self.bench.as_deref(), library)?;
        spurline_runner::read_simulated(&job.bench)?;
        let mut forecast = Forecast::of(&job)?;
        let abandoned = abandoned_key(&job);
        forecast.notes.retain(|note| *note != abandoned);
        forecast.notes.insert(0, abandoned);
        let expired = job.bench.not_good_on(today);
        spurline_runner::refuse_expired(&job, &expired)?;
        forecast.notes.extend(expired);
        if self.json {
            print_json(&json::document(&job, &forecast))?;
        } else if !talk::is_quiet() {
            print_text(&text::page(&job, &forecast))?;
        }
        Ok(())
    }
}

fn fact_words(fact: &FactForecast) -> &'static str {
    match fact.fact {
        ModulationFact::Deviation => "deviation",
        ModulationFact::Depth => "depth of modulation",
    }
}

fn word(prospect: &Prospect) -> &'static str {
    match prospect {
        Prospect::Able => "able",
        Prospect::Unable(_) => "unable",
        Prospect::NoLimit(_) => "no limit",
    }
}

fn why(prospect: &Prospect) -> Option<&str> {
    match prospect {
        Prospect::Able => None,
        Prospect::Unable(why) | Prospect::NoLimit(why) => Some(why),
    }
}
