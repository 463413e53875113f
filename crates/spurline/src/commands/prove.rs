//! `prove`: whether a bench reads a generator's known lines as what they are.

pub(super) mod hand;
mod shown;

use std::collections::BTreeMap;
use std::io::IsTerminal;

use clap::Args;
use spurline_clock::{Clock, Pace};
use spurline_plan::{Bench, Forecast, Job, Proving};
use spurline_record::{BenchProof, ProofOutcome, Role, RunId};
use spurline_runner::{Files, Held, SOFTWARE, salt};
use spurline_sequencer::{Arming, Hand, ProofEnded, ProofSetup, RunFault, prove};
use spurline_sim::SimulatedBench;
use spurline_transport::Tap;
use spurline_units::Hertz;

use crate::data::{DataArgument, open_to_write};
use crate::exit::Exit;
use crate::stop::told_to_stop;
use crate::talk::{self, Failure, print_json, say};
use hand::{Person, Simulator};

/// Read a generator's lines of known level with a bench, and say whether it reads them right
///
/// The generator is connected where the unit's connector is; its output is off until then, and off again at the end.
/// Nothing is keyed, unless a plan is named and the bench file says that unit and generator go through one combiner:
/// then lines are read beside the carrier too. Every later run on this bench says when it was proven.
///
/// Never key a transmitter into a generator: its power destroys the output. Pads stay hot after a run, and a connector
/// under power burns.
///
/// Ends with 0 if every line was read within the uncertainty of the difference, 1 if one was not, 2 for a wrong file or
/// usage, 3 if none was read wrongly but one could not be read, 4 if the bench failed, 5 if the record failed, 130 if it
/// was stopped.
#[derive(Args, Debug)]
pub(crate) struct Prove {
    /// The bench
    bench: String,
    /// A plan, whose ways are proven and beside whose first carrier lines are read too
    #[arg(long, value_name = "PLAN")]
    plan: Option<String>,
    /// A frequency at which a line is read too, for example "439 MHz"; may be given several times
    #[arg(long = "at", value_name = "FREQUENCY")]
    at: Vec<String>,
    /// The only path that is proven
    #[arg(long, value_name = "NAME")]
    path: Option<String>,
    /// Let it key a real bench: you have looked at it, and the cautions are kept
    #[arg(long)]
    arm: bool,
    /// The generator is connected already: do not ask
    #[arg(long)]
    connected: bool,
    #[command(flatten)]
    data: DataArgument,
    /// Print one JSON document instead of a table
    #[arg(long)]
    pub(crate) json: bool,
}

/// What is proven: a bench, and with a plan the job that it makes with it.
struct Subject {
    bench: Bench,
    job: Option<Job>,
}

