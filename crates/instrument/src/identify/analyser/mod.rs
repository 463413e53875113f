//! The analyser: every command of its profile in the order of a run, with settings that do no harm.
//!
//! Attenuation only ever goes up, and goes back to what it was when everything else has gone back. The preamplifier is
//! never switched on. A reset is not tried: it would bring the attenuation down, and nobody knows what is connected.

mod settings;
mod sweep;
mod trace;

use std::time::Duration;

use spurline_profile::{AnalyserCommand as C, AnalyserProfile};
use spurline_scpi::Message;

use super::attempt::{Trial, number};
use super::finding::Verdict;
use super::keepsake::Keepsake;
use super::line::Lost;
use settings::{GIVEN_BACK_IN_ORDER, SETTINGS, Setting, TOLD_IN_ORDER};

const ALIGN_WITHIN: Duration = Duration::from_secs(60);
const TOGETHER: &str = "all settings and their read-back, as in a run";

/// An analyser that is being tried.
#[derive(Debug)]
struct Trying<'a> {
    trial: &'a mut Trial,
    profile: &'a AnalyserProfile,
    /// The questions of `read_back`, if there is one for each setting.
    questions: Vec<String>,
    /// What the settings were before, in the order of the read-back.
    had: [Option<f64>; 8],
    /// What they are told.
    told: [f64; 8],
    /// Which of them read back as they were told.
    taken: [bool; 8],
    words: Keepsake,
}

pub(super) async fn try_all(trial: &mut Trial, profile: &AnalyserProfile) -> Result<(), Lost> {
    let spell = |command: C| profile.commands.spelling(command).plain();
    trial.leave("reset", spell(C::Reset), "would bring the attenuation down, whatever is connected");
    let mut trying = Trying {
        trial,
        profile,
        questions: Vec::new(),
        had: [None; 8],
        told: [0.0; 8],
        taken: [false; 8],
        words: Keepsake::default(),
    };
    trying.remember().await?;
    trying.try_settings().await?;
    sweep::try_it(&mut trying).await?;
    trace::try_it(&mut trying).await?;
    trying.restore().await?;
    trying.align().await
}

