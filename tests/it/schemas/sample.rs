//! Files that are put before a reader and a schema.

use std::path::Path;
use std::sync::OnceLock;

use serde_json::Value as Json;
use spurline_document::{Document, Mistakes, Node, Reader};
use spurline_limits::{BandPlan, Rule};
use spurline_path::Part;
use spurline_plan::{Bench, Job, Library, LoadError, NotFound, Text};
use spurline_profile::Profile;
use spurline_sim::SimulatedBench;
use spurline_walkin::Day;

use super::document::{Step, entries_at, entry, flow, json_at, node_at, scalar};
use super::schema::Schema;
use crate::bench::{PARTS, instruments, root};

/// The kinds of file that people write.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Kind {
    Plan,
    Bench,
    Profile,
    Rule,
    Table,
    Band,
    Day,
    Service,
}

impl Kind {
    pub(super) const ALL: [Self; 8] = [
        Self::Plan,
        Self::Bench,
        Self::Profile,
        Self::Rule,
        Self::Table,
        Self::Band,
        Self::Day,
        Self::Service,
    ];

    pub(super) const fn word(self) -> &'static str {
        match self {
            Self::Plan => "plan",
            Self::Bench => "bench",
            Self::Profile => "profile",
            Self::Rule => "rule",
            Self::Table => "table",
            Self::Band => "band",
            Self::Day => "day",
            Self::Service => "service",
        }
    }

    /// Where the shipped ones lie.
    const fn folder(self) -> &'static str {
        match self {
            Self::Plan => "config/plans",
            Self::Bench => "config/benches",
            Self::Profile => "config/profiles",
            Self::Rule => "config/rules",
            Self::Table => "config/paths",
            Self::Band => "config/bands",
            Self::Day => "config/days",
            Self::Service => "config/services",
        }
    }

    /// The text of the schema's file.
    pub(super) fn file(self) -> String {
        let path = root().join("config/schemas").join(format!("{}.json", self.word()));
        std::fs::read_to_string(path).unwrap()
    }

    pub(super) fn schema(self) -> Schema {
        static ROOTS: OnceLock<[Json; 8]> = OnceLock::new();
        let roots = ROOTS.get_or_init(|| Self::ALL.map(|kind| serde_json::from_str(&kind.file()).unwrap()));
        Schema::new(&roots[self as usize])
    }
}

/// A file, by its path from the root of the repository.
#[derive(Clone, Debug)]
pub(super) struct Sample {
    pub(super) kind: Kind,
    pub(super) name: String,
    pub(super) text: String,
}

/// Every shipped file, the benches of the simulator's tests, which have everything on them, and one with a serial port.
pub(super) fn shipped() -> Vec<Sample> {
    let mut samples = Vec::new();
    for kind in Kind::ALL {
        let folder = kind.folder();
        for entry in std::fs::read_dir(root().join(folder)).unwrap() {
            let file = entry.unwrap().file_name().into_string().unwrap();
            // Beside the tables lie files of another format.
            if !file.ends_with(".yaml") {
                continue;
            }
            samples.push(Sample::shipped(kind, &format!("{folder}/{file}")));
        }
    }
    for name in ["bench", "unit", "analyser"] {
        let simulated = Sample::shipped(Kind::Bench, &format!("crates/sim/tests/{name}.yaml")).text;
        let text = [instruments(25_025, "A-0001"), PARTS.to_owned(), simulated].concat();
        samples.push(Sample {
            kind: Kind::Bench,
            name: format!("config/benches/everything-{name}.yaml"),
            text,
        });
    }
    let (name, text) = TABLES[0];
    let stated = Sample { kind: Kind::Table, name: format!("config/paths/{name}"), text: text.to_owned() };
    samples.push(stated);
    let port =
        "unit_control: { at: \"ASRL/dev/ttyUSB0::INSTR\", line: { baud: 115200, framing: 7E1, flow: none }";
    let network = "unit_control: { at: \"TCPIP::127.0.0.1::25027::SOCKET\"";
    let text = [instruments(25_025, "A-0001"), PARTS.to_owned()].concat();
    let serial = Sample { kind: Kind::Bench, name: "config/benches/serial.yaml".to_owned(), text };
    samples.push(serial.with(&[(network, port)]));
    let text = [instruments(25_025, "A-0001"), PARTS.to_owned()].concat();
    let by_command = Sample { kind: Kind::Bench, name: "config/benches/by-command.yaml".to_owned(), text };
    let relay = "relay: { at: \"TCPIP::127.0.0.1::25028::SOCKET\", profile: relay-generic, contact: 1, opens_by_itself: 1 s }";
    let command = "command: { down: [ /bin/key, down ], up: [ /bin/key, up ], state: [ /bin/key, state ], within: 500 ms }";
    samples.push(by_command.with(&[(relay, command)]));
    let by_ways = "use: { carrier: through, harmonics: notched }\nslip: 58 mm";
    samples.push(Sample::shipped(Kind::Day, "config/days/demo.yaml").with(&[("slip: 58 mm", by_ways)]));
    let service = Sample::shipped(Kind::Service, "config/services/demo.yaml");
    let elsewhere = "token_file: token\ntls: { certificate: certificate.pem, key: key.pem }\ndata: data\nnames: [ a.example ]";
    samples.push(service.with(&[("names: []", elsewhere)]));
    assert!(samples.len() >= 14, "only {} samples found", samples.len());
    samples
}

