//! The trace in the form that the profile asks for, against the same trace in plain numbers, and the marker against both.

use std::time::Duration;

use bytes::Bytes;
use spurline_profile::AnalyserCommand as C;
use spurline_scpi::{Element, Message, Unit};

use super::Trying;
use super::settings::{CENTRE, POINTS, SPAN};
use crate::identify::attempt::{as_text, number};
use crate::identify::finding::Verdict;
use crate::identify::line::Lost;

/// How far two forms of the same trace may lie apart: numbers are often written to a hundredth.
const SAME_DB: f64 = 0.01;
/// A marker may be read between the points.
const MARKER_SAME_DB: f64 = 0.05;
/// Levels that an analyser can show, in dBm.
const LEVELS: std::ops::RangeInclusive<f64> = -250.0..=100.0;
/// Bytes in the wrong order often make a number next to nothing, which is no level: an analyser shows steps of 0.0001 dB at
/// the finest.
const FINEST: f64 = 1e-6;

/// How a block of numbers may be meant.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Form {
    /// 32 bits, most significant byte first: what Spurline reads.
    Float32,
    /// 32 bits, least significant byte first.
    Float32Swapped,
    /// 64 bits, most significant byte first.
    Float64,
    /// 64 bits, least significant byte first.
    Float64Swapped,
}

const FORMS: [Form; 4] = [Form::Float32, Form::Float32Swapped, Form::Float64, Form::Float64Swapped];

impl Form {
    /// The numbers of a block; `None` if it does not hold whole ones.
    fn read(self, block: &[u8]) -> Option<Vec<f64>> {
        fn numbers<const N: usize>(block: &[u8], one: impl Fn([u8; N]) -> f64) -> Option<Vec<f64>> {
            let (whole, rest) = block.as_chunks::<N>();
            rest.is_empty().then(|| whole.iter().map(|bytes| one(*bytes)).collect())
        }
        match self {
            Self::Float32 => numbers(block, |bytes| f64::from(f32::from_be_bytes(bytes))),
            Self::Float32Swapped => numbers(block, |bytes| f64::from(f32::from_le_bytes(bytes))),
            Self::Float64 => numbers(block, f64::from_be_bytes),
            Self::Float64Swapped => numbers(block, f64::from_le_bytes),
        }
    }

    /// What is to be said when the trace comes in this form.
    const fn mismatch(self) -> &'static str {
        match self {
            Self::Float32 => "32-bit floats, most significant byte first",
            Self::Float32Swapped => "32-bit floats with their bytes swapped: least significant byte first",
            Self::Float64 => "64-bit floats, most significant byte first",
            Self::Float64Swapped => "64-bit floats with their bytes swapped: least significant byte first",
        }
    }
}

/// What a block turned out to be.
#[derive(Clone, Debug, PartialEq)]
struct Compared {
    form: Form,
    levels: Vec<f64>,
    /// The largest difference to the plain numbers; `None` without them.
    apart: Option<f64>,
}

/// Finds the form in which a block is the same trace as `plain`, or, without that, one that a trace of `points` points can
/// be. The form that Spurline reads is taken first.
fn compare(block: &[u8], plain: Option<&[f64]>, points: usize) -> Option<Compared> {
    FORMS.into_iter().find_map(|form| {
        let levels = form.read(block)?;
        let apart = match plain {
            Some(plain) if plain.len() == levels.len() => {
                let apart = levels.iter().zip(plain).map(|(one, other)| (one - other).abs());
                let most = apart
                    .fold(0.0, |most: f64, apart| if apart.is_nan() { f64::NAN } else { most.max(apart) });
                // A NaN is no agreement.
                (most <= SAME_DB).then_some(Some(most))?
            }
            Some(_) => return None,
            None => {
                let level = |level: &f64| LEVELS.contains(level) && (*level == 0.0 || level.abs() >= FINEST);
                let plausible = levels.iter().all(level);
                (plausible && levels.len() == points).then_some(None)?
            }
        };
        Some(Compared { form, levels, apart })
    })
}

pub(super) async fn try_it(trying: &mut Trying<'_>) -> Result<(), Lost> {
    let format = trying.spell(C::TraceFormat);
    trying.trial.set("trace_format", &format).await?;
    let asked = trying.spell(C::Trace);
    let work = Duration::from_secs(10);
    let outcome = trying.trial.carry_out(&asked, work).await?;
    let levels = match (outcome.verdict, outcome.units.as_slice()) {
        (Verdict::Understood(_), [unit]) => match unit.single() {
            Ok(Element::Block(block)) => check(trying, &asked, block.clone()).await?,
            _ => {
                let found = as_text(unit);
                let how = format!("expected a block of 32-bit floats, found `{found}`");
                let advice = "look up in the manual how a trace is asked for in binary, and write it under \
                              `commands.trace_format`";
                trying.trial.keep_advised("trace", &asked, Verdict::Wrong(how), Some(advice.to_owned()));
                None
            }
        },
        (Verdict::Understood(_), units) => {
            let how = format!("expected one answer, found {}", units.len());
            trying.trial.keep("trace", &asked, Verdict::Wrong(how));
            None
        }
        (verdict, _) => {
            trying.trial.keep("trace", &asked, verdict);
            None
        }
    };
    marker(trying, levels.as_deref()).await?;
    condition(trying).await
}