impl Trying<'_> {
    fn spell(&self, command: C) -> String {
        self.profile.commands.spelling(command).plain().to_owned()
    }

    /// The words that are told besides the settings with numbers.
    fn words(&self) -> [String; 5] {
        let detector = self.profile.commands.spelling(C::Detector).with(&self.profile.detectors[0]);
        [
            self.spell(C::PreamplifierOff),
            self.spell(C::Single),
            self.spell(C::AlignmentOff),
            detector,
            self.spell(C::TraceFormat),
        ]
    }

    /// Asks for everything that will be changed, and tries the read-back by that.
    async fn remember(&mut self) -> Result<(), Lost> {
        let spelling = self.spell(C::ReadBack);
        let message = Message::new().compound(&spelling).unwrap_or_default();
        let (expected, found) = (SETTINGS.len(), message.queries());
        let verdict = if expected == found && found == message.units().count() {
            self.questions = message.units().map(str::to_owned).collect();
            self.read_one_by_one().await?
        } else {
            Verdict::Wrong(format!("expected {expected} questions, found {found}"))
        };
        self.trial.keep("read_back", &spelling, verdict);
        for (at, setting) in SETTINGS.iter().enumerate() {
            if self.had[at].is_none() {
                let spelled = self.profile.commands.spelling(setting.command).with(0);
                let unit = self.trial.present(&spelled).await?;
                self.had[at] = unit.as_ref().and_then(|unit| number(unit).ok());
            }
        }
        for word in self.words() {
            self.trial.remember(&mut self.words, &word).await?;
        }
        self.told = settings::harmless(&self.profile.ranges, &self.had);
        Ok(())
    }

    /// Asks for each setting by itself: one question that is not understood must not cost the others.
    async fn read_one_by_one(&mut self) -> Result<Verdict, Lost> {
        let mut whole = Verdict::Understood(None);
        for at in 0..self.questions.len() {
            let question = self.questions[at].clone();
            let outcome = self.trial.carry_out(&question, Duration::ZERO).await?;
            let verdict = match (outcome.verdict, outcome.units.first().map(number)) {
                (Verdict::Understood(_), Some(Ok(found))) => {
                    self.had[at] = Some(found);
                    continue;
                }
                (Verdict::Understood(_), Some(Err(how))) => Verdict::Wrong(format!("`{question}`: {how}")),
                (Verdict::Refused { errors, .. }, _) => Verdict::Refused { at: Some(question), errors },
                (other, _) => other,
            };
            if whole.is_good() == Some(true) {
                whole = verdict;
            }
        }
        Ok(whole)
    }

    /// What protects the input first, then the others as a run tells them.
    async fn try_settings(&mut self) -> Result<(), Lost> {
        let off = self.spell(C::PreamplifierOff);
        self.trial.set("preamplifier_off", &off).await?;
        for at in TOLD_IN_ORDER {
            self.try_setting(&SETTINGS[at], at).await?;
        }
        for (key, command) in [("single", C::Single), ("alignment_off", C::AlignmentOff)] {
            let spelled = self.spell(command);
            self.trial.set(key, &spelled).await?;
        }
        // The detector that is looked for most comes last, and stays.
        for word in self.profile.detectors.iter().rev() {
            let spelled = self.profile.commands.spelling(C::Detector).with(word);
            self.trial.set("detector", &spelled).await?;
        }
        self.try_together().await
    }

    fn spelled(&self, setting: &Setting, at: usize) -> String {
        self.profile.commands.spelling(setting.command).with(self.told[at])
    }

    async fn try_setting(&mut self, setting: &Setting, at: usize) -> Result<(), Lost> {
        let spelled = self.spelled(setting, at);
        let outcome = self.trial.carry_out(&spelled, Duration::ZERO).await?;
        let told = !matches!(outcome.verdict, Verdict::Refused { .. } | Verdict::Wrong(_));
        let mut verdict = outcome.verdict;
        let mut advice = None;
        if let (true, Some(question)) = (told, self.questions.get(at)) {
            let back = self.trial.carry_out(question, Duration::ZERO).await?;
            if let Some(found) = back.units.first().and_then(|unit| number(unit).ok()) {
                verdict = setting.compare(self.told[at], found);
                self.taken[at] = verdict.is_good() == Some(true);
                advice = (!self.taken[at]).then(|| setting.advice());
            }
        }
        match advice {
            Some(advice) => self.trial.keep_advised(setting.key, &spelled, verdict, Some(advice)),
            None => self.trial.keep(setting.key, &spelled, verdict),
        }
        Ok(())
    }

    /// Settings that are right one by one may still change each other.
    async fn try_together(&mut self) -> Result<(), Lost> {
        if self.questions.is_empty() {
            self.trial.leave("read_back", TOGETHER, "there is nothing to compare with");
            return Ok(());
        }
        let mut message = Message::new();
        for at in TOLD_IN_ORDER {
            message = message.compound(&self.spelled(&SETTINGS[at], at)).unwrap_or_default();
        }
        message = message.compound(&self.spell(C::ReadBack)).unwrap_or_default();
        let verdict = match self.trial.exchange(&message, Duration::ZERO).await? {
            Err(verdict) => verdict,
            Ok(units) => {
                let wrong = units.iter().enumerate().filter_map(|(at, unit)| match number(unit) {
                    Ok(found) => match SETTINGS[at].compare(self.told[at], found) {
                        Verdict::Wrong(how) => Some(format!("{} {how}", SETTINGS[at].key)),
                        _ => None,
                    },
                    Err(how) => Some(format!("{}: {how}", SETTINGS[at].key)),
                });
                let wrong: Vec<String> = wrong.collect();
                if wrong.is_empty() { Verdict::Understood(None) } else { Verdict::Wrong(wrong.join("; ")) }
            }
        };
        self.trial.keep("read_back", TOGETHER, verdict);
        Ok(())
    }

    /// Gives everything back, the attenuation last.
    async fn restore(&mut self) -> Result<(), Lost> {
        let preamplifier = self.spell(C::PreamplifierOff);
        if self.words.forget_switched_on(&preamplifier) {
            self.trial.note("the preamplifier was on, and is off now: it is never switched on here");
        }
        let mut numbers = Keepsake::default();
        for at in GIVEN_BACK_IN_ORDER.into_iter().rev() {
            let spelling = self.profile.commands.spelling(SETTINGS[at].command);
            numbers.put(self.had[at].map(|had| spelling.with(had)));
        }
        let mut refused = self.trial.give_back(&numbers).await?;
        refused.append(&mut self.trial.give_back(&std::mem::take(&mut self.words)).await?);
        for told in refused {
            self.trial.note(format!("could not be given back what it had: `{told}` was refused"));
        }
        let unknown: Vec<&str> =
            (0..SETTINGS.len()).filter(|at| self.had[*at].is_none()).map(|at| SETTINGS[at].key).collect();
        if !unknown.is_empty() {
            self.trial.note(format!("was not known before and stays as it was told: {}", unknown.join(", ")));
        }
        self.trial.note(
            "the settings are as they were, but none of them follows another by itself any more: preset the analyser \
             before you use it by hand",
        );
        Ok(())
    }

    /// Last, because some analysers are deaf while they align.
    async fn align(&mut self) -> Result<(), Lost> {
        let spelled = self.spell(C::Align);
        let begun = self.trial.line.clock().now();
        let message = Message::new().compound(&spelled).and_then(|message| message.unit("*OPC?"));
        let verdict = match message {
            Err(error) => Verdict::Wrong(format!("cannot be sent: {error}")),
            Ok(message) => match self.trial.exchange(&message, ALIGN_WITHIN).await? {
                Ok(_) => {
                    let took = self.trial.line.clock().now().since(begun).as_secs_f64();
                    Verdict::Understood(Some(format!("took {took:.1} s")))
                }
                Err(verdict) => verdict,
            },
        };
        self.trial.keep("align", &spelled, verdict);
        Ok(())
    }
}
