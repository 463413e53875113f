//! `show --transcript`: what passed on the links, for people and for programs.

use std::fmt::Write;

use data_encoding::BASE64;
use serde_json::{Value, json};
use spurline_record::RunId;
use spurline_replay::Shown;
use spurline_store::{Direction, Prunable, Pruning, Transcript, TranscriptEntry};

use super::verify;
use crate::paint;
use crate::talk::{Failure, print_json, print_text, wrapped};

/// Prints the transcript of a run, or what of it passed on one link.
pub(super) fn show(
    run: &RunId,
    transcript: Transcript,
    link: Option<&str>,
    prunings: &[Pruning],
    json: bool,
) -> Result<(), Failure> {
    let mut entries = transcript.entries;
    if let Some(link) = link {
        let links = links(&entries);
        entries.retain(|entry| &*entry.link == link);
        if entries.is_empty() && !links.is_empty() {
            return Err(Failure::Usage {
                message: format!("expected a link of run {run}, found `{link}`"),
                advice: format!("its links are {}", links.join(", ")),
            });
        }
    }
    if json {
        let entries: Vec<_> = entries.iter().map(as_json).collect();
        return print_json(&json!({ "run": run, "entries": entries, "prunings": prunings }));
    }
    if entries.is_empty() {
        let pruned = prunings.iter().find(|pruning| pruning.what == Prunable::Transcript);
        let why = pruned.map_or_else(|| "has no transcript".to_owned(), verify::pruned_words);
        return print_text(&format!("{}\n", wrapped(&format!("run {run}: {why}"), 2)));
    }
    print_text(&as_text(&entries))
}

/// The names of the links, in the order in which they were first used.
fn links(entries: &[TranscriptEntry]) -> Vec<String> {
    let mut links: Vec<String> = Vec::new();
    for entry in entries {
        if !links.iter().any(|known| **known == *entry.link) {
            links.push(entry.link.to_string());
        }
    }
    links
}

/// One line a message, under the step that it belongs to.
fn as_text(entries: &[TranscriptEntry]) -> String {
    let width = entries.iter().map(|entry| entry.link.len()).max().unwrap_or_default();
    let mut text = String::new();
    let mut step = None;
    for entry in entries {
        if step != Some(&entry.step) {
            text.push_str(&format!("{}\n", paint::heading(&entry.step)));
            step = Some(&entry.step);
        }
        let arrow = match entry.direction {
            Direction::To => "->",
            Direction::From => "<-",
            Direction::Unreadable => "<?",
            Direction::Lost | Direction::Resumed => "--",
        };
        let at = entry.at.strftime("%H:%M:%S%.3f");
        let shown = Shown(&entry.bytes);
        let said = match entry.direction {
            Direction::Lost => format!("link lost: {shown}"),
            Direction::Resumed => "the run goes on".to_owned(),
            Direction::To | Direction::From | Direction::Unreadable => shown.to_string(),
        };
        let written = writeln!(text, "  {at}  {:width$}  {arrow} {said}", entry.link);
        written.expect("a text takes what is written into it");
    }
    text
}

/// A message as a program takes it: as text if it is printable ASCII, else in base 64 (RFC 4648).
fn as_json(entry: &TranscriptEntry) -> Value {
    let TranscriptEntry { at, link, direction, step, bytes } = entry;
    let mut value = json!({ "at": at, "link": &**link, "direction": direction, "step": &**step });
    let text = std::str::from_utf8(bytes).ok().filter(|text| text.bytes().all(|b| matches!(b, b' '..=b'~')));
    let (key, content) = match text {
        Some(text) => ("text", text.to_owned()),
        None => ("base64", BASE64.encode(bytes)),
    };
    value[key] = content.into();
    value
}
