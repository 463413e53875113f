//! A plan and a bench that were written for one test, as a library: what they name beyond themselves is shipped.

use spurline_document::Reader;
use spurline_plan::{Forecast, Job, Library, LoadError, NotFound, Text};
use spurline_sim::SimulatedBench;

macro_rules! shipped {
    ($folder:literal: $($name:literal),+ $(,)?) => {
        [$(($name, include_str!(concat!("../../config/", $folder, "/", $name, ".yaml")))),+]
    };
}

const PROFILES: [(&str, &str); 5] = shipped!(
    "profiles": "analyser-generic", "power-meter-generic", "relay-generic", "supply-generic", "unit-generic"
);
const RULES: [(&str, &str); 1] = shipped!("rules": "us-part-97");

/// The texts of `plan.yaml` and `bench.yaml`.
pub(crate) struct Files {
    pub(crate) plan: String,
    pub(crate) bench: String,
}

impl Files {
    /// The job that the plan comes to on the bench.
    ///
    /// # Errors
    ///
    /// The mistakes of the texts.
    pub(crate) fn job(&self) -> Result<Job, String> {
        Job::load("plan.yaml", None, self).map_err(|error| match error {
            LoadError::Mistakes(mistakes) => mistakes.to_string(),
            error => format!("{error:?}"),
        })
    }
}

/// The simulated bench of a job that can be measured.
///
/// # Errors
///
/// Why it cannot be, or the mistakes of what the bench file says of the simulation.
pub(crate) fn simulated(job: &Job) -> Result<SimulatedBench, String> {
    Forecast::of(job).map_err(|mistakes| mistakes.to_string())?;
    let mut reader = Reader::new(&job.bench.document);
    let node = job.bench.simulated.as_ref();
    let bench = node.and_then(|node| SimulatedBench::read(&mut reader, node));
    reader.finish(bench).map_err(|mistakes| mistakes.to_string())
}

fn found(name: &str, shipped: &[(&str, &str)]) -> Result<Text, NotFound> {
    let text = shipped.iter().find(|(known, _)| *known == name).map(|(_, text)| (*text).to_owned());
    let missing = || NotFound { message: format!("there is no `{name}`"), advice: None };
    text.map(|text| Text { name: name.to_owned(), text }).ok_or_else(missing)
}

impl Library for Files {
    fn file(&self, _: &str, path: &str) -> Result<Text, NotFound> {
        found(path, &[("plan.yaml", self.plan.as_str()), ("bench.yaml", self.bench.as_str())])
    }

    fn profile(&self, _: &str, name: &str) -> Result<Text, NotFound> {
        found(name, &PROFILES)
    }

    fn rule(&self, _: &str, name: &str) -> Result<Text, NotFound> {
        found(name, &RULES)
    }

    fn band_plan(&self, _: &str, name: &str) -> Result<Text, NotFound> {
        found(name, &[])
    }
}
