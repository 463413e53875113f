//! A run in this process whose plan and bench may be what `check` would refuse: whether the key was pressed stands on the
//! wire.

use std::error::Error;
use std::future::pending;
use std::path::{Path, PathBuf};

use spurline_clock::Pace;
use spurline_document::Reader;
use spurline_plan::{Job, Library, LoadError, NotFound, Text};
use spurline_record::{Event, EventKind, Interlock, RunId};
use spurline_sequencer::{Arming, Begun, Dispatcher, KeySetup, Listener, Recorder, RunFault, Setup, measure};
use spurline_sim::SimulatedBench;
use spurline_transport::{Direction, Tap};

use crate::served::serve;

/// What is tried.
#[derive(Clone, Debug)]
pub struct Trial {
    /// The plan's text; its bench is `bench.yaml`.
    pub plan: String,
    /// The bench's text.
    pub bench: String,
    /// Who has armed it.
    pub arming: Arming,
    /// Why nothing more can be kept, if so.
    pub full: Option<String>,
    /// Which event the recorder fails on first, given what it has kept; it keeps nothing from there on.
    pub fails_on: fn(&[Event], &EventKind) -> bool,
    /// What becomes of the job once the instruments have answered.
    pub changed: fn(&mut Job),
}

/// What came of it.
#[derive(Debug)]
pub struct Tried {
    /// What was kept.
    pub events: Vec<Event>,
    /// Why the run ended early, if it did.
    pub fault: Option<RunFault>,
    /// What the relay was told, in order.
    pub to_relay: Vec<String>,
    /// Every message that was sent, in order, with its link.
    pub sent: Vec<(String, String)>,
}

impl Tried {
    /// Whether the key was ever pressed.
    #[must_use]
    pub fn was_keyed(&self) -> bool {
        self.to_relay.iter().any(|message| message.contains("CLOS (@"))
    }

    /// Everything that was told of interlocks, in order.
    #[must_use]
    pub fn interlocks(&self) -> Vec<&Interlock> {
        self.events
            .iter()
            .filter_map(|event| if let EventKind::Interlocks(told) = &event.kind { Some(told) } else { None })
            .flatten()
            .collect()
    }
}

impl Trial {
    /// A trial of a plan on a bench, with everything in order.
    #[must_use]
    pub fn new(plan: String, bench: String) -> Self {
        Self { plan, bench, arming: Arming::Simulated, full: None, fails_on: |_, _| false, changed: |_| () }
    }

    /// Does the whole of it, in virtual time.
    ///
    /// # Errors
    ///
    /// If the files cannot be read or the bench cannot be served.
    pub fn run(&self) -> Result<Tried, String> {
        let mut job = Job::load("plan.yaml", None, self).map_err(|error| match error {
            LoadError::Mistakes(mistakes) => mistakes.to_string(),
            error => format!("{error:?}"),
        })?;
        let mut reader = Reader::new(&job.bench.document);
        let node = job.bench.simulated.as_ref();
        let bench = node.and_then(|node| SimulatedBench::read(&mut reader, node));
        let bench = reader.finish(bench).map_err(|mistakes| mistakes.to_string())?;
        let mut kept =
            Kept { events: Vec::new(), full: self.full.clone(), fails_on: self.fails_on, failed: false };
        let tap = Tap::default();
        let ran = spurline_clock::run(Pace::Fast, |clock| {
            let (kept, tap, job) = (&mut kept, tap.clone(), &mut job);
            async move {
                let (served, addresses) =
                    serve(job, &bench, clock).await.map_err(|error| format!("{error:?}"))?;
                let setup = Setup {
                    before: spurline_sequencer::Before::default(),
                    id: RunId::new(clock.timestamp(), 0),
                    software: "interlocks".to_owned(),
                    unit: None,
                    firmware: None,
                    simulated: Some(bench.seed()),
                    addresses,
                    key: KeySetup::default(),
                    notes: Vec::new(),
                    noted: Vec::new(),
                    kept: None,
                    arming: self.arming,
                    proven: None,
                };
                let mut deaf = Deaf;
                let mut out = Dispatcher::new(clock, kept, &mut deaf);
                let fault = match Begun::connect(job, &setup, clock, tap).await {
                    Err(fault) => Some(fault),
                    Ok(begun) => {
                        (self.changed)(job);
                        measure(job, &setup, begun, clock, &mut out, pending()).await.err()
                    }
                };
                served.stop().await;
                Ok::<_, String>(fault)
            }
        });
        let fault = ran.map_err(|error| error.to_string())??;
        let sent: Vec<(String, String)> = tap
            .take()
            .into_iter()
            .filter(|tapped| matches!(tapped.direction, Direction::Sent))
            .map(|tapped| (tapped.link.to_string(), String::from_utf8_lossy(&tapped.bytes).into_owned()))
            .collect();
        let to_relay =
            sent.iter().filter(|(link, _)| link == "relay").map(|(_, text)| text.clone()).collect();
        Ok(Tried { events: kept.events, fault, to_relay, sent })
    }
}

struct Kept {
    events: Vec<Event>,
    full: Option<String>,
    fails_on: fn(&[Event], &EventKind) -> bool,
    failed: bool,
}

impl Recorder for Kept {
    fn keep(&mut self, events: &[Event]) -> Result<(), Box<dyn Error + Send + Sync>> {
        self.failed |= events.iter().any(|event| (self.fails_on)(&self.events, &event.kind));
        if self.failed {
            return Err("the disk is gone".into());
        }
        self.events.extend_from_slice(events);
        Ok(())
    }

    fn ready(&mut self) -> Result<String, String> {
        self.full.clone().map_or_else(|| Ok("kept".to_owned()), Err)
    }
}

struct Deaf;

impl Listener for Deaf {
    fn hear(&mut self, _: &Event) {}
}

fn shipped(folder: &str, path: &str) -> Result<Text, NotFound> {
    let root: PathBuf = Path::new(env!("CARGO_MANIFEST_DIR")).join("../config").join(folder);
    match std::fs::read_to_string(root.join(path)) {
        Ok(text) => Ok(Text { name: path.to_owned(), text }),
        Err(_) => Err(NotFound { message: format!("there is no file `{path}`"), advice: None }),
    }
}

impl Library for Trial {
    fn file(&self, _: &str, path: &str) -> Result<Text, NotFound> {
        let text = match path {
            "plan.yaml" => self.plan.clone(),
            "bench.yaml" => self.bench.clone(),
            other => return shipped("paths", other.trim_start_matches("../paths/")),
        };
        Ok(Text { name: path.to_owned(), text })
    }

    fn profile(&self, _: &str, name: &str) -> Result<Text, NotFound> {
        shipped("profiles", &format!("{name}.yaml"))
    }

    fn rule(&self, _: &str, name: &str) -> Result<Text, NotFound> {
        shipped("rules", &format!("{name}.yaml"))
    }

    fn band_plan(&self, _: &str, name: &str) -> Result<Text, NotFound> {
        shipped("bands", &format!("{name}.yaml"))
    }
}
