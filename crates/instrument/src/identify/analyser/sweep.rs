//! Whether what waits for the end of a sweep really waits: a trace that is fetched too early is another sweep's.

use std::time::Duration;

use spurline_profile::AnalyserCommand as C;
use spurline_scpi::Message;

use super::Trying;
use super::settings::SWEEP_TIME;
use crate::identify::attempt::number;
use crate::identify::finding::Verdict;
use crate::identify::line::Lost;

/// A question that waits for nothing by itself (IEEE 488.2).
const NOT_WAITING: &str = "*ESE?";
/// A question that waits for whatever is going on (IEEE 488.2).
const WAITING: &str = "*OPC?";
/// The share of the sweep time that a wait must take at least.
const AT_LEAST: f64 = 0.8;
/// Shorter, and the time that messages take would hide it; longer, and it was not what was told.
const TELLING: std::ops::Range<f64> = 0.2..10.0;

pub(super) async fn try_it(trying: &mut Trying<'_>) -> Result<(), Lost> {
    let (sweep, wait) = (trying.spell(C::Sweep), trying.spell(C::Wait));
    let time = sweep_time(trying).await?;
    let work = Duration::from_secs_f64(2.0 * time);
    let outcome = trying.trial.carry_out(&sweep, Duration::ZERO).await?;
    trying.trial.keep("sweep", &sweep, outcome.verdict);
    let outcome = trying.trial.carry_out(&wait, work).await?;
    if outcome.verdict.is_good() == Some(false) {
        trying.trial.keep("wait", &wait, outcome.verdict);
        return Ok(());
    }
    // Whatever is still going on must not be counted to the next sweep.
    trying.trial.carry_out(WAITING, work).await?;
    if !TELLING.contains(&time) {
        let why = format!("a sweep takes {time} s here, which tells nothing");
        trying.trial.leave("wait", &format!("{sweep};{wait}"), &why);
        return Ok(());
    }
    let measured = measure(trying, &[&sweep, &wait, NOT_WAITING], work).await?;
    let (verdict, advice) = match measured {
        Err(verdict) => (verdict, None),
        Ok(took) if took >= AT_LEAST * time => {
            (Verdict::Understood(Some(format!("a sweep of {time} s was waited for: {took:.2} s"))), None)
        }
        Ok(took) => {
            let with_question = measure(trying, &[&sweep, WAITING], work).await?;
            let other = match with_question {
                Ok(other) if other >= AT_LEAST * time => {
                    format!("; `{WAITING}` does wait, {other:.2} s")
                }
                Ok(_) | Err(_) => String::new(),
            };
            let advice = format!(
                "readings could be of a sweep that is not finished{other}: look up in the manual how a command waits \
                 for the end of a sweep, and write it under `commands.wait`"
            );
            let how = format!("a sweep of {time} s was not waited for: answered after {took:.2} s");
            (Verdict::Wrong(how), Some(advice))
        }
    };
    match advice {
        Some(advice) => trying.trial.keep_advised("wait", &wait, verdict, Some(advice)),
        None => trying.trial.keep("wait", &wait, verdict),
    }
    Ok(())
}

/// The sweep time that the analyser says it has, or what it was told.
async fn sweep_time(trying: &mut Trying<'_>) -> Result<f64, Lost> {
    let told = trying.told[SWEEP_TIME];
    let Some(question) = trying.questions.get(SWEEP_TIME).cloned() else { return Ok(told) };
    let back = trying.trial.carry_out(&question, Duration::ZERO).await?;
    let found = back.units.first().and_then(|unit| number(unit).ok());
    Ok(found.filter(|time| (0.0..1000.0).contains(time)).unwrap_or(told))
}

/// How long a message takes until its question is answered, in seconds.
async fn measure(
    trying: &mut Trying<'_>,
    spelled: &[&str],
    work: Duration,
) -> Result<Result<f64, Verdict>, Lost> {
    let message = spelled.iter().try_fold(Message::new(), |message, text| message.compound(text));
    let message = match message {
        Ok(message) => message,
        Err(error) => return Ok(Err(Verdict::Wrong(format!("cannot be sent: {error}")))),
    };
    let clock = trying.trial.line.clock();
    let begun = clock.now();
    // The time stops with the answer; errors are asked for afterwards.
    let answered = trying.trial.exchange_timed(&message, work).await?;
    Ok(answered.map(|(_, at)| at.since(begun).as_secs_f64()))
}