/// Compares a block with the trace in plain numbers, and gives the levels where they are known.
async fn check(trying: &mut Trying<'_>, asked: &str, block: Bytes) -> Result<Option<Vec<f64>>, Lost> {
    let points = points(trying).await?;
    let plain = in_plain_numbers(trying, asked).await?;
    let compared = compare(&block, plain.as_deref(), points);
    let (verdict, advice) = match &compared {
        None => {
            let against = match &plain {
                Some(plain) => format!("agrees with the {} plain numbers of the same trace", plain.len()),
                None => format!("makes {points} levels that there can be"),
            };
            let how = format!("no reading of its {} bytes {against}", block.len());
            (Verdict::Wrong(how), Some("compare `commands.trace_format` with the manual".to_owned()))
        }
        Some(Compared { form: Form::Float32, levels, apart }) if levels.len() == points => {
            let apart = apart.map_or_else(
                || "not compared with plain numbers".to_owned(),
                |apart| format!("as in plain numbers within {apart:.4} dB"),
            );
            (Verdict::Understood(Some(format!("{points} points, {apart}"))), None)
        }
        Some(Compared { form: Form::Float32, levels, .. }) => {
            let how = format!("expected {points} points, found {}", levels.len());
            (Verdict::Wrong(how), Some("does `ranges.most_points` fit this instrument?".to_owned()))
        }
        Some(Compared { form, .. }) => {
            let how = format!("expected {}, found {}", Form::Float32.mismatch(), form.mismatch());
            let advice = "look up in the manual how 32-bit floats with the most significant byte first are asked for, \
                          and write it under `commands.trace_format`";
            (Verdict::Wrong(how), Some(advice.to_owned()))
        }
    };
    match advice {
        Some(advice) => trying.trial.keep_advised("trace", asked, verdict, Some(advice)),
        None => trying.trial.keep("trace", asked, verdict),
    }
    Ok(compared.map(|compared| compared.levels))
}

/// How many points the analyser says it has, or what it was told.
async fn points(trying: &mut Trying<'_>) -> Result<usize, Lost> {
    let told = trying.told[POINTS];
    let found = match trying.questions.get(POINTS).cloned() {
        None => None,
        Some(question) => {
            let back = trying.trial.carry_out(&question, Duration::ZERO).await?;
            back.units.first().and_then(|unit| number(unit).ok())
        }
    };
    Ok(found.filter(|points| (1.0..1e7).contains(points)).unwrap_or(told) as usize)
}

/// The same trace in plain numbers, by the format that SCPI has for it; `None` if the analyser does not know that.
async fn in_plain_numbers(trying: &mut Trying<'_>, asked: &str) -> Result<Option<Vec<f64>>, Lost> {
    let format = trying.spell(C::TraceFormat);
    let message = Message::new().compound(&format).unwrap_or_default();
    let Some(header) = message.units().next().and_then(|unit| unit.split_whitespace().next()) else {
        return Ok(None);
    };
    let plain = format!("{header} ASC");
    if trying.trial.carry_out(&plain, Duration::ZERO).await?.verdict.is_good() == Some(false) {
        trying
            .trial
            .note(format!("the trace could not be compared with plain numbers: `{plain}` was refused"));
        return Ok(None);
    }
    let outcome = trying.trial.carry_out(asked, Duration::from_secs(10)).await?;
    let levels = outcome.units.first().and_then(|unit| unit.f32_list().ok());
    if levels.is_none() {
        trying.trial.note("the trace could not be compared with plain numbers: they did not come");
    }
    trying.trial.carry_out(&format, Duration::ZERO).await?;
    Ok(levels.map(|levels| levels.into_iter().map(f64::from).collect()))
}

async fn marker(trying: &mut Trying<'_>, levels: Option<&[f64]>) -> Result<(), Lost> {
    let (to_peak, asked) = (trying.spell(C::MarkerToPeak), trying.spell(C::Marker));
    let outcome = trying.trial.carry_out(&to_peak, Duration::ZERO).await?;
    trying.trial.keep("marker_to_peak", &to_peak, outcome.verdict);
    let outcome = trying.trial.carry_out(&asked, Duration::ZERO).await?;
    let verdict = match (outcome.verdict, outcome.units.as_slice()) {
        (Verdict::Understood(_), [frequency, level]) => match (number(frequency), number(level)) {
            (Ok(frequency), Ok(level)) => against_trace(frequency, level, levels, trying),
            (Err(how), _) | (_, Err(how)) => Verdict::Wrong(how),
        },
        (Verdict::Understood(_), units) => {
            Verdict::Wrong(format!("expected frequency and level, found {} answers", units.len()))
        }
        (verdict, _) => verdict,
    };
    trying.trial.keep("marker", &asked, verdict);
    Ok(())
}

