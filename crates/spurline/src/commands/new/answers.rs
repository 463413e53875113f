//! Questions and where their answers come from: the command line, a person at the terminal, or the usual answer.

use std::collections::{BTreeMap, BTreeSet};

use crate::talk::{Failure, wrapped};

/// Why an answer is not taken.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Wrong {
    pub(super) message: String,
    pub(super) advice: Option<String>,
}

impl Wrong {
    pub(super) fn new(message: impl Into<String>, advice: impl Into<String>) -> Self {
        Self { message: message.into(), advice: Some(advice.into()) }
    }

    /// What a reader of files has to say; its second line is advice.
    pub(super) fn of(error: &dyn std::error::Error) -> Self {
        let text = error.to_string();
        match text.split_once('\n') {
            Some((message, advice)) => Self::new(message, advice),
            None => Self { message: text, advice: None },
        }
    }
}

/// Whether an answer is taken, and how it is written into the file.
pub(super) type Check<'c> = &'c dyn Fn(&str) -> Result<String, Wrong>;

/// One of several answers: its word, and what it means.
pub(super) type Choice<'c> = (&'c str, &'c str);

/// A question.
pub(super) struct Question<'q> {
    /// Its name, for `--answer`.
    pub(super) name: &'q str,
    /// In words.
    pub(super) asks: &'q str,
    /// What Enter stands for.
    pub(super) usual: Option<String>,
    pub(super) check: Check<'q>,
}

/// Where a person is asked.
pub(super) trait Desk {
    /// Tells something.
    fn say(&mut self, text: &str);
    /// Asks, and waits for a line; `None` if there will be none.
    fn ask(&mut self, prompt: &str) -> Option<String>;
}

/// Who answers what the command line does not.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Others {
    /// The person at the terminal.
    Person,
    /// The usual answers.
    Usual,
    /// Nobody: there is no terminal.
    Nobody,
}

/// All answers of one file.
pub(super) struct Answers<'d> {
    given: BTreeMap<String, String>,
    others: Others,
    desk: &'d mut dyn Desk,
    /// What was answered in an earlier round, which Enter then stands for.
    before: BTreeMap<String, String>,
    asked: BTreeSet<String>,
}

impl<'d> Answers<'d> {
    pub(super) fn new(given: BTreeMap<String, String>, others: Others, desk: &'d mut dyn Desk) -> Self {
        Self { given, others, desk, before: BTreeMap::new(), asked: BTreeSet::new() }
    }

    /// Whether somebody may answer otherwise in a second round.
    pub(super) fn is_a_person(&self) -> bool {
        self.others == Others::Person
    }

    pub(super) fn say(&mut self, text: &str) {
        self.desk.say(text);
    }

    /// Answers a question.
    pub(super) fn ask(&mut self, question: &Question<'_>) -> Result<String, Failure> {
        let name = question.name;
        self.asked.insert(name.to_owned());
        if let Some(text) = self.given.get(name) {
            return (question.check)(text.trim()).map_err(|wrong| Failure::Usage {
                message: format!("--answer {name}: {}", wrong.message),
                advice: wrong.advice.unwrap_or_else(|| format!("it answers: {}", question.asks)),
            });
        }
        let usual = self.before.get(name).cloned().or_else(|| question.usual.clone());
        match self.others {
            Others::Person => self.ask_person(question, usual.as_deref()),
            Others::Usual => match usual {
                Some(usual) => (question.check)(&usual).map_err(|wrong| Failure::Usage {
                    message: format!("the usual answer to `{name}` will not do here: {}", wrong.message),
                    advice: format!("say `--answer {name}=…`"),
                }),
                None => Err(no_answer(question, "it has no usual one")),
            },
            Others::Nobody => Err(no_answer(question, "standard input is no terminal")),
        }
    }

    fn ask_person(&mut self, question: &Question<'_>, usual: Option<&str>) -> Result<String, Failure> {
        let usual_text = usual.map_or_else(String::new, |usual| format!(" [{usual}]"));
        let prompt = format!("{}{usual_text}: ", question.asks);
        loop {
            let Some(line) = self.desk.ask(&prompt) else {
                return Err(Failure::Usage {
                    message: format!("no answer to `{}`: the input has ended", question.name),
                    advice: "nothing was written; begin again, or say `--yes` for the usual answers"
                        .to_owned(),
                });
            };
            let text = match (line.trim(), usual) {
                ("", Some(usual)) => usual,
                (text, _) => text,
            };
            match (question.check)(text) {
                Ok(answer) => {
                    self.before.insert(question.name.to_owned(), text.to_owned());
                    return Ok(answer);
                }
                Err(wrong) => {
                    self.desk.say(&format!("  {}", wrapped(&wrong.message, 2)));
                    if let Some(advice) = wrong.advice {
                        self.desk.say(&wrapped(&format!("  help: {advice}"), 4));
                    }
                }
            }
        }
    }

    /// Answers a question that has several answers, by word or by number.
    pub(super) fn choose(
        &mut self,
        (name, asks): (&str, &str),
        choices: &[Choice<'_>],
        usual: &str,
    ) -> Result<String, Failure> {
        if self.others == Others::Person && !self.given.contains_key(name) {
            let width = choices.iter().map(|(word, _)| word.len()).max().unwrap_or_default();
            for (number, (word, means)) in choices.iter().enumerate() {
                let line = format!("  {:>2}  {word:width$}  {means}", number + 1);
                self.desk.say(&wrapped(line.trim_end(), width + 8));
            }
        }
        let check = |text: &str| {
            let numbered = text.parse::<usize>().ok().and_then(|number| choices.get(number.checked_sub(1)?));
            let found = choices.iter().find(|(word, _)| *word == text).or(numbered);
            found.map(|(word, _)| (*word).to_owned()).ok_or_else(|| {
                let words: Vec<&str> = choices.iter().map(|(word, _)| *word).collect();
                Wrong::new(
                    format!("expected one of {} answers, found `{text}`", choices.len()),
                    format!("answer one of {}, or its number", words.join(", ")),
                )
            })
        };
        self.ask(&Question { name, asks, usual: Some(usual.to_owned()), check: &check })
    }

    /// What was given for questions that nobody asked is a slip.
    pub(super) fn all_were_asked(&self) -> Result<(), Failure> {
        match self.given.keys().find(|name| !self.asked.contains(*name)) {
            None => Ok(()),
            Some(stray) => {
                let known: Vec<&str> = self.asked.iter().map(String::as_str).collect();
                let near = spurline_document::nearest(stray, &known)
                    .map_or_else(String::new, |near| format!("did you mean `{near}`? "));
                Err(Failure::Usage {
                    message: format!("--answer {stray}: there is no such question"),
                    advice: format!("{near}With these answers the questions are {}", known.join(", ")),
                })
            }
        }
    }
}

fn no_answer(question: &Question<'_>, why: &str) -> Failure {
    let yes = question.usual.as_ref().map_or_else(String::new, |usual| {
        format!("; or `--yes` for the usual answer to everything, here `{usual}`")
    });
    Failure::Usage {
        message: format!("the question `{}` ({}) has no answer: {why}", question.name, question.asks),
        advice: format!("say `--answer {}=…`{yes}. Nothing was written", question.name),
    }
}
