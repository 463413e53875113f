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

/// What was heard of a person who was asked.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Heard {
    /// A line.
    Line(String),
    /// There will be none: the input has ended.
    Ended,
    /// The program is to stop.
    Stopped,
}

/// Where a person is asked.
pub(super) trait Desk {
    /// Tells something.
    fn say(&mut self, text: &str);
    /// Asks, and waits for a line.
    fn ask(&mut self, prompt: &str) -> Heard;
}

/// What is wrong with the answers of a command line: told all at once.
struct Problem {
    message: String,
    advice: String,
    /// For a list of several.
    short: String,
}

/// What takes the place of an answer that is missing or wrong, so that the questions behind it are known as well. No file
/// comes of it.
const STAND_INS: [&str; 7] =
    ["some text", "9 kHz..1 GHz", "-36 dBm", "60 s", "1", "1 W", "/dev/serial/by-id/usb-port"];

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

/// An answer that was taken.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Taken {
    /// As it was said.
    pub(super) raw: String,
    /// As it is written into the file.
    pub(super) written: String,
    /// Whether the command line said it.
    pub(super) given: bool,
}

/// All answers of one file.
pub(super) struct Answers<'d> {
    given: BTreeMap<String, String>,
    others: Others,
    desk: &'d mut dyn Desk,
    /// What was answered in an earlier round, which Enter then stands for.
    before: BTreeMap<String, String>,
    asked: BTreeSet<String>,
    /// Of these the answer is missing or wrong, and something else takes its place.
    stood_in: BTreeSet<String>,
    problems: Vec<Problem>,
    taken: BTreeMap<String, Taken>,
}

impl<'d> Answers<'d> {
    pub(super) fn new(given: BTreeMap<String, String>, others: Others, desk: &'d mut dyn Desk) -> Self {
        Self {
            given,
            others,
            desk,
            before: BTreeMap::new(),
            asked: BTreeSet::new(),
            stood_in: BTreeSet::new(),
            problems: Vec::new(),
            taken: BTreeMap::new(),
        }
    }

    /// Begins another round: what the command line said may be what does not fit, and is asked as well.
    pub(super) fn once_more(&mut self) {
        self.before.append(&mut self.given);
    }

    /// Whether something else takes the place of an answer: then nothing is held against it.
    pub(super) fn is_stood_in(&self, name: &str) -> bool {
        self.stood_in.contains(name)
    }

    /// Whether somebody may answer otherwise in a second round.
    pub(super) fn is_a_person(&self) -> bool {
        self.others == Others::Person
    }

    pub(super) fn say(&mut self, text: &str) {
        self.desk.say(text);
    }

    /// Every answer that was taken, by the name of its question.
    pub(super) fn taken(&self) -> impl Iterator<Item = (&str, &Taken)> {
        self.taken.iter().map(|(name, taken)| (name.as_str(), taken))
    }

    /// Answers of the command line to questions that were not asked because one before them was answered wrongly.
    pub(super) fn excuse(&mut self, is_such: impl Fn(&str) -> bool) {
        let such: Vec<String> = self.given.keys().filter(|name| is_such(name)).cloned().collect();
        self.asked.extend(such);
    }

    /// Answers a question.
    pub(super) fn ask(&mut self, question: &Question<'_>) -> Result<String, Failure> {
        let said = self.given.get(question.name).cloned();
        let given = said.is_some();
        let raw = said.or_else(|| question.usual.clone()).unwrap_or_default();
        let written = self.answer_to(question)?;
        let taken = Taken { raw: raw.trim().to_owned(), written: written.clone(), given };
        self.taken.insert(question.name.to_owned(), taken);
        Ok(written)
    }

    fn answer_to(&mut self, question: &Question<'_>) -> Result<String, Failure> {
        let name = question.name;
        self.asked.insert(name.to_owned());
        let usual = self.before.get(name).cloned().or_else(|| question.usual.clone());
        if let Some(text) = self.given.get(name) {
            return match (question.check)(text.trim()) {
                Ok(answer) => Ok(answer),
                // Whoever is there says it right, and has typed nothing in vain.
                Err(wrong) if self.is_a_person() => {
                    self.tell(Wrong { message: format!("--answer {name}: {}", wrong.message), ..wrong });
                    self.ask_person(question, usual.as_deref())
                }
                Err(wrong) => self.note(
                    question,
                    usual,
                    Problem {
                        message: format!("--answer {name}: {}", wrong.message),
                        short: format!("--answer {name}: {}", wrong.message),
                        advice: wrong.advice.unwrap_or_else(|| format!("it answers: {}", question.asks)),
                    },
                ),
            };
        }
        match self.others {
            Others::Person => self.ask_person(question, usual.as_deref()),
            Others::Usual => match usual.clone() {
                Some(text) => match (question.check)(&text) {
                    Ok(answer) => Ok(answer),
                    Err(wrong) => {
                        let message =
                            format!("the usual answer to `{name}` will not do here: {}", wrong.message);
                        let advice = format!("say `--answer {name}=…`");
                        self.note(question, None, Problem { short: message.clone(), message, advice })
                    }
                },
                None => self.note(question, usual, no_answer(question, "it has no usual one")),
            },
            Others::Nobody => {
                self.note(question, usual, no_answer(question, "standard input is no terminal"))
            }
        }
    }

