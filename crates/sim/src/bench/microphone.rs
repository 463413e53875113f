//! What a unit's microphone input makes of a tone.

use spurline_document::{Node, Reader};
use spurline_units::{Db, Hertz, Volts};

use super::modulation::depth;
use super::read;

/// A modulator behind a microphone input.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct MicrophoneTruth {
    /// What a tone of `at` makes of the carrier at the frequency of maximum response.
    pub(crate) makes: Makes,
    /// The level for that, r.m.s.
    pub(crate) at: Volts,
    /// The error of the sensitivity is drawn with this standard deviation.
    pub(crate) spread: Db,
    /// The frequency of maximum response.
    pub(crate) maximum_response: Hertz,
}

/// What is modulated, and how far at most.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Makes {
    /// The frequency, held by a limiter.
    Deviation { deviation: Hertz, at_most: Hertz },
    /// The amplitude, which clips.
    Depth { depth: f64, at_most: f64 },
}

/// Where speech is strongest behind the usual pre-emphasis and low-pass: common practice.
const MAXIMUM_RESPONSE: f64 = 2.7e3;

impl MicrophoneTruth {
    pub(super) fn read(reader: &mut Reader, node: &Node) -> Option<Self> {
        let mut fields = reader.fields(node, "a microphone input")?;
        let at = read::required_above(reader, &mut fields, "level", Volts::new(0.0));
        let spread = read::at_least(reader, &mut fields, "spread", Db::new(0.0), Db::new(0.0));
        let default = Hertz::new(MAXIMUM_RESPONSE);
        let response = fields.or(
            reader,
            "maximum_response",
            |r, n| read::above(r, n, "maximum_response", Hertz::new(0.0)),
            default,
        );
        let makes = match fields.one_of(reader, &["fm", "am"]) {
            Some(("fm", node)) => Makes::read_fm(reader, node),
            Some((_, node)) => Makes::read_am(reader, node),
            None => None,
        };
        fields.close(reader);
        Some(Self { makes: makes?, at: at?, spread: spread?, maximum_response: response? })
    }
}

impl Makes {
    fn read_fm(reader: &mut Reader, node: &Node) -> Option<Self> {
        let mut fields = reader.fields(node, "a modulator of the frequency")?;
        let deviation = read::required_above(reader, &mut fields, "deviation", Hertz::new(0.0));
        let at_most = read::required_above(reader, &mut fields, "limiter", Hertz::new(0.0));
        fields.close(reader);
        Some(Self::Deviation { deviation: deviation?, at_most: at_most? })
    }

    fn read_am(reader: &mut Reader, node: &Node) -> Option<Self> {
        let mut fields = reader.fields(node, "a modulator of the amplitude")?;
        let of_tone = fields.required(reader, "depth").and_then(|node| depth(reader, node));
        let at_most = fields.or(reader, "clips_at", depth, 1.0);
        fields.close(reader);
        Some(Self::Depth { depth: of_tone?, at_most: at_most? })
    }
}
