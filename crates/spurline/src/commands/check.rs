//! `check`: everything that can be known without an instrument.

mod json;
mod search;
mod spectrum;
mod text;
mod timetable;

use clap::Args;
use spurline_clock::Pace;
use spurline_plan::{FactForecast, Forecast, Job, ModulationFact, Prospect, abandoned_key};
use spurline_runner::Files;

use crate::exit::Exit;
use crate::talk::{Failure, print_json, print_text};

/// Say everything about a plan that can be known without an instrument
///
/// Limits, levels at every part of the path, the floor that each reading needs and the one to be expected, what
/// this bench cannot decide and what would help, key-downs and time. Ends with 2 if the plan would be refused.
#[derive(Args, Debug)]
pub(crate) struct Check {
    /// The plan
    plan: String,
    /// The bench, instead of the one that the plan names
    #[arg(long, value_name = "FILE")]
    bench: Option<String>,
    /// Print one JSON document
    #[arg(long)]
    pub(crate) json: bool,
}

impl Check {
    pub(crate) fn execute(self) -> Result<Exit, Failure> {
        let job = Job::load(&self.plan, self.bench.as_deref(), &Files::from_environment())?;
        spurline_runner::read_simulated(&job.bench)?;
        let mut forecast = Forecast::of(&job)?;
        let abandoned = abandoned_key(&job);
        forecast.notes.retain(|note| *note != abandoned);
        forecast.notes.insert(0, abandoned);
        let today = spurline_clock::run(Pace::Real, |clock| async move { spurline_runner::today(clock) })
            .map_err(Failure::runtime)?;
        let expired = job.bench.not_good_on(today);
        spurline_runner::refuse_expired(&job, &expired)?;
        forecast.notes.extend(expired);
        if self.json {
            print_json(&json::document(&job, &forecast))?;
        } else {
            print_text(&text::page(&job, &forecast))?;
        }
        Ok(Exit::Good)
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
