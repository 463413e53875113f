//! `new`: a file to begin with, from a few answers; what is written passes its check at once.

mod answers;
mod at_odds;
mod bench;
mod checks;
mod plan;
mod profile;
mod rule;
#[cfg(test)]
mod tests;

use std::collections::BTreeMap;
use std::fs::OpenOptions;
use std::io::{ErrorKind, IsTerminal, Write};
use std::path::Path;

use clap::{Args, ValueEnum};
use serde_json::json;
use spurline_clock::Pace;
use spurline_plan::{Library, Text};
use spurline_runner::{Drafted, Files};

use crate::exit::Exit;
use crate::stop::told_to_stop;
use crate::talk::{self, Failure, print_json, say};
use answers::{Answers, Desk, Heard, Others};

/// Write a plan, bench, profile or rule to begin with, from a few answers
///
/// At a terminal it asks: Enter takes what stands in brackets, and where there is a choice its number will do. Each answer
/// is checked as the file would be, and asked for again if it is not right. Elsewhere `--answer` gives answers, and `--yes`
/// the usual ones to everything else. The file explains itself, passes its check at once, and never replaces another.
///
/// Ends with 0 if it was written, 2 if an answer is missing or wrong (nothing was written), 5 if it could not be written.
#[derive(Args, Debug)]
pub(crate) struct New {
    /// What kind of file
    #[arg(value_enum)]
    kind: Kind,
    /// The file, for example my-bench.yaml; unless named, the kind with `.yaml`
    file: Option<String>,
    /// An answer; may be given several times. A question that does not exist is told with those that do
    #[arg(long = "answer", value_name = "NAME=VALUE")]
    answers: Vec<String>,
    /// Take the usual answer to every other question
    #[arg(long)]
    yes: bool,
    /// Print one JSON document, and ask nothing
    #[arg(long)]
    pub(crate) json: bool,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum Kind {
    /// What to measure on which unit, against which rule
    Plan,
    /// Instruments, and the path between them and the unit
    Bench,
    /// How one kind of instrument is spoken to, and how good it is
    Profile,
    /// A published regulation
    Rule,
}

/// Files that are ready to be written, and what to do then.
#[derive(Debug)]
struct Draft {
    files: Vec<Made>,
    next: Vec<String>,
    /// What is told when it is accepted.
    notes: Vec<String>,
}

/// A text and where it goes.
#[derive(Debug)]
struct Made {
    file: String,
    text: String,
}

impl Made {
    fn of(file: &str, page: &dyn askama::DynTemplate) -> Self {
        let text = page.dyn_render().expect("a template of texts renders into a string");
        Self { file: file.to_owned(), text: text.trim_end().to_owned() + "\n" }
    }
}

impl New {
    pub(crate) fn execute(self) -> Result<Exit, Failure> {
        let file = self.file.clone().unwrap_or_else(|| format!("{}.yaml", self.kind.word()));
        may_be_written(&file)?;
        let mut given = BTreeMap::new();
        for pair in &self.answers {
            let (name, value) = answer_of(pair)?;
            if let Some(before) = given.insert(name.clone(), value.clone()) {
                return Err(Failure::Usage {
                    message: format!("--answer {name}: given twice, `{before}` and `{value}`"),
                    advice: "a question has one answer: leave one of them out. Nothing was written"
                        .to_owned(),
                });
            }
        }
        let at_terminal = std::io::stdin().is_terminal() && std::io::stderr().is_terminal() && !self.json;
        let others = match (self.yes, at_terminal) {
            (true, _) => Others::Usual,
            (false, true) => Others::Person,
            (false, false) => Others::Nobody,
        };
        let mut desk = Terminal;
        if others == Others::Person {
            desk.say("Enter takes what stands in brackets; Ctrl-C ends it, and then nothing is written");
        }
        let mut answers = Answers::new(given, others, &mut desk);
        let files = Files::from_environment();
        let draft = self.kind.draft(&mut answers, &files, &file)?;
        write_all(&draft.files)?;
        if self.json {
            let written: Vec<_> = draft.files.iter().map(|made| &made.file).collect();
            print_json(&json!({ "files": written, "next": draft.next }))?;
        } else {
            let written = draft.files.iter().map(|made| format!("written {}", made.file));
            let next = draft.next.iter().map(|command| format!("  {command}"));
            let lines: Vec<String> =
                written.chain(std::iter::once("look at it, then:".to_owned())).chain(next).collect();
            say(&lines.join("\n"));
        }
        Ok(Exit::Good)
    }
}

impl Kind {
    const fn word(self) -> &'static str {
        match self {
            Self::Plan => "plan",
            Self::Bench => "bench",
            Self::Profile => "profile",
            Self::Rule => "rule",
        }
    }