/// What a reader had to say: messages, each with its advice.
pub(super) type Told = Vec<(String, Option<String>)>;

impl Sample {
    pub(super) fn shipped(kind: Kind, name: &str) -> Self {
        let text = std::fs::read_to_string(root().join(name)).unwrap();
        Self { kind, name: name.to_owned(), text }
    }

    /// The same with each first text replaced by its second.
    pub(super) fn with(mut self, changes: &[(&str, &str)]) -> Self {
        for (from, to) in changes {
            assert!(self.text.contains(from), "`{from}` is not in {}", self.name);
            self.text = self.text.replacen(from, to, 1);
        }
        self
    }

    pub(super) fn tree(&self) -> Document {
        Document::parse(&self.name, &self.text).unwrap_or_else(|mistakes| panic!("{mistakes}"))
    }

    /// What an editor makes of it: scalars are numbers and flags where the core schema of YAML says so.
    pub(super) fn json(&self) -> Json {
        let options = serde_yaml::options! { strict_booleans: true };
        serde_yaml::from_str_with_options(&self.text, options)
            .unwrap_or_else(|error| panic!("{}: {error}", self.name))
    }

    /// The same with one more key in the map at the end of the way, once for the reader and once for the schema.
    pub(super) fn with_key(&self, way: &[Step], key: &str, value: &Json) -> (Self, Json) {
        self.changed(
            |tree| entries_at(tree, way).push(entry(key, scalar(value))),
            |json| drop(json_at(json, way).as_object_mut().unwrap().insert(key.to_owned(), value.clone())),
        )
    }

    /// The same without a key of the map at the end of the way.
    pub(super) fn without_key(&self, way: &[Step], key: &str) -> (Self, Json) {
        self.changed(
            |tree| entries_at(tree, way).retain(|entry| entry.key != key),
            |json| drop(json_at(json, way).as_object_mut().unwrap().remove(key)),
        )
    }

    /// The same with another single value at the end of the way.
    pub(super) fn with_value(&self, way: &[Step], value: &Json) -> (Self, Json) {
        self.changed(
            |tree| node_at(tree, way).value = scalar(value),
            |json| *json_at(json, way) = value.clone(),
        )
    }

    fn changed(&self, tree: impl FnOnce(&mut Node), json: impl FnOnce(&mut Json)) -> (Self, Json) {
        let (mut for_reader, mut for_schema) = (self.tree().root, self.json());
        tree(&mut for_reader);
        json(&mut for_schema);
        (Self { text: flow(&for_reader), ..self.clone() }, for_schema)
    }

