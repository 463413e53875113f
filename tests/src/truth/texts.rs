//! A subject as files: what a person would write, and beside it what is true.

use std::collections::BTreeMap;
use std::io;
use std::path::Path as Folder;

use spurline_document::{Document, Mistakes, Reader};
use spurline_sim::{SimulatedBench, calibrate};
use spurline_units::Hertz;

use super::parts::Part;
use super::subject::Subject;

/// The files of one subject by their names; `plan.yaml` names the others.
#[derive(Clone, Debug)]
pub struct Texts(pub(super) BTreeMap<String, String>);

impl Texts {
    /// Writes the files of a subject.
    ///
    /// # Errors
    ///
    /// What the simulator finds wrong with the truth.
    pub fn of(subject: &Subject) -> Result<Self, Mistakes> {
        let bench = bench(subject);
        let mut files = tables(subject, &bench)?;
        files.insert("plan.yaml".to_owned(), plan(subject));
        files.insert("bench.yaml".to_owned(), bench);
        files.insert("analyser.yaml".to_owned(), subject.analyser.profile());
        if let Some(meter) = &subject.meter {
            files.insert("power-meter.yaml".to_owned(), meter.profile());
        }
        if let Some(rule) = subject.rule.text() {
            files.insert(subject.rule.name().to_owned(), rule);
        }
        Ok(Self(files))
    }

    /// Puts them into a folder, from which `spurline run plan.yaml` measures the same.
    ///
    /// # Errors
    ///
    /// What the operating system says.
    pub fn write(&self, folder: &Folder) -> io::Result<()> {
        std::fs::create_dir_all(folder)?;
        self.0.iter().try_for_each(|(name, text)| std::fs::write(folder.join(name), text))
    }
}

/// What the first parts bear, W: more than any unit gives.
const RATED: Option<f64> = Some(100.0);
/// The contact that puts the notch in.
const NOTCH: u32 = 3;

fn plan(subject: &Subject) -> String {
    let unit = &subject.unit;
    format!(
        "plan: {name}\nbench: bench.yaml\nrule: {rule}\nunit: {unit_keys}\n\
         channels: [ {{ name: one, carrier: {carrier:.6} MHz, power: {{ high: {low:.6}..{high:.6} dBm }} }} ]\n\
         measure: {{ harmonics: {{ up_to: {up_to} }} }}\n{adapter}{ways}",
        name = subject.name,
        rule = subject.rule.name(),
        unit_keys = unit.in_plan(),
        carrier = unit.carrier / 1e6,
        low = unit.window[0],
        high = unit.window[1],
        up_to = unit.up_to,
        adapter = subject.path.adapter.as_ref().map_or(String::new(), |part| {
            format!("adapter: {}\n", part.stated(subject.analyser.highest, RATED))
        }),
        ways =
            if subject.path.notch.is_some() { "use: { carrier: through, harmonics: notched }\n" } else { "" },
    )
}

fn bench(subject: &Subject) -> String {
    let Subject { name, unit, analyser, meter, path, seed, more, .. } = subject;
    let stated = |parts: &[Part], rated| list(parts, |part| part.stated(analyser.highest, rated));
    let truth = |parts: &[Part]| list(parts, |part| part.truth(None));
    let common: Vec<Part> = path.adapter.iter().chain(&path.common).cloned().collect();
    let true_analyser = match &path.notch {
        None => truth(&path.analyser),
        Some(notch) => {
            let mut parts: Vec<String> = path.analyser.iter().map(|part| part.truth(None)).collect();
            parts.insert(1, notch.truth(Some(NOTCH)));
            format!("[ {} ]", parts.join(", "))
        }
    };
    let (ways, switch) = match &path.notch {
        None => Default::default(),
        Some(notch) => {
            (relays(&notch.stated(analyser.highest, None), path.analyser[0].name), "  switch: {}\n")
        }
    };
    let (meter_at, meter_branch, meter_truth) = match meter {
        None => Default::default(),
        Some(meter) => (
            "power_meter: { at: \"TCPIP::127.0.0.1::15026::SOCKET\", profile: power-meter.yaml }\n"
                .to_owned(),
            format!("  power_meter: {}\n", stated(&path.power_meter, None)),
            format!("  power_meter: {}\n", meter.truth()),
        ),
    };
    let ambient = subject
        .ambient
        .iter()
        .map(|(frequency, level)| format!("{{ frequency: {frequency:.0} Hz, level: {level:.4} dBm }}"));
    let ambient: Vec<String> = ambient.collect();
    format!(
        "\
bench: {name}
analyser: {{ at: \"TCPIP::127.0.0.1::15025::SOCKET\", profile: analyser.yaml }}
{meter_at}unit_control: {{ at: \"TCPIP::127.0.0.1::15029::SOCKET\", profile: unit-generic }}
key: {{ relay: {{ at: \"TCPIP::127.0.0.1::15028::SOCKET\", profile: relay-generic, contact: 1, opens_by_itself: 1 s }} }}
common: {common}
branches:
  analyser: {to_analyser}
{meter_branch}{ways}simulated:
  seed: {seed}
  units: [ {unit} ]
  analyser: {analyser_truth}
{meter_truth}{switch}  relay: {{}}
  path:
    common: {true_common}
    analyser: {true_analyser}
    power_meter: {true_meter}
  ambient: [ {ambient} ]
{more}",
        common = stated(&path.common, RATED),
        to_analyser = stated(&path.analyser, None),
        unit = unit.truth(),
        analyser_truth = analyser.truth(),
        true_common = truth(&common),
        true_meter = truth(&path.power_meter),
        ambient = ambient.join(", "),
    )
}

/// A relay that puts a notch in behind a part, and the two ways that it makes.
fn relays(notch: &str, after: &str) -> String {
    format!(
        "\
relays:
  notch: {{ at: \"TCPIP::127.0.0.1::15030::SOCKET\", profile: relay-generic, positions: {{ out: [], in: [ {NOTCH} ] }} }}
paths:
  through: {{ branch: analyser, set: {{ notch: out }} }}
  notched: {{ branch: analyser, set: {{ notch: in }}, insert: [ {notch} ], insert_after: {after} }}
"
    )
}

fn list(parts: &[Part], text: impl Fn(&Part) -> String) -> String {
    let parts: Vec<String> = parts.iter().map(text).collect();
    format!("[ {} ]", parts.join(", "))
}

/// What the simulated laboratory says of the parts.
fn tables(subject: &Subject, bench: &str) -> Result<BTreeMap<String, String>, Mistakes> {
    let document = Document::parse("bench.yaml", bench)?;
    let mut reader = Reader::new(&document);
    let simulated = document.root.get("simulated").and_then(|node| SimulatedBench::read(&mut reader, node));
    let simulated = reader.finish(simulated)?;
    let tables = calibrate(&simulated, Hertz::new(subject.analyser.highest));
    Ok(tables.into_iter().map(|table| (format!("{}.s2p", table.name), table.touchstone)).collect())
}
