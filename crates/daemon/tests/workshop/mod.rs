//! A folder with a plan and benches, for services to be begun in.

use std::path::{Path, PathBuf};

use spurline_daemon::configuration::{BenchAt, Configuration, LISTEN};
use spurline_runner::RecordAt;
use spurline_store::Disk;

/// A plan of three readings.
const PLAN: &str = "plan: short
rule: us-part-97
unit: { model: FH-2, rated_power: 5 W }
supply: [ { name: battery, set: 7.4 V, limit: 2.5 A } ]
channels: [ { name: VHF, carrier: 144.2 MHz, power: { high: 4..5.5 W } } ]
measure: { harmonics: { up_to: 3 } }
";

/// The folder.
pub(crate) struct Workshop {
    pub(crate) folder: tempfile::TempDir,
}

impl Workshop {
    /// One with the plan `short`.
    pub(crate) fn new() -> Self {
        let workshop = Self { folder: tempfile::tempdir().unwrap() };
        std::fs::create_dir(workshop.path("plans")).unwrap();
        workshop.write("plans/short.yaml", PLAN);
        workshop
    }

    pub(crate) fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    pub(crate) fn write(&self, name: &str, text: &str) {
        std::fs::write(self.path(name), text).unwrap();
    }

    #[allow(dead_code, reason = "not every test has it")]
    /// The shipped bench under a name, with one text replaced in it.
    pub(crate) fn bench(&self, name: &str, (from, to): (&str, &str)) {
        let config = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../config");
        let bench = std::fs::read_to_string(config.join("benches/demo.yaml")).unwrap();
        assert!(bench.contains(from), "{from}");
        let bench = bench.replace("../paths", config.join("paths").to_str().unwrap());
        self.write(&format!("{name}.yaml"), &bench.replace(from, to));
    }

    /// A service of these benches.
    pub(crate) fn configuration(&self, benches: &[&str]) -> Configuration {
        let at = |name: &&str| BenchAt {
            name: (*name).to_owned(),
            file: self.path(&format!("{name}.yaml")),
            day: None,
        };
        Configuration {
            title: "test".to_owned(),
            listen: LISTEN,
            names: Vec::new(),
            token_file: None,
            tls: None,
            data: None,
            plans: self.path("plans"),
            benches: benches.iter().map(at).collect(),
            schedules: Vec::new(),
            announced: Vec::new(),
        }
    }

    /// Where its record is.
    pub(crate) fn record(&self) -> RecordAt {
        RecordAt { folder: self.path("data"), disk: Disk::Any, reserve: 0 }
    }
}