    /// Whether its reader takes it, and what it says if not.
    pub(super) fn read(&self) -> Result<(), Told> {
        match self.kind {
            Kind::Plan => self.plan().map(drop),
            Kind::Bench => self.simulated().map(drop),
            Kind::Profile => Document::parse(&self.name, &self.text)
                .and_then(|d| Profile::read(&d))
                .map(drop)
                .map_err(told),
            Kind::Table => self.table(),
            Kind::Rule => {
                Document::parse(&self.name, &self.text).and_then(|d| Rule::read(&d)).map(drop).map_err(told)
            }
            Kind::Band => Document::parse(&self.name, &self.text)
                .and_then(|d| BandPlan::read(&d))
                .map(drop)
                .map_err(told),
            Kind::Day => {
                Document::parse(&self.name, &self.text).and_then(|d| Day::read(&d)).map(drop).map_err(told)
            }
            Kind::Service => Document::parse(&self.name, &self.text)
                .and_then(|d| spurline_daemon::configuration::read(&d))
                .map(drop)
                .map_err(told),
        }
    }

    /// A table, as a bench that names it reads it.
    fn table(&self) -> Result<(), Told> {
        let bench = Document::parse("bench.yaml", "table.yaml").unwrap();
        let mut reader = Reader::new(&bench);
        let part = Part::read(&mut reader, &bench.root, &mut |_| Ok(self.text.clone()));
        reader.finish(part).map(drop).map_err(told)
    }

    /// A plan with everything that it names.
    pub(super) fn plan(&self) -> Result<Job, Told> {
        Job::load(&self.name, None, self).map_err(load_error)
    }

    /// The simulated bench of a bench file, if it has one.
    pub(super) fn simulated(&self) -> Result<Option<SimulatedBench>, Told> {
        let bench: Bench = Job::load_bench(&self.name, self).map_err(load_error)?;
        let Some(node) = &bench.simulated else { return Ok(None) };
        let mut reader = Reader::new(&bench.document);
        let simulated = SimulatedBench::read(&mut reader, node);
        reader.finish(simulated).map(Some).map_err(told)
    }
}

fn told(mistakes: Mistakes) -> Told {
    let one = |mistake: &spurline_document::Mistake| {
        (mistake.message().to_owned(), mistake.advice().map(str::to_owned))
    };
    mistakes.all().iter().map(one).collect()
}

fn load_error(error: LoadError) -> Told {
    match error {
        LoadError::Mistakes(mistakes) => told(mistakes),
        other @ (LoadError::NoPlan(_) | LoadError::NoBench) => vec![(other.to_string(), other.advice())],
    }
}

/// Table files that samples may name wherever they stand.
const TABLES: [(&str, &str); 2] = [
    ("stated.yaml", "loss: [ [ 1 MHz, 0.1 dB ], [ 4 GHz, 0.9 dB ] ]\nuncertainty: 0.1 dB\n"),
    ("bare.yaml", "loss: [ [ 1 MHz, 0.1 dB ], [ 4 GHz, 0.9 dB ] ]\n"),
];

/// The sample itself under its own name; all else as it lies in the repository.
impl Library for Sample {
    fn file(&self, beside: &str, path: &str) -> Result<Text, NotFound> {
        let found = |text: String| Text { name: path.to_owned(), text };
        if beside.is_empty() && path == self.name {
            return Ok(found(self.text.clone()));
        }
        if let Some((_, text)) = TABLES.iter().find(|(name, _)| *name == path) {
            return Ok(found((*text).to_owned()));
        }
        let folder = root().join(Path::new(beside).parent().unwrap());
        let full = folder.join(path);
        match std::fs::read_to_string(&full) {
            Ok(text) => Ok(Text { name: full.display().to_string(), text }),
            Err(_) => Err(NotFound { message: format!("there is no file `{path}`"), advice: None }),
        }
    }

    fn profile(&self, _: &str, name: &str) -> Result<Text, NotFound> {
        self.file("config/profiles/asking", &format!("{name}.yaml"))
    }

    fn rule(&self, _: &str, name: &str) -> Result<Text, NotFound> {
        self.file("config/rules/asking", &format!("{name}.yaml"))
    }

    fn band_plan(&self, _: &str, name: &str) -> Result<Text, NotFound> {
        self.file("config/bands/asking", &format!("{name}.yaml"))
    }
}
