//! Where the texts come from that a run is judged again by.

use std::path::Path;

use spurline_document::Mistakes;
use spurline_plan::{Library, NotFound, Text};
use spurline_runner::{Files, Recorded};

use crate::talk::Failure;

/// The plan and what it names from the record, the bench and what it names from the disk.
pub(super) struct Mixed<'a> {
    pub(super) recorded: Recorded<'a>,
    pub(super) files: Files,
    /// The name of the recorded plan.
    pub(super) plan: &'a str,
}

impl Mixed<'_> {
    fn library(&self, beside: &str, path: &str) -> &dyn Library {
        let of_the_plan = beside == self.plan || (beside.is_empty() && path == self.plan);
        if of_the_plan { &self.recorded } else { &self.files }
    }
}

impl Library for Mixed<'_> {
    fn file(&self, beside: &str, path: &str) -> Result<Text, NotFound> {
        self.library(beside, path).file(beside, path)
    }

    fn profile(&self, beside: &str, name: &str) -> Result<Text, NotFound> {
        self.library(beside, "").profile(beside, name)
    }

    fn rule(&self, beside: &str, name: &str) -> Result<Text, NotFound> {
        self.library(beside, "").rule(beside, name)
    }

    fn band_plan(&self, beside: &str, name: &str) -> Result<Text, NotFound> {
        self.library(beside, "").band_plan(beside, name)
    }
}

/// Both sides of `NAME=VALUE`; `example` is one that could be meant.
pub(super) fn pair<'t>(argument: &str, text: &'t str, example: &str) -> Result<(&'t str, &'t str), Failure> {
    let sides = text.split_once('=').map(|(name, value)| (name.trim(), value.trim()));
    sides.filter(|(name, value)| !name.is_empty() && !value.is_empty()).ok_or_else(|| Failure::Usage {
        message: format!("{argument}: expected a name and what it is, with `=` between them, found `{text}`"),
        advice: format!("write for example `{argument} {example}`"),
    })
}

/// What is wrong with tables that took the place of others: told of the files that were named, not of those of the run, whose
/// names the run's own files have.
pub(super) fn of_the_tables(mistakes: &Mistakes, tables: &[(&str, &str)]) -> Failure {
    let named = |text: &str| {
        tables.iter().fold(text.to_owned(), |text, (recorded, file)| {
            // A message names a table as the bench file does, which may be any last part of its name.
            let parts: Vec<&str> = recorded.split('/').collect();
            let names = (0..parts.len()).map(|from| parts[from..].join("/"));
            let names = names.chain((1..parts.len()).map(|from| format!("../{}", parts[from..].join("/"))));
            names.fold(text, |text, name| text.replace(&format!("`{name}`"), &format!("`{file}`")))
        })
    };
    let mut told: Vec<String> = Vec::new();
    for mistake in mistakes.in_order() {
        let message = named(mistake.message());
        if !told.contains(&message) {
            told.push(message);
        }
    }
    let files: Vec<String> =
        tables.iter().map(|(recorded, file)| format!("`{file}` in place of `{recorded}`")).collect();
    let advice = mistakes.in_order().first().and_then(|first| first.advice());
    let advice = advice.map_or_else(String::new, |advice| format!(". {advice}"));
    Failure::Usage {
        message: format!("--path: {}: {}", files.join(", "), told.join("; ")),
        advice: format!(
            "the run reads with its own tables: mend the file that was named{advice}; nothing was judged"
        ),
    }
}

/// The text of a file on the disk.
pub(super) fn read_file(file: &str) -> Result<String, Failure> {
    std::fs::read_to_string(Path::new(file)).map_err(|error| Failure::Usage {
        message: format!("--path: cannot read `{file}`: {error}"),
        advice: "name a table behind the `=`, from the folder that you are in; nothing was judged".to_owned(),
    })
}
