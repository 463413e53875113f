//! Trying commands one by one, and keeping what became of them.

use std::time::Duration;

use spurline_clock::Moment;
use spurline_profile::Messages;
use spurline_scpi::{Element, Message, Unit};

use super::advice;
use super::answering::{Answering, Reaction};
use super::finding::{Finding, Verdict};
use super::line::{Heard, Line, Lost};
use super::shown::{shown, shown_bytes};

/// A conversation in which commands are tried, and what was found.
#[derive(Debug)]
pub(super) struct Trial {
    pub(super) line: Line,
    pub(super) messages: Messages,
    /// How long the answer to a question is waited for that may well be unknown.
    pub(super) guess: Duration,
    /// Whether a command that is not known raises an error.
    errors_tell: bool,
    findings: Vec<Finding>,
    notes: Vec<String>,
}

/// What became of a spelling, and what it was answered with.
#[derive(Debug)]
pub(super) struct Outcome {
    pub(super) verdict: Verdict,
    pub(super) units: Vec<Unit>,
}

impl Outcome {
    fn of(verdict: Verdict) -> Self {
        Self { verdict, units: Vec::new() }
    }
}

impl Trial {
    pub(super) fn new(line: Line, messages: Messages) -> Self {
        let guess = line.within();
        Self { line, messages, guess, errors_tell: true, findings: Vec::new(), notes: Vec::new() }
    }

    pub(super) fn into_findings(self) -> (Vec<Finding>, Vec<String>) {
        (self.findings, self.notes)
    }

    /// Keeps something to be known or done.
    pub(super) fn note(&mut self, text: impl Into<String>) {
        self.notes.push(text.into());
    }

    /// Keeps what became of a command, with the usual advice.
    pub(super) fn keep(&mut self, command: &'static str, spelling: &str, verdict: Verdict) {
        let advice = advice::for_command(command, &verdict);
        self.keep_advised(command, spelling, verdict, advice);
    }

    /// Keeps what became of a command, with advice of its own.
    pub(super) fn keep_advised(
        &mut self,
        command: &'static str,
        spelling: &str,
        verdict: Verdict,
        advice: Option<String>,
    ) {
        self.findings.push(Finding { command, spelling: shown(spelling), verdict, advice });
    }

    /// Keeps that a command was not tried.
    pub(super) fn leave(&mut self, command: &'static str, spelling: &str, why: &str) {
        self.keep(command, spelling, Verdict::NotTried(why.to_owned()));
    }

    /// Carries out a spelling command by command, so that one that is refused is known by name. `work` is how long
    /// each of them may take besides answering.
    pub(super) async fn carry_out(&mut self, spelling: &str, work: Duration) -> Result<Outcome, Lost> {
        let message = match Message::new().compound(spelling) {
            Ok(message) => message,
            Err(error) => return Ok(Outcome::of(Verdict::Wrong(format!("cannot be sent: {error}")))),
        };
        let several = message.units().count() > 1;
        let mut answers = Vec::new();
        for unit in message.split(0) {
            let text = unit.to_string();
            let heard = if unit.queries() == 0 {
                self.line.tell(&text).await?;
                None
            } else {
                Some(self.line.ask(&text, work).await?)
            };
            if matches!(heard, Some(Heard::Silence(_))) && !self.line.has_queue() {
                self.line.settle().await?;
            }
            let errors = self.line.errors_after(work).await?;
            if !errors.is_empty() {
                return Ok(Outcome::of(Verdict::Refused { at: several.then_some(text), errors }));
            }
            match heard {
                None => {}
                Some(Heard::Answer(mut response)) if response.units.len() == 1 => {
                    answers.append(&mut response.units);
                }
                Some(Heard::Answer(response)) => {
                    let found = shown_bytes(&response.encode());
                    let wrong = format!("expected one answer to `{text}`, found `{found}`");
                    return Ok(Outcome::of(Verdict::Wrong(wrong)));
                }
                Some(Heard::Unreadable(why)) => {
                    return Ok(Outcome::of(Verdict::Wrong(format!("answered `{text}` unreadably: {why}"))));
                }
                Some(Heard::Silence(waited)) => {
                    return Ok(Outcome::of(Verdict::Silent { at: text, waited }));
                }
            }
        }
        let proven = self.errors_tell || !answers.is_empty();
        let verdict = if proven { Verdict::Understood(None) } else { Verdict::Unproven };
        Ok(Outcome { verdict, units: answers })
    }

