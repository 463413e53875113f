//! The built program, and benches and plans written for one test.

use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use std::sync::OnceLock;

use serde_json::Value;
use tempfile::TempDir;

/// The program, built from the present source; or the one that `SPURLINE_PROGRAM` names, for who has just built it and
/// spares every test the asking.
pub(crate) fn program() -> &'static Path {
    static PROGRAM: OnceLock<PathBuf> = OnceLock::new();
    PROGRAM.get_or_init(|| {
        if let Some(program) = std::env::var_os("SPURLINE_PROGRAM") {
            return PathBuf::from(program);
        }
        let mut build = Command::new(env!("CARGO"));
        // What cargo tells a test of its own package would make dependencies that look at it be built again.
        for (name, _) in std::env::vars_os() {
            if name
                .to_str()
                .is_some_and(|name| name.starts_with("CARGO_PKG_") || name.starts_with("CARGO_MANIFEST_"))
            {
                build.env_remove(name);
            }
        }
        let built = build
            .args(["build", "--quiet", "--package", "spurline", "--message-format", "json"])
            .current_dir(root())
            .output()
            .unwrap();
        assert!(built.status.success(), "{}", String::from_utf8_lossy(&built.stderr));
        let messages = String::from_utf8(built.stdout).unwrap();
        let mut paths = messages.lines().filter_map(|line| {
            let message: Value = serde_json::from_str(line).ok()?;
            message["executable"].as_str().map(PathBuf::from)
        });
        paths.next_back().unwrap()
    })
}

pub(crate) fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("..").canonicalize().unwrap()
}

/// What a call of the program came to.
#[derive(Debug)]
pub(crate) struct Called {
    pub(crate) exit: i32,
    pub(crate) out: String,
    pub(crate) talk: String,
}

impl Called {
    pub(crate) fn new(output: Output) -> Self {
        Self {
            exit: output.status.code().unwrap_or(-1),
            out: String::from_utf8(output.stdout).unwrap(),
            talk: String::from_utf8(output.stderr).unwrap(),
        }
    }

    pub(crate) fn json(&self) -> Value {
        serde_json::from_str(&self.out).unwrap_or_else(|error| panic!("{error}: {self:?}"))
    }
}

/// A folder of its own with files and a record.
pub(crate) struct Workshop {
    pub(crate) folder: TempDir,
}

impl Workshop {
    pub(crate) fn new() -> Self {
        Self { folder: TempDir::new().unwrap() }
    }

    pub(crate) fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    pub(crate) fn write(&self, name: &str, text: &str) {
        std::fs::write(self.path(name), text).unwrap();
    }

    pub(crate) fn command(&self, arguments: &[&str]) -> Command {
        let mut command = Command::new(program());
        command.args(arguments).current_dir(self.folder.path());
        command.env("SPURLINE_DATA", self.path("data")).env("NO_COLOR", "1").env("TZ", "UTC");
        command
    }

    pub(crate) fn call(&self, arguments: &[&str]) -> Called {
        Called::new(self.command(arguments).output().unwrap())
    }

    /// A workshop with `plan.yaml` and `bench.yaml`.
    pub(crate) fn with(plan: &str, bench: &str) -> Self {
        let workshop = Self::new();
        workshop.write("plan.yaml", plan);
        workshop.write("bench.yaml", bench);
        workshop
    }
}

/// A shipped plan on a shipped bench, each with texts replaced in it, in a workshop of its own.
pub(crate) fn shipped(
    (plan, bench): (&str, &str),
    in_plan: &[(&str, &str)],
    in_bench: &[(&str, &str)],
) -> Workshop {
    let read = |name: String| std::fs::read_to_string(root().join("config").join(name)).unwrap();
    let replaced = |text: String, pairs: &[(&str, &str)]| {
        pairs.iter().fold(text, |text, (from, to)| {
            assert!(text.contains(from), "`{from}` is not in:\n{text}");
            text.replace(from, to)
        })
    };
    let text = read(format!("plans/{plan}.yaml")).replace(&format!("../benches/{bench}.yaml"), "bench.yaml");
    let paths = root().join("config/paths");
    let beside = read(format!("benches/{bench}.yaml")).replace("../paths", paths.to_str().unwrap());
    Workshop::with(&replaced(text, in_plan), &replaced(beside, in_bench))
}

