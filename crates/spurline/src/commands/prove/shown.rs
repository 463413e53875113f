//! A proof as a table, as a document, and as it comes about.

use serde_json::{Value, json};
use spurline_record::{BenchProof, KnownLine, ProofOutcome};
use spurline_sequencer::Proceeding;

use crate::paint;
use crate::table::{flush_right, table};
use crate::talk::{counted, say, wrapped};

const LEGEND: &str = "levels in dBm where the unit's connector is; U: the expanded uncertainty of the difference, k = 2, \
    of path, analyser and generator together; beside: the carrier that was there too";

/// What happens, for a person who waits.
pub(super) fn told(what: Proceeding<'_>) {
    match what {
        Proceeding::Doing(_) => {}
        Proceeding::KeyDown(longest) => {
            say(&format!("  {} for at most {longest}", paint::key_down("KEY DOWN")));
        }
        Proceeding::KeyUp(held) => say(&format!("  key up after {held:.1}")),
        Proceeding::Read(line) => say(&format!("  {}", in_short(line))),
    }
}

fn in_short(line: &KnownLine) -> String {
    let read = read(line, 1);
    let expected = format!("{:.1}", line.expected.get());
    format!("{:>9.3} MHz  {expected:>6} dBm expected, {read:>8} read  {}", line.frequency.mhz(), line.outcome)
}

fn read(line: &KnownLine, digits: usize) -> String {
    match line.read {
        None => "-".to_owned(),
        Some(level) if line.bound => format!("<= {:.digits$}", level.get()),
        Some(level) => format!("{:.digits$}", level.get()),
    }
}

/// The table of all lines and what they come to.
pub(super) fn table_of(proof: &BenchProof) -> String {
    let mut lines = table(&["path", "beside", "MHz", "expected", "read", "diff.", "U", "outcome"]);
    for line in &proof.lines {
        lines.add_row([
            line.path.clone(),
            line.beside.map_or_else(|| "-".to_owned(), |carrier| format!("{:.3}", carrier.mhz())),
            format!("{:.3}", line.frequency.mhz()),
            format!("{:.2}", line.expected.get()),
            read(line, 2),
            line.difference.map_or_else(|| "-".to_owned(), |difference| format!("{:+.2}", difference.get())),
            format!("{:.2}", line.allowed.get()),
            line.outcome.to_string(),
        ]);
    }
    flush_right(&mut lines, &[1, 2, 3, 4, 5, 6]);
    let mut text = format!("{}\n\n{}\n\n", wrapped(LEGEND, 0), lines.trim_fmt());
    for line in &proof.lines {
        if let Some(reason) = &line.reason {
            let what = format!("{} at {:.1} dBm: {reason}", line.frequency, line.expected.get());
            text.push_str(&format!("{}\n", wrapped(&what, 2)));
        }
    }
    for note in &proof.notes {
        text.push_str(&format!("{}\n", wrapped(&format!("note: {note}"), 6)));
    }
    let bad = proof.lines.iter().filter(|line| line.outcome == ProofOutcome::NotProven).count();
    let bench = &proof.bench;
    let verdict = match proof.outcome {
        ProofOutcome::Proven => format!("{bench}: proven by {}", counted(proof.lines.len(), "line")),
        ProofOutcome::NotProven => {
            format!("{bench}: not proven, {bad} of {} read wrongly", counted(proof.lines.len(), "line"))
        }
        ProofOutcome::Undecided => format!("{bench}: undecided"),
    };
    text.push_str(&format!("{verdict}\n"));
    text
}

/// The proof for programs, with the units in the keys.
pub(super) fn json(proof: &BenchProof) -> Value {
    let line = |line: &KnownLine| {
        json!({
            "path": line.path,
            "beside_carrier_hz": line.beside,
            "frequency_hz": line.frequency,
            "set_dbm": line.set,
            "expected_dbm": line.expected,
            "read_dbm": line.read,
            "bound": line.bound,
            "difference_db": line.difference,
            "expanded_uncertainty_db": line.allowed,
            "path_loss_db": line.path_loss,
            "budget": line.budget,
            "settings": line.settings,
            "outcome": line.outcome,
            "reason": line.reason,
        })
    };
    json!({
        "proof": proof.id,
        "at": proof.at,
        "bench": proof.bench,
        "outcome": proof.outcome,
        "software": proof.software,
        "simulated": proof.simulated,
        "instruments": proof.instruments,
        "lines": proof.lines.iter().map(line).collect::<Vec<_>>(),
        "notes": proof.notes,
    })
}
