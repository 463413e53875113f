//! What the instrument makes of a message before it carries it out.

use std::time::Duration;

use rand::RngExt;
use spurline_scpi::ErrorCode;

use super::program::{self, Unit, joined};
use super::rule::Act;
use super::sight::contains;
use crate::bench::Does;

/// A message as it was understood.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Heard {
    /// What is carried out; nothing at all if the message is lost.
    pub(super) message: Option<Vec<u8>>,
    /// What is carried out so much later.
    pub(super) later: Option<(Duration, Vec<u8>)>,
    /// What goes into the error queue behind what is carried out.
    pub(super) errors: Vec<ErrorCode>,
}

impl Heard {
    /// A message as it came.
    pub(super) fn plain(message: &[u8]) -> Self {
        Self { message: Some(message.to_vec()), later: None, errors: Vec::new() }
    }
}

/// What a flood of errors is made of, again and again. None of them says that a command was not understood.
const FLOOD: [ErrorCode; 4] = [
    ErrorCode::SETTINGS_CONFLICT,
    ErrorCode::DATA_QUESTIONABLE,
    ErrorCode::TRIGGER_IGNORED,
    ErrorCode::HARDWARE_MISSING,
];

/// The errors of a flood.
pub(super) fn flood(count: u32) -> Vec<ErrorCode> {
    FLOOD.into_iter().cycle().take(count as usize).collect()
}

/// What the fault makes of the message.
pub(super) fn play(act: &mut Act, heard: &mut Heard) {
    let Some(message) = heard.message.take() else { return };
    let is_meant = |unit: &Unit| act.on.as_ref().is_none_or(|on| contains(&unit.text, on));
    heard.message = match act.does {
        Does::DeafWhenRushed => None,
        Does::ShortInput => {
            heard.errors.push(ErrorCode::INPUT_BUFFER_OVERRUN);
            None
        }
        Does::LostByte => {
            let mut message = message;
            if !message.is_empty() {
                message.remove(act.draws.random_range(0..message.len()));
            }
            Some(message)
        }
        Does::UnknownHeader => {
            let mut units = program::units(&message);
            units.iter_mut().filter(|unit| is_meant(unit)).for_each(Unit::forget);
            Some(joined(&units))
        }
        Does::RestSkipped => {
            let mut units = program::units(&message);
            if let Some(bad) = units.iter().position(is_meant) {
                units.truncate(bad + 1);
                units[bad].forget();
            }
            Some(joined(&units))
        }
        Does::ErrorFlood => {
            heard.errors.extend(flood(act.count));
            Some(message)
        }
        Does::ClippedSetting => {
            let mut units = program::units(&message);
            units.iter_mut().filter(|unit| unit.is_setting() && is_meant(unit)).for_each(clip);
            Some(joined(&units))
        }
        Does::LateSettings => {
            let (late, now): (Vec<_>, Vec<_>) =
                program::units(&message).into_iter().partition(|unit| unit.is_setting() && is_meant(unit));
            if !late.is_empty() {
                heard.later = Some((act.by, joined(&late)));
            }
            (!now.is_empty()).then(|| joined(&now))
        }
        _ => Some(message),
    };
}

/// The share of a number that is really set.
const CLIPPED: f64 = 0.8;

/// Sets a number to less than was asked for; words and lists stay.
fn clip(unit: &mut Unit) {
    let text = String::from_utf8_lossy(&unit.text).into_owned();
    let Some((header, value)) = text.split_once(' ') else { return };
    let value = value.trim();
    if value.contains(',') {
        return;
    }
    let is_digit = |c: char| c.is_ascii_digit() || matches!(c, '+' | '-' | '.');
    let bare = value.find(|c: char| !is_digit(c)).unwrap_or(value.len());
    // An exponent belongs to the number, a suffix such as `E` of `EV` does not.
    let digits =
        |from: usize| value[from..].find(|c: char| !is_digit(c)).map_or(value.len(), |end| from + end);
    let end = if value[bare..].starts_with(['E', 'e']) && digits(bare + 1) > bare + 1 {
        digits(bare + 1)
    } else {
        bare
    };
    if let Ok(number) = value[..end].parse::<f64>() {
        unit.text = format!("{header} {}{}", number * CLIPPED, &value[end..]).into_bytes();
    }
}
