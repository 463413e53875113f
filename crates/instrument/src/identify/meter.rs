//! The power meter: its settings, with what they were before given back, and one reading. It is not zeroed: a zero that
//! is taken with power at the sensor makes every later reading wrong.

use std::time::Duration;

use spurline_profile::{MeterCommand, MeterProfile};

use super::attempt::{Trial, as_text};
use super::finding::Verdict;
use super::keepsake::Keepsake;
use super::line::Lost;

const READ_WITHIN: Duration = Duration::from_secs(10);
const AVERAGES: u32 = 4;

pub(super) async fn try_all(trial: &mut Trial, profile: &MeterProfile) -> Result<(), Lost> {
    let spelling = |command| profile.commands.spelling(command);
    trial.leave("reset", spelling(MeterCommand::Reset).plain(), "would undo the meter's settings");
    let why = "is right only without power at the sensor, which nobody has made sure of";
    trial.leave("zero", spelling(MeterCommand::Zero).plain(), why);
    let (low, high) = (profile.frequency.low().get(), profile.frequency.high().get());
    let middle = (f64::midpoint(low, high) / 1000.0).round() * 1000.0;
    let settings = [
        ("unit_dbm", spelling(MeterCommand::UnitDbm).plain().to_owned()),
        ("frequency", spelling(MeterCommand::Frequency).with(middle.clamp(low, high))),
        ("averages", spelling(MeterCommand::Averages).with(AVERAGES)),
    ];
    let mut had = Keepsake::default();
    for (_, spelled) in &settings {
        trial.remember(&mut had, spelled).await?;
    }
    for (key, spelled) in &settings {
        trial.set(key, spelled).await?;
    }
    super::questions::numbers(trial, "read_back", spelling(MeterCommand::ReadBack), &["Hz", "readings"])
        .await?;
    read(trial, spelling(MeterCommand::Read).plain()).await?;
    for refused in trial.give_back(&had).await? {
        trial.note(format!("could not be given back what it had: `{refused}` was refused"));
    }
    Ok(())
}

async fn read(trial: &mut Trial, asked: &str) -> Result<(), Lost> {
    let outcome = trial.carry_out(asked, READ_WITHIN).await?;
    let verdict = match (outcome.verdict, outcome.units.as_slice()) {
        (Verdict::Understood(_), [level]) => match level.number() {
            Ok(number) => Verdict::Understood(Some(match number.finite() {
                Some(level) => format!("{level} dBm"),
                None => "no value, as without power".to_owned(),
            })),
            Err(_) => Verdict::Wrong(format!("expected a number, found `{}`", as_text(level))),
        },
        (Verdict::Understood(_), units) => {
            Verdict::Wrong(format!("expected one answer, found {}", units.len()))
        }
        (verdict, _) => verdict,
    };
    trial.keep("read", asked, verdict);
    Ok(())
}

impl Trial {
    /// Tells a setting that the profile has no question for, and reads it back by the question that SCPI has for it.
    pub(super) async fn set(&mut self, key: &'static str, spelled: &str) -> Result<(), Lost> {
        let outcome = self.carry_out(spelled, Duration::ZERO).await?;
        let told = !matches!(outcome.verdict, Verdict::Refused { .. } | Verdict::Wrong(_));
        let back = if told { self.reads_back(spelled).await? } else { None };
        match back {
            None => self.keep(key, spelled, outcome.verdict),
            Some(Ok(())) => self.keep(key, spelled, Verdict::Understood(Some("reads back so".to_owned()))),
            // The question is a guess, so that a strange answer is a doubt and no proof.
            Some(Err(how)) => {
                let advice = format!("was it taken? {how}");
                self.keep_advised(key, spelled, outcome.verdict, Some(advice));
            }
        }
        Ok(())
    }
}
