//! The drawing of what was wired: the unit with what feeds and keys it, the common parts, and each way to its
//! instrument.

mod block;
mod narrow;
mod wide;
mod words;

use spurline_record::{InstrumentUsed, LaidWay, Layout, RunHeader};

use crate::drawing::Drawing;
use block::Block;

/// The drawing for wide and for narrow pages.
pub(crate) struct Setup {
    pub(crate) wide: Drawing,
    pub(crate) narrow: Drawing,
}

/// What is drawn.
struct Scene {
    /// What feeds and what keys the unit.
    feeds: Vec<Block>,
    unit: Block,
    common: Vec<Block>,
    ways: Vec<Way>,
    /// The drawing in words.
    label: String,
}

/// One way on from the common parts.
struct Way {
    title: String,
    used: bool,
    /// Its parts and its instrument.
    blocks: Vec<Block>,
}

/// Draws the layout of a run; `None` if nothing is known of it.
pub(crate) fn draw(header: &RunHeader, instruments: &[InstrumentUsed]) -> Option<Setup> {
    let layout = &header.layout;
    if *layout == Layout::default() {
        return None;
    }
    let supplies = (!layout.supplies.is_empty()).then(|| words::supplies(&layout.supplies, instruments));
    let key = layout.key.as_ref().map(|key| words::key(key, instruments));
    let scene = Scene {
        feeds: supplies.into_iter().chain(key).collect(),
        unit: words::unit(&header.unit),
        common: layout.common.iter().map(words::part).collect(),
        ways: layout.ways.iter().map(|way| self::way(way, instruments)).collect(),
        label: words::label(header),
    };
    Some(Setup { wide: wide::draw(&scene), narrow: narrow::draw(&scene) })
}

fn way(way: &LaidWay, instruments: &[InstrumentUsed]) -> Way {
    let end = words::instrument(way.ends_at, instruments);
    Way {
        title: words::way(way),
        used: way.used,
        blocks: way.parts.iter().map(words::part).chain([end]).collect(),
    }
}

/// The style of a wire.
const fn wire(used: bool) -> &'static str {
    if used { "wire" } else { "wire idle" }
}