/// The readings of a run in a workshop.
pub(crate) fn readings(workshop: &Workshop) -> Vec<Value> {
    let called = workshop.call(&["run", "plan.yaml", "--json"]);
    called.json()["readings"].as_array().unwrap_or_else(|| panic!("no readings: {called:?}")).clone()
}

/// The first reading of a quantity in a run in a workshop.
#[track_caller]
pub(crate) fn reading(workshop: &Workshop, quantity: &str) -> Value {
    let readings = readings(workshop);
    let found = readings.iter().find(|reading| reading["quantity"] == quantity);
    found.unwrap_or_else(|| panic!("no {quantity} in {readings:#?}")).clone()
}

/// A plan of one channel.
pub(crate) fn plan(carrier: &str, up_to: u32) -> String {
    format!(
        "plan: test\nbench: bench.yaml\nrule: us-part-97\nunit: {{ model: FH-2 }}\n\
         channels: [ {{ name: one, carrier: {carrier}, power: {{ high: 4..5.5 W }} }} ]\n\
         measure: {{ harmonics: {{ up_to: {up_to} }} }}\n"
    )
}

/// The path's parts as a bench file states them.
pub(crate) const PARTS: &str = "\
common: [ { attenuator: 30 dB, over: 1 MHz..3.2 GHz, rated: 25 W, uncertainty: 0.1 dB, name: pad, vswr: 1.1 } ]
branches:
  analyser: [ { attenuator: 6 dB, over: 1 MHz..3.2 GHz, uncertainty: 0.1 dB, name: splitter, vswr: 1.1 } ]
  power_meter: [ { attenuator: 6 dB, over: 1 MHz..3.2 GHz, uncertainty: 0.1 dB, name: other, vswr: 1.1 } ]
armed: true
";

/// The truth of a bench whose path is what [`PARTS`] says.
pub(crate) fn simulated(seed: u64, more: &str) -> String {
    format!(
        "\
simulated:
  seed: {seed}
  units:
    - {{ serial: U-1, model: FH-2, firmware: 1.0, range: 130 MHz..500 MHz, powers: {{ high: 4.7 W }},
        harmonics: {{ 2: 60 dB, 3: 49 dB }}, vswr: 1.3, vswr_off_carrier: 4 }}
  analyser: {{ identity: {{ maker: Example, model: Analyser, serial: A-0001, firmware: 1.0 }} }}
  power_meter: {{}}
  relay: {{}}
  path:
    common: [ {{ name: pad, pad: 30 dB, vswr: 1.1 }} ]
    analyser: [ {{ name: splitter, pad: 6 dB, vswr: 1.1 }} ]
    power_meter: [ {{ name: other, pad: 6 dB, vswr: 1.1 }} ]
{more}"
    )
}

/// The instruments of a bench at ports from `port` on; `serial` pins the analyser.
pub(crate) fn instruments(port: u16, serial: &str) -> String {
    let at = |offset: u16| format!("\"TCPIP::127.0.0.1::{}::SOCKET\"", port + offset);
    format!(
        "\
bench: test
analyser: {{ at: {}, profile: analyser-generic, serial: {serial} }}
power_meter: {{ at: {}, profile: power-meter-generic }}
unit_control: {{ at: {}, profile: unit-generic }}
key: {{ relay: {{ at: {}, profile: relay-generic, contact: 1, opens_by_itself: 1 s }} }}
",
        at(0),
        at(1),
        at(2),
        at(3)
    )
}

/// A whole simulated bench.
pub(crate) fn simulated_bench(seed: u64, more: &str) -> String {
    [instruments(25_025, "A-0001"), PARTS.to_owned(), simulated(seed, more)].concat()
}
