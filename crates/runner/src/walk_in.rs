//! A radio that somebody has brought: its carrier is found before there is a plan for it.

use std::collections::BTreeMap;

use spurline_clock::{Clock, Pace};
use spurline_plan::{Forecast, Job, Warm};
use spurline_record::RunId;
use spurline_sequencer::{Arming, Before, Begun, KeySetup, Setup, Sought, Wanted, find_carrier};
use spurline_sim::SimulatedBench;
use spurline_transport::Tap;

use crate::company::Company;
use crate::failure::Failure;
use crate::hold::Held;
use crate::measurement::{SOFTWARE, salt};
use crate::operator::Simulated;
use crate::{arming, simulated};

/// What is known of a radio that was brought, beside what a plan says.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Visitor {
    /// What has shown the path before the run.
    pub shown: Option<String>,
    /// Which of the units of a simulated bench it is, by its serial number.
    pub simulated_unit: Option<String>,
    /// What was keyed before the run.
    pub before: Before,
}

/// So much of what a part may rise by is worth a word.
const TOLD_RISE: f64 = 0.005;

/// What a reader should know of parts that were warm before a run began.
pub(crate) fn warm_in_words(parts: &[Warm]) -> Option<String> {
    let warm = parts.iter().filter(|warm| warm.rise >= TOLD_RISE);
    let told: Vec<String> = warm
        .map(|warm| format!("`{}` by {:.0} % of what it may rise", warm.part, 100.0 * warm.rise))
        .collect();
    (!told.is_empty()).then(|| format!("warm from what was keyed before this run: {}", told.join(", ")))
}

/// A search for the carrier of a radio that somebody has brought.
#[derive(Debug)]
pub struct Search<'a> {
    /// A plan whose bands are where the carrier may be, and its bench.
    pub job: &'a Job,
    /// Whether whoever started it has armed a real bench for it.
    pub arm: bool,
    /// For how long a carrier is waited for, and how strong it may be.
    pub wanted: Wanted,
    /// Which of the units of a simulated bench it is.
    pub simulated_unit: Option<String>,
}

impl Search<'_> {
    /// Has the person key and let go, and finds the carrier.
    ///
    /// # Errors
    ///
    /// [`Failure`]; whoever keyed was told to let go.
    pub fn execute(self, company: &mut dyn Company) -> Result<Sought, Failure> {
        let job = self.job;
        let forecast = Forecast::of(job)?;
        let mut bench = simulated::read(&job.bench)?;
        if let Some(bench) = &mut bench {
            connect(bench, self.simulated_unit.as_deref())?;
        }
        let held = match &bench {
            Some(_) => Held::default(),
            None => Held::take(job.bench.instruments.iter().map(|instrument| &instrument.address))?,
        };
        if bench.is_none() && !self.arm && !job.bench.armed {
            return Err(arming::refuse(job, &forecast, &[], company));
        }
        let pace = bench.as_ref().map_or(Pace::Real, SimulatedBench::pace);
        let sought = spurline_clock::run(pace, |clock| self.search(bench, clock, pace, company));
        drop(held);
        sought.map_err(Failure::Runtime)?
    }

    async fn search(
        &self,
        bench: Option<SimulatedBench>,
        clock: Clock,
        pace: Pace,
        company: &mut dyn Company,
    ) -> Result<Sought, Failure> {
        let (served, addresses) = match &bench {
            Some(bench) => {
                let (served, addresses) = simulated::serve_anywhere(&self.job.bench, bench, clock).await?;
                (Some(served), addresses)
            }
            None => (None, BTreeMap::new()),
        };
        let setup = Setup {
            id: RunId::new(clock.timestamp(), salt()),
            software: SOFTWARE.to_owned(),
            unit: None,
            firmware: None,
            simulated: bench.as_ref().map(SimulatedBench::seed),
            addresses,
            key: KeySetup::default(),
            notes: Vec::new(),
            noted: Vec::new(),
            kept: None,
            arming: if bench.is_some() { Arming::Simulated } else { Arming::ThisRun },
            proven: None,
            before: Before::default(),
        };
        let begun = Begun::connect(self.job, &setup, clock, Tap::default()).await.map_err(Failure::Run)?;
        let begun = begun.with_operator(match &served {
            Some(served) => Box::new(Simulated { speaker: served.speaker(), thumb: served.thumb() }),
            None => company.operator(),
        });
        let mut listener = company.listener(0, pace);
        let stop = company.stop();
        let sought = find_carrier(self.job, begun, clock, self.wanted, listener.as_mut(), stop).await;
        if let Some(served) = served {
            served.stop().await;
        }
        sought.map_err(Failure::Run)
    }
}

/// Connects a unit of a simulated bench, if one is named.
pub(crate) fn connect(bench: &mut SimulatedBench, unit: Option<&str>) -> Result<(), Failure> {
    match unit {
        Some(serial) if !bench.connect_unit(serial) => {
            let known: Vec<String> = bench.units().map(|unit| unit.serial.to_owned()).collect();
            Err(Failure::Usage {
                message: format!("the simulated bench has no unit with serial number `{serial}`"),
                advice: format!("units of this bench: {}", known.join(", ")),
            })
        }
        Some(_) | None => Ok(()),
    }
}
