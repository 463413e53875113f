//! Lines beside the carrier and its harmonics: of the keyed unit, and of the receiver in it.

use spurline_document::{Fields, Node, Reader};
use spurline_units::{Db, Dbm, Hertz};

use super::read;

/// A line of the keyed unit that is no harmonic.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Spur {
    pub(crate) place: SpurPlace,
    /// How far it lies below the carrier.
    pub(crate) below: Db,
}

/// Where a spur stands.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum SpurPlace {
    /// Always there.
    Fixed(Hertz),
    /// As far above and below the carrier.
    Offset(Hertz),
    /// At this share of the carrier's frequency.
    Share(f64),
}

/// An oscillator of the receiver that comes out of the connector while the unit is not keyed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Oscillator {
    pub(crate) place: OscillatorPlace,
    /// Into 50 ohm at the connector.
    pub(crate) level: Dbm,
}

/// Where an oscillator stands.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum OscillatorPlace {
    /// Always there.
    Fixed(Hertz),
    /// As many hertz above the frequency that the unit is tuned to; below it if negative.
    Offset(f64),
}

/// More would be no model of a unit.
const MOST: usize = 100;

impl Spur {
    pub(super) fn read_all(reader: &mut Reader, node: &Node) -> Option<Vec<Self>> {
        read::some(reader, node, "the spurs", MOST, Self::read)
    }

    fn read(reader: &mut Reader, node: &Node) -> Option<Self> {
        let mut fields = reader.fields(node, "a spur")?;
        let place = match fields.one_of(reader, &["frequency", "offset", "share_of_carrier"]) {
            Some(("frequency", node)) => above_zero(reader, node).map(SpurPlace::Fixed),
            Some(("offset", node)) => above_zero(reader, node).map(SpurPlace::Offset),
            Some((_, node)) => share(reader, node).map(SpurPlace::Share),
            None => None,
        };
        let below = ratio(reader, &mut fields);
        fields.close(reader);
        Some(Self { place: place?, below: below? })
    }
}

impl Oscillator {
    pub(super) fn read_all(reader: &mut Reader, node: &Node) -> Option<Vec<Self>> {
        read::some(reader, node, "the receiver's oscillators", MOST, Self::read)
    }

    fn read(reader: &mut Reader, node: &Node) -> Option<Self> {
        let mut fields = reader.fields(node, "an oscillator")?;
        let place = match fields.one_of(reader, &["frequency", "offset"]) {
            Some(("frequency", node)) => above_zero(reader, node).map(OscillatorPlace::Fixed),
            Some((_, node)) => read::signed_frequency(reader, node).map(OscillatorPlace::Offset),
            None => None,
        };
        let level = fields.required(reader, "level").and_then(|node| reader.parse(node, "a level"));
        fields.close(reader);
        Some(Self { place: place?, level: level? })
    }
}

fn ratio(reader: &mut Reader, fields: &mut Fields<'_>) -> Option<Db> {
    let node = fields.required(reader, "below")?;
    reader.parse(node, "a ratio below the carrier")
}

fn above_zero(reader: &mut Reader, node: &Node) -> Option<Hertz> {
    read::above(reader, node, "a frequency", Hertz::new(0.0))
}

fn share(reader: &mut Reader, node: &Node) -> Option<f64> {
    let share = reader.number(node, "a share of the carrier's frequency")?;
    if (0.01..=10.0).contains(&share) {
        return Some(share);
    }
    reader.mistake(
        node.span,
        format!("expected a share of the carrier's frequency from 0.01 to 10, found `{share}`"),
    );
    None
}