    /// Goes on with something that will do, so that whatever else is missing or wrong is told with it.
    fn note(
        &mut self,
        question: &Question<'_>,
        usual: Option<String>,
        problem: Problem,
    ) -> Result<String, Failure> {
        self.problems.push(problem);
        self.stood_in.insert(question.name.to_owned());
        let stand_ins = usual.iter().map(String::as_str).chain(STAND_INS);
        let mut fitting = stand_ins.filter_map(|text| (question.check)(text).ok());
        fitting.next().ok_or_else(|| self.told())
    }

    /// Everything that is wrong with the answers, as one failure.
    fn told(&self) -> Failure {
        if let [only] = self.problems.as_slice() {
            return Failure::Usage { message: only.message.clone(), advice: only.advice.clone() };
        }
        let listed: Vec<String> =
            self.problems.iter().map(|problem| format!("- {}", problem.short)).collect();
        let usual = if self.others == Others::Nobody {
            "; `--yes` takes the usual one where there is one"
        } else {
            ""
        };
        Failure::Usage {
            message: format!("{} answers are missing or wrong\n{}", listed.len(), listed.join("\n")),
            advice: format!("say `--answer NAME=…` for each{usual}. Nothing was written"),
        }
    }

    /// Whether every answer that was needed was there, and right.
    pub(super) fn all_were_right(&self) -> Result<(), Failure> {
        if self.problems.is_empty() { Ok(()) } else { Err(self.told()) }
    }

    /// Tells a person why an answer is not taken.
    fn tell(&mut self, wrong: Wrong) {
        self.desk.say(&format!("  {}", wrapped(&wrong.message, 2)));
        if let Some(advice) = wrong.advice {
            self.desk.say(&wrapped(&format!("  help: {advice}"), 4));
        }
    }

    fn ask_person(&mut self, question: &Question<'_>, usual: Option<&str>) -> Result<String, Failure> {
        let usual_text = usual.map_or_else(String::new, |usual| format!(" [{usual}]"));
        let prompt = format!("{}{usual_text}: ", question.asks);
        loop {
            let advice = "begin again, or say `--yes` for the usual answers".to_owned();
            let line = match self.desk.ask(&prompt) {
                Heard::Line(line) => line,
                Heard::Ended => {
                    let name = question.name;
                    let message = format!("no answer to `{name}`: the input has ended; nothing was written");
                    return Err(Failure::Usage { message, advice });
                }
                Heard::Stopped => {
                    let message = format!("stopped at `{}`; nothing was written", question.name);
                    return Err(Failure::Stopped { message, advice });
                }
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
                Err(wrong) => self.tell(wrong),
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
    pub(super) fn all_were_asked(&mut self) -> Result<(), Failure> {
        let strays: Vec<String> =
            self.given.keys().filter(|name| !self.asked.contains(*name)).cloned().collect();
        let known: Vec<&str> = self.asked.iter().map(String::as_str).collect();
        let strays = strays.iter().map(|stray| {
            let near = spurline_document::nearest(stray, &known)
                .map_or_else(String::new, |near| format!("did you mean `{near}`? "));
            let message = format!("--answer {stray}: there is no such question");
            let short = format!("{message}; {near}").trim_end_matches([';', ' ']).to_owned();
            let advice = format!("{near}With these answers the questions are {}", known.join(", "));
            Problem { message, advice, short }
        });
        let strays: Vec<Problem> = strays.collect();
        if self.is_a_person() {
            // Everything was asked: it is for them to say whether something is missing.
            for Problem { message, advice, .. } in strays {
                self.tell(Wrong { message, advice: Some(advice) });
            }
            return Ok(());
        }
        self.problems.extend(strays);
        self.all_were_right()
    }
}

fn no_answer(question: &Question<'_>, why: &str) -> Problem {
    let yes = question.usual.as_ref().map_or_else(String::new, |usual| {
        format!("; or `--yes` for the usual answer to everything, here `{usual}`")
    });
    let usual = question.usual.as_ref().map_or_else(String::new, |usual| format!(" (usual: {usual})"));
    Problem {
        message: format!("the question `{}` ({}) has no answer: {why}", question.name, question.asks.trim()),
        advice: format!("say `--answer {}=…`{yes}. Nothing was written", question.name),
        short: format!("{}: {}{usual}", question.name, question.asks.trim()),
    }
}