fn against_trace(frequency: f64, level: f64, levels: Option<&[f64]>, trying: &Trying<'_>) -> Verdict {
    let centre = trying.told[CENTRE];
    let span = trying.told[SPAN];
    let known = trying.taken[CENTRE] && trying.taken[SPAN];
    if known && (frequency - centre).abs() > span {
        return Verdict::Wrong(format!(
            "at {frequency} Hz, outside the sweep of {span} Hz around {centre} Hz"
        ));
    }
    let Some(highest) = levels.and_then(|levels| levels.iter().copied().reduce(f64::max)) else {
        return Verdict::Understood(Some(format!("{level} dBm at {frequency} Hz")));
    };
    if (level - highest).abs() <= MARKER_SAME_DB {
        return Verdict::Understood(Some(format!("{level:.3} dBm, as the highest point of the trace")));
    }
    Verdict::Wrong(format!("{level:.3} dBm, while the highest point of the trace is {highest:.3} dBm"))
}

async fn condition(trying: &mut Trying<'_>) -> Result<(), Lost> {
    let asked = trying.spell(C::Condition);
    let outcome = trying.trial.carry_out(&asked, Duration::ZERO).await?;
    let status = trying.profile.status;
    let mut said = Vec::new();
    let verdict = match (outcome.verdict, outcome.units.as_slice()) {
        (Verdict::Understood(_), [condition]) => match bits(condition) {
            Ok(condition) => {
                if condition & status.overload_bits != 0 {
                    said.push("the analyser says that it is overloaded: is there power at its input?");
                }
                if condition & status.uncalibrated_bits != 0 {
                    said.push("the analyser says that its sweep was uncalibrated");
                }
                Verdict::Understood(Some(format!("bits {condition}")))
            }
            Err(how) => Verdict::Wrong(how),
        },
        (Verdict::Understood(_), units) => {
            Verdict::Wrong(format!("expected one answer, found {}", units.len()))
        }
        (verdict, _) => verdict,
    };
    trying.trial.keep("condition", &asked, verdict);
    said.into_iter().for_each(|text| trying.trial.note(text));
    Ok(())
}

fn bits(unit: &Unit) -> Result<u32, String> {
    let found = unit.integer().ok().and_then(|bits| u32::try_from(bits).ok());
    found.ok_or_else(|| format!("expected bits as a whole number, found `{}`", as_text(unit)))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Bytes worked out by hand from IEEE 754: -100.5 is C2C9 0000 in 32 bits and C059 2000 0000 0000 in 64.
    #[test]
    fn each_form_is_told_from_the_others() {
        let plain = [-100.5, -100.5];
        for (form, one) in [
            (Form::Float32, &[0xC2, 0xC9, 0, 0][..]),
            (Form::Float32Swapped, &[0, 0, 0xC9, 0xC2]),
            (Form::Float64, &[0xC0, 0x59, 0x20, 0, 0, 0, 0, 0]),
            (Form::Float64Swapped, &[0, 0, 0, 0, 0, 0x20, 0x59, 0xC0]),
        ] {
            let block = one.repeat(2);
            let compared = compare(&block, Some(&plain), 2).unwrap();
            assert_eq!((compared.form, compared.apart), (form, Some(0.0)));
            // Two floats of 64 bits are four of 32: the number of points tells.
            assert_eq!(compare(&block, None, 2).unwrap().form, form);
        }
    }

    #[test]
    fn other_traces_and_broken_blocks_agree_with_nothing() {
        let block = [0xC2, 0xC9, 0, 0];
        assert_eq!(compare(&block, Some(&[-100.0]), 1), None);
        assert_eq!(compare(&block, Some(&[-100.5, -100.5]), 2), None);
        assert_eq!(compare(&block[..3], None, 1), None);
        assert_eq!(compare(&0x7FC0_0000_u32.to_be_bytes(), Some(&[-100.5]), 1), None);
        assert_eq!(compare(&0x7FC0_0000_u32.to_be_bytes(), None, 1), None);
    }

    #[test]
    fn numbers_that_were_rounded_are_the_same_trace() {
        let block = (-87.654_f32).to_be_bytes();
        assert_eq!(compare(&block, Some(&[-87.65]), 1).unwrap().form, Form::Float32);
        assert_eq!(compare(&block, Some(&[-87.6]), 1), None);
    }
}
