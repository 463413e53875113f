//! How a plan has the level of a tone searched for.

use spurline_document::{Node, Reader};
use spurline_units::{Db, Hertz, Ratio, Volts};

use super::above_zero;
use crate::measure::{SetUp, SetUpAim};

/// 47 CFR 2.1049(c)(1): 16 dB above the level for half of the deviation.
const ABOVE_HALF: f64 = 16.0;
const MOST_ABOVE: f64 = 40.0;
/// What a microphone gives (common practice), and what its input bears without harm.
const START: f64 = 5e-3;
const MOST: f64 = 1.0;
const WITHIN: f64 = 0.03;
/// A search cannot come nearer than the deviation is known, and one that may end farther off has found nothing.
const NEAREST: f64 = 0.005;
const FARTHEST: f64 = 0.2;
/// Below, a look that tells the lines apart takes minutes; above, no unit for speech is modulated.
const LOWEST_TONE: f64 = 100.0;
const HIGHEST_TONE: f64 = 20e3;

pub(super) fn read(reader: &mut Reader, node: &Node) -> Option<SetUp> {
    let mut fields = reader.fields(node, "the set-up of a modulation")?;
    let tone = fields.required(reader, "tone").and_then(|node| read_tone(reader, node));
    let above = fields.maybe(reader, "above_half", read_above);
    let at_least = fields.maybe(reader, "at_least", read_share);
    let response = fields.maybe(reader, "maximum_response", read_tone);
    let start = fields.or(reader, "start", read_level, Volts::new(START));
    let most = fields.or(reader, "most", read_level, Volts::new(MOST));
    let within = fields.or(reader, "within", read_within, WITHIN);
    let aimed = fields.one_of(reader, &["rated_deviation", "depth"]);
    fields.close(reader);
    let (above, at_least, response) = (above?, at_least?, response?);
    let aim = match aimed? {
        ("rated_deviation", node) => {
            let rated = above_zero(reader, node, "a deviation", Hertz::new(0.0))?;
            match (above, at_least) {
                (Some(_), Some(_)) => {
                    reader
                        .mistake(node.span, "expected one of `above_half` and `at_least`, found both")
                        .hint("`above_half` is for a unit with a limiter, `at_least` for one without");
                    return None;
                }
                (None, Some(share)) => SetUpAim::Share { rated, share },
                (above, None) => SetUpAim::AboveHalf { rated, above: above.unwrap_or(Db::new(ABOVE_HALF)) },
            }
        }
        (_, node) => {
            let depth = read_share(reader, node)?;
            if above.is_some() || at_least.is_some() || response.is_some() {
                reader
                    .mistake(
                        node.span,
                        "expected no `above_half`, `at_least` or `maximum_response` beside `depth`",
                    )
                    .hint("these are for a deviation");
                return None;
            }
            SetUpAim::Depth { depth }
        }
    };
    let (start, most) = (start?, most?);
    if start > most {
        reader.mistake(node.span, format!("expected `start` at most `most`, found {start} and {most}"));
        return None;
    }
    Some(SetUp {
        tone: tone?,
        aim,
        maximum_response: response,
        start,
        most,
        within: within?,
        span: node.span,
    })
}

fn read_tone(reader: &mut Reader, node: &Node) -> Option<Hertz> {
    let tone: Hertz = reader.parse(node, "the frequency of a tone")?;
    if (LOWEST_TONE..=HIGHEST_TONE).contains(&tone.get()) {
        return Some(tone);
    }
    let (low, high) = (Hertz::new(LOWEST_TONE), Hertz::new(HIGHEST_TONE));
    reader.mistake(node.span, format!("expected a tone from {low} to {high}, found {tone}"));
    None
}

fn read_above(reader: &mut Reader, node: &Node) -> Option<Db> {
    let above: Db = reader.parse(node, "how far above, in dB")?;
    if (0.0..=MOST_ABOVE).contains(&above.get()) {
        return Some(above);
    }
    reader.mistake(node.span, format!("expected from 0 dB to {MOST_ABOVE} dB, found {above}"));
    None
}

/// Above nothing, and not more than all.
pub(super) fn read_share(reader: &mut Reader, node: &Node) -> Option<f64> {
    let share: Ratio = reader.parse(node, "a share")?;
    if share.get() > 0.0 && share.get() <= 1.0 {
        return Some(share.get());
    }
    reader.mistake(node.span, format!("expected a share above 0 % and at most 100 %, found {share}"));
    None
}

fn read_level(reader: &mut Reader, node: &Node) -> Option<Volts> {
    above_zero(reader, node, "a level", Volts::new(0.0))
}

fn read_within(reader: &mut Reader, node: &Node) -> Option<f64> {
    let within: Ratio = reader.parse(node, "a share")?;
    if (NEAREST..=FARTHEST).contains(&within.get()) {
        return Some(within.get());
    }
    let (low, high) = (Ratio::new(NEAREST), Ratio::new(FARTHEST));
    reader.mistake(node.span, format!("expected a share from {low} to {high}, found {within}"));
    None
}
