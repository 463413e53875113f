//! Supplies, relays, units and generators: nothing but the profile's own questions. Whatever could feed, switch or tune is left
//! alone, because somebody's transmitter may hang on it.

use std::time::Duration;

use spurline_profile::{
    Commands, RelayCommand, RelayProfile, SourceCommand, Spelling, SupplyCommand, SupplyProfile, UnitCommand,
    UnitProfile,
};

use super::attempt::{Trial, as_text, number};
use super::finding::Verdict;
use super::line::Lost;

pub(super) async fn supply(trial: &mut Trial, profile: &SupplyProfile) -> Result<(), Lost> {
    let spelling = |command| profile.commands.spelling(command);
    for (key, command) in [
        ("voltage", SupplyCommand::Voltage),
        ("current", SupplyCommand::Current),
        ("on", SupplyCommand::On),
        ("off", SupplyCommand::Off),
    ] {
        trial.leave(key, spelling(command).plain(), "would feed, or stop feeding, what is connected");
    }
    numbers(trial, "measured", spelling(SupplyCommand::Measured), &["V", "A"]).await?;
    if let Some(output) = profile.commands.has(SupplyCommand::Output) {
        let on = |on| format!("the output is {}", if on { "on" } else { "off" });
        state(trial, "output", output.plain(), on).await?;
    }
    numbers(trial, "read_back", spelling(SupplyCommand::ReadBack), &["V", "A"]).await
}

/// A question that is answered by 0 or 1, and what each means.
async fn state(
    trial: &mut Trial,
    key: &'static str,
    asked: &str,
    words: impl Fn(bool) -> String,
) -> Result<(), Lost> {
    let outcome = trial.carry_out(asked, Duration::ZERO).await?;
    let verdict = match (outcome.verdict, outcome.units.as_slice()) {
        (Verdict::Understood(_), [state]) => match state.boolean() {
            Ok(yes) => Verdict::Understood(Some(words(yes))),
            Err(_) => Verdict::Wrong(format!("expected `0` or `1`, found `{}`", as_text(state))),
        },
        (Verdict::Understood(_), units) => {
            Verdict::Wrong(format!("expected one answer, found {}", units.len()))
        }
        (verdict, _) => verdict,
    };
    trial.keep(key, asked, verdict);
    Ok(())
}

/// The contact whose state is asked for: every card has it.
const FIRST: u32 = 1;

pub(super) async fn relay(trial: &mut Trial, profile: &RelayProfile) -> Result<(), Lost> {
    let spelling = |command| profile.commands.spelling(command);
    trial.leave("close", spelling(RelayCommand::Close).plain(), "would switch");
    trial.leave("open", spelling(RelayCommand::Open).plain(), "would switch");
    trial.leave("opens_after", spelling(RelayCommand::OpensAfter).plain(), "would change when contacts open");
    let asked = spelling(RelayCommand::State).with(FIRST);
    let closed = |closed| format!("contact {FIRST} is {}", if closed { "closed" } else { "open" });
    state(trial, "state", &asked, closed).await?;
    numbers(trial, "read_back", spelling(RelayCommand::ReadBack), &["s"]).await
}

pub(super) async fn unit(trial: &mut Trial, profile: &UnitProfile) -> Result<(), Lost> {
    let spelling = |command| profile.commands.spelling(command);
    trial.leave("frequency", spelling(UnitCommand::Frequency).plain(), "would tune the unit");
    trial.leave("power", spelling(UnitCommand::Power).plain(), "would change the unit's power");
    let asked = spelling(UnitCommand::ReadBack).plain();
    let outcome = trial.carry_out(asked, Duration::ZERO).await?;
    let verdict = match (outcome.verdict, outcome.units.as_slice()) {
        (Verdict::Understood(_), [frequency, power]) => match number(frequency) {
            Ok(frequency) => Verdict::Understood(Some(format!(
                "tuned to {frequency} Hz, power setting `{}`",
                as_text(power)
            ))),
            Err(why) => Verdict::Wrong(why),
        },
        (Verdict::Understood(_), units) => {
            Verdict::Wrong(format!("expected frequency and power setting, found {} answers", units.len()))
        }
        (verdict, _) => verdict,
    };
    trial.keep("read_back", asked, verdict);
    Ok(())
}

/// A generator's output may hang on something that bears no signal, on a transmitter's connector, or on the microphone of
/// a unit that is keyed; levels are in `unit`.
pub(super) async fn source(
    trial: &mut Trial,
    commands: &Commands<SourceCommand>,
    unit: &str,
) -> Result<(), Lost> {
    for (key, command, why) in [
        ("reset", SourceCommand::Reset, "would undo the generator's settings"),
        ("frequency", SourceCommand::Frequency, "would change what it gives"),
        ("level", SourceCommand::Level, "would change what it gives"),
        ("on", SourceCommand::On, "would switch the output"),
        ("off", SourceCommand::Off, "would switch the output"),
    ] {
        trial.leave(key, commands.spelling(command).plain(), why);
    }
    what_is_given(trial, commands.spelling(SourceCommand::ReadBack).plain(), unit).await
}

/// Frequency, level in `unit`, and whether the output is on.
async fn what_is_given(trial: &mut Trial, asked: &str, unit: &str) -> Result<(), Lost> {
    let outcome = trial.carry_out(asked, Duration::ZERO).await?;
    let verdict = match (outcome.verdict, outcome.units.as_slice()) {
        (Verdict::Understood(_), [frequency, level, output]) => {
            match (number(frequency), number(level), output.boolean()) {
                (Ok(frequency), Ok(level), Ok(on)) => {
                    let output = if on { "on" } else { "off" };
                    Verdict::Understood(Some(format!("{frequency} Hz, {level} {unit}, output {output}")))
                }
                (Err(why), _, _) | (_, Err(why), _) => Verdict::Wrong(why),
                (_, _, Err(_)) => Verdict::Wrong(format!("expected `0` or `1`, found `{}`", as_text(output))),
            }
        }
        (Verdict::Understood(_), units) => {
            Verdict::Wrong(format!("expected frequency, level and output, found {} answers", units.len()))
        }
        (verdict, _) => verdict,
    };
    trial.keep("read_back", asked, verdict);
    Ok(())
}

/// A question whose answers are as many numbers as there are units of measure.
pub(super) async fn numbers(
    trial: &mut Trial,
    key: &'static str,
    spelling: &Spelling,
    units: &[&str],
) -> Result<(), Lost> {
    let outcome = trial.carry_out(spelling.plain(), Duration::ZERO).await?;
    let verdict = match outcome.verdict {
        Verdict::Understood(_) if outcome.units.len() == units.len() => {
            let found: Result<Vec<String>, String> = outcome
                .units
                .iter()
                .zip(units)
                .map(|(answer, unit)| number(answer).map(|number| format!("{number} {unit}")))
                .collect();
            found.map_or_else(Verdict::Wrong, |found| Verdict::Understood(Some(found.join(", "))))
        }
        Verdict::Understood(_) => {
            let (expected, found) = (units.len(), outcome.units.len());
            Verdict::Wrong(format!("expected {expected} answers, found {found}"))
        }
        other => other,
    };
    trial.keep(key, spelling.plain(), verdict);
    Ok(())
}