impl Prove {
    pub(crate) fn execute(self) -> Result<Exit, Failure> {
        let more = self.at.iter().map(|text| frequency(text)).collect::<Result<Vec<Hertz>, _>>()?;
        let subject = self.subject()?;
        let Subject { bench, job } = &subject;
        let simulated = spurline_runner::read_simulated(bench)?;
        let proving = Proving::plan(bench, job.as_ref(), &more, self.path.as_deref()).map_err(refused)?;
        if simulated.is_none() && !self.connected && !std::io::stdin().is_terminal() {
            return Err(Failure::Usage {
                message: "nobody is there to connect the generator: standard input is no terminal".to_owned(),
                advice: "connect it with its output off, then say `--connected`".to_owned(),
            });
        }
        if bench.key.is_by_hand() && !proving.beside.is_empty() {
            return Err(Failure::Usage {
                message: "lines beside the carrier are read while the unit is keyed, and the key of this bench is a person's hand"
                    .to_owned(),
                advice: "prove the bench without `--plan`: then nothing is keyed".to_owned(),
            });
        }
        let folder = self.data.folder()?;
        let held = match &simulated {
            Some(_) => Held::default(),
            None => Held::take(bench.instruments.iter().map(|instrument| &instrument.address))?,
        };
        let store = open_to_write(&folder)?;
        let pace = simulated.as_ref().map_or(Pace::Real, SimulatedBench::pace);
        let ran = spurline_clock::run(pace, |clock| {
            self.prove(bench, job.as_ref(), &proving, simulated.as_ref(), clock)
        });
        let ended = ran.map_err(Failure::runtime)??;
        drop(held);
        match ended {
            ProofEnded::Interrupted => {
                say("stopped: the key is up and the generator's output is off");
                Ok(Exit::Interrupted)
            }
            ProofEnded::Finished(proof) => {
                store.keep_proof(&proof)?;
                self.show(&proof)?;
                Ok(exit(proof.outcome))
            }
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
        // What the carrier would overload is refused as for a run.
        Forecast::of(&job)?;
        Ok(Subject { bench: job.bench.clone(), job: Some(job) })
    }

    async fn prove(
        &self,
        bench: &Bench,
        job: Option<&Job>,
        proving: &Proving<'_>,
        simulated: Option<&SimulatedBench>,
        clock: Clock,
    ) -> Result<ProofEnded, Failure> {
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
        let setup = ProofSetup {
            id: RunId::new(clock.timestamp(), salt()),
            software: SOFTWARE.to_owned(),
            simulated: simulated.map(SimulatedBench::seed),
            addresses,
            arming: match (simulated, self.arm, bench.armed) {
                (Some(_), _, _) => Arming::Simulated,
                (None, true, _) => Arming::ThisRun,
                (None, false, true) => Arming::BenchFile,
                (None, false, false) => Arming::Not,
            },
            key: spurline_runner::key(served.as_ref()),
            notes: bench
                .not_good_on(spurline_runner::today(clock))
                .into_iter()
                .chain(not_beside(bench, job))
                .collect(),
        };
        if simulated.is_none() && job.is_some() && !proving.beside.is_empty() {
            say(&spurline_runner::cautions());
        }
        let mut hand: Box<dyn Hand> = match &served {
            Some(served) => Box::new(Simulator(served)),
            None => Box::new(Person { connected: self.connected }),
        };
        let json = self.json;
        let mut tell = |what: spurline_sequencer::Proceeding<'_>| {
            if !json {
                shown::told(what);
            }
        };
        let stop = told_to_stop();
        let stopping = async {
            stop.await;
            say("stopping: key up and output off first");
        };
        let tap = Tap::default();
        let ended =
            prove(bench, job, proving, &setup, (clock, &tap), hand.as_mut(), &mut tell, stopping).await;
        drop(hand);
        if let Some(served) = served {
            served.stop().await;
        }
        ended.map_err(failed)
    }

    fn show(&self, proof: &BenchProof) -> Result<(), Failure> {
        if self.json {
            return print_json(&shown::json(proof));
        }
        if talk::is_quiet() {
            return talk::print(format!("{} {}\n", proof.id, proof.outcome).as_bytes());
        }
        talk::print_text(&shown::table_of(proof))
    }
}

/// Why nothing is read beside a carrier, where somebody might expect it.
fn not_beside(bench: &Bench, job: Option<&Job>) -> Option<String> {
    let combined = bench.generator.as_ref().is_some_and(|used| used.isolation.is_some());
    match (combined, job) {
        (true, None) => {
            Some("no line was read beside a carrier: `--plan` names one that the unit is keyed on".to_owned())
        }
        (false, Some(_)) => Some(
            "no line was read beside a carrier: the bench file has no `beside_carrier: true` for its generator"
                .to_owned(),
        ),
        (true, Some(_)) | (false, None) => None,
    }
}

fn exit(outcome: ProofOutcome) -> Exit {
    match outcome {
        ProofOutcome::Proven => Exit::Good,
        ProofOutcome::NotProven => Exit::Exceeds,
        ProofOutcome::Undecided => Exit::Undecided,
    }
}

fn refused(error: spurline_plan::ProvingError) -> Failure {
    Failure::Usage { message: error.to_string(), advice: error.advice() }
}

/// A generator that could not be told is a thing to look after at once.
pub(super) fn warn_of_generator(fault: &RunFault) {
    if let RunFault::Instrument(instrument) = fault
        && instrument.role() == Role::Generator
    {
        talk::tell(
            "the generator's output may still be on: switch it off by hand before anything is connected",
        );
    }
}

fn failed(fault: RunFault) -> Failure {
    warn_of_generator(&fault);
    Failure::Prove(fault)
}

/// A frequency of `--at`.
pub(super) fn frequency(text: &str) -> Result<Hertz, Failure> {
    text.parse().map_err(|error: spurline_units::QuantityError| {
        let error = error.to_string();
        let (message, advice) =
            error.split_once('\n').unwrap_or((&error, "write it with its unit: `--at \"439 MHz\"`"));
        Failure::Usage { message: format!("--at: {message}"), advice: advice.to_owned() }
    })
}
