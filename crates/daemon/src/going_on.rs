//! Which bench of the service a recorded run goes on with. The run's own files say what is keyed; so a bench fits only if its
//! file is still the one that the run was begun with, to the letter: under any other name other instruments would be keyed.

use std::sync::Arc;

use spurline_plan::Library;
use spurline_record::{SourceText, TextRole};
use spurline_runner::Files;

use crate::bench::Bench;

/// Whether a run with these files was begun with the file of a bench. One that cannot be read is none.
pub(crate) fn fits(bench: &Bench, texts: &[SourceText]) -> bool {
    let file = Files::from_environment().file("", &bench.at.file.display().to_string());
    let recorded = recorded(texts);
    file.is_ok_and(|file| recorded.is_some_and(|recorded| recorded.text == file.text))
}

/// The bench's file as the run has it.
fn recorded(texts: &[SourceText]) -> Option<&SourceText> {
    texts.iter().find(|text| text.role == TextRole::Bench)
}

/// The name of that file, for messages.
pub(crate) fn file_of(texts: &[SourceText]) -> &str {
    recorded(texts).map_or("a bench that is not in the record", |text| text.name.as_str())
}

/// The names of the benches that fit, the one named `before` first: it is where the run went on last.
pub(crate) fn fitting(benches: &[Arc<Bench>], texts: &[SourceText], before: Option<&str>) -> Vec<String> {
    // One that holds a test day has no queue.
    let fitting = benches.iter().filter(|bench| bench.door.is_none() && fits(bench, texts));
    let mut names: Vec<String> = fitting.map(|bench| bench.at.name.clone()).collect();
    names.sort_by_key(|name| Some(name.as_str()) != before);
    names
}

/// What to do where a bench does not fit.
pub(crate) fn advice(fitting: &[String]) -> String {
    match fitting {
        [] => "no bench of this service has that file any more: put it back as it was, go on at a terminal with \
               `spurline resume`, or have the plan measured anew"
            .to_owned(),
        names => {
            let names: Vec<String> = names.iter().map(|name| format!("`{name}`")).collect();
            format!("go on with it on {}", names.join(" or "))
        }
    }
}