    /// Asks until what comes of the answers is accepted as such a file.
    fn draft(self, answers: &mut Answers<'_>, library: &dyn Library, file: &str) -> Result<Draft, Failure> {
        loop {
            let draft = match self {
                Self::Plan => plan::draft(answers, library, file),
                Self::Bench => bench::draft(answers, library, file),
                Self::Profile => profile::draft(answers, file),
                Self::Rule => rule::draft(answers, file),
            };
            // What was wrong with the answers, or missing, comes before what came of that.
            let draft = match draft {
                Ok(draft) => draft,
                Err(failure) => {
                    answers.all_were_right()?;
                    return Err(failure);
                }
            };
            answers.all_were_asked()?;
            let made = |made: &Made| Text { name: made.file.clone(), text: made.text.clone() };
            let texts: Vec<Text> = draft.files.iter().map(made).collect();
            // As if they were written already.
            let drafted = Drafted { texts: &texts, library };
            let accepted = match self {
                Self::Plan => plan::accepted(&drafted, file),
                Self::Bench => bench::accepted(&drafted, file),
                Self::Profile => profile::accepted(&drafted, file),
                Self::Rule => rule::accepted(&drafted, file),
            };
            match accepted {
                Ok(()) => {
                    draft.notes.iter().for_each(|note| answers.say(note));
                    return Ok(draft);
                }
                Err(Failure::Mistakes(mistakes)) if answers.is_a_person() => {
                    answers.say(&mistakes.render(talk::style()));
                    answers.say("these answers do not go together, and nothing was written; once more, Enter keeps an answer");
                    answers.once_more();
                }
                Err(Failure::Mistakes(mistakes)) => {
                    return Err(at_odds::failure(answers, &draft.files, &mistakes));
                }
                Err(other) => return Err(other),
            }
        }
    }
}

/// Both sides of `NAME=VALUE`.
fn answer_of(pair: &str) -> Result<(String, String), Failure> {
    let sides = pair.split_once('=').filter(|(name, _)| !name.trim().is_empty());
    sides.map(|(name, value)| (name.trim().to_owned(), value.trim().to_owned())).ok_or_else(|| {
        Failure::Usage {
            message: format!("--answer: expected a name and a value with `=` between them, found `{pair}`"),
            advice: "write for example `--answer \"title=My bench\"`".to_owned(),
        }
    })
}

/// Before anybody answers anything: whether a file can come of it.
fn may_be_written(file: &str) -> Result<(), Failure> {
    let usage = |message: String, advice: &str| Failure::Usage { message, advice: advice.to_owned() };
    let path = Path::new(file);
    let is_yaml = path.extension().is_some_and(|ending| ending == "yaml");
    if !is_yaml || file.chars().any(char::is_control) {
        return Err(usage(
            format!("expected a file ending in `.yaml`, found `{}`", file.escape_debug()),
            "the other files name it by that ending",
        ));
    }
    if path.symlink_metadata().is_ok() {
        return Err(usage(
            format!("`{file}` is there already, and nothing is written over"),
            "name another file, or move it away",
        ));
    }
    match path.parent().filter(|folder| !folder.as_os_str().is_empty()) {
        Some(folder) if !folder.is_dir() => Err(usage(
            format!("there is no folder `{}`", folder.display()),
            "make it first, or name a file in one that is there",
        )),
        _ => Ok(()),
    }
}

/// Writes all files or none.
fn write_all(files: &[Made]) -> Result<(), Failure> {
    for (place, made) in files.iter().enumerate() {
        if let Err(failure) = write_new(made) {
            // Half of what belongs together would be in the way of the next try.
            files[..place].iter().for_each(|before| drop(std::fs::remove_file(&before.file)));
            return Err(failure);
        }
    }
    Ok(())
}

/// Writes a file that must not be there yet, whole or not at all.
fn write_new(made: &Made) -> Result<(), Failure> {
    let failed = |source| Failure::file("write", made.file.clone(), source);
    let mut opened = match OpenOptions::new().write(true).create_new(true).open(&made.file) {
        Err(error) if error.kind() == ErrorKind::AlreadyExists => {
            may_be_written(&made.file)?;
            return Err(failed(error));
        }
        opened => opened.map_err(failed)?,
    };
    opened.write_all(made.text.as_bytes()).and_then(|()| opened.sync_all()).map_err(|error| {
        // Half a file would be in the way of the next try; that it cannot be removed either is told by the error itself.
        drop(std::fs::remove_file(&made.file));
        failed(error)
    })
}

/// The person at the terminal.
struct Terminal;

impl Desk for Terminal {
    fn say(&mut self, text: &str) {
        talk::tell(text);
    }

    fn ask(&mut self, prompt: &str) -> Heard {
        let heard = spurline_clock::run(Pace::Real, |_| async {
            // Listened for before anything is asked: whoever reads the question may answer it by Ctrl-C.
            let stopped = told_to_stop();
            talk::prompt(prompt);
            tokio::select! {
                line = talk::answer() => line.map_or(Heard::Ended, Heard::Line),
                () = stopped => Heard::Stopped,
            }
        });
        let heard = heard.unwrap_or(Heard::Ended);
        if !matches!(heard, Heard::Line(_)) {
            // What is told next begins a line of its own.
            talk::tell("");
        }
        heard
    }
}