    /// Sends commands and questions as a run does, as many in one message as the profile allows, and gives one answer
    /// for each question; or what went wrong.
    pub(super) async fn exchange(
        &mut self,
        message: &Message,
        work: Duration,
    ) -> Result<Result<Vec<Unit>, Verdict>, Lost> {
        Ok(self.exchange_timed(message, work).await?.map(|(units, _)| units))
    }

    /// The same, and the moment of the last answer, before errors are asked for.
    pub(super) async fn exchange_timed(
        &mut self,
        message: &Message,
        work: Duration,
    ) -> Result<Result<(Vec<Unit>, Moment), Verdict>, Lost> {
        let longest = if self.messages.compound { self.messages.longest } else { 0 };
        let mut answers = Vec::new();
        let mut silent = None;
        for part in message.split(longest) {
            let text = part.to_string();
            if part.queries() == 0 {
                self.line.tell(&text).await?;
                continue;
            }
            match self.line.ask(&text, work).await? {
                Heard::Answer(mut response) => answers.append(&mut response.units),
                Heard::Silence(waited) => silent = Some(Verdict::Silent { at: shown(&text), waited }),
                Heard::Unreadable(why) => {
                    silent = Some(Verdict::Wrong(format!("answered unreadably: {why}")))
                }
            }
        }
        let answered = self.line.clock().now();
        let errors = self.line.errors().await?;
        if !errors.is_empty() {
            return Ok(Err(Verdict::Refused { at: None, errors }));
        }
        if let Some(verdict) = silent {
            return Ok(Err(verdict));
        }
        let (expected, found) = (message.queries(), answers.len());
        if expected != found {
            return Ok(Err(Verdict::Wrong(format!("expected {expected} answers, found {found}"))));
        }
        Ok(Ok((answers, answered)))
    }

    /// Takes up what is known from the first questions, and compares it with the profile.
    pub(super) fn begin(&mut self, answering: &Answering) {
        self.guess = answering.patience(self.line.within());
        self.errors_tell = self.line.has_queue() && matches!(answering.unknown, Reaction::Errors(_));
        let understood = answering.compound == Reaction::Answers;
        if self.messages.compound && !understood {
            self.keep_advised(
                "compound",
                "*OPC?;*IDN?",
                Verdict::Wrong(format!("two questions in one message: {}", answering.compound)),
                Some("write `compound: false` under `messages`".to_owned()),
            );
        } else if understood && !self.messages.compound {
            self.note("several commands in one message are understood: `compound: true` saves round trips");
        }
        if !self.line.has_queue() {
            let question = "SYST:ERR?".to_owned();
            let verdict = Verdict::Silent { at: question.clone(), waited: self.line.within() };
            let advice = "Spurline cannot drive an instrument without an error queue";
            self.keep_advised("errors", &question, verdict, Some(advice.to_owned()));
        } else if !self.errors_tell {
            self.note(
                "a command that does not exist raises no error here: only what is answered or read back is proven",
            );
        }
    }
}

/// A finite number from one answer.
pub(super) fn number(unit: &Unit) -> Result<f64, String> {
    let finite = unit.number().ok().and_then(spurline_scpi::Number::finite);
    finite.ok_or_else(|| format!("expected a number, found `{}`", as_text(unit)))
}

/// An answer as it came, on one line.
pub(super) fn as_text(unit: &Unit) -> String {
    let elements = unit.elements.iter().map(|element| match element {
        Element::Text(text) => shown_bytes(text),
        Element::String(text) => format!("\"{}\"", shown(text)),
        Element::Block(data) => format!("a block of {} bytes", data.len()),
    });
    elements.take(8).collect::<Vec<_>>().join(",")
}
