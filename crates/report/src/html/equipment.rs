//! The parts of the path as a list.

use spurline_record::{LaidPart, Layout};
use spurline_units::Watts;

use crate::figures;

/// One part, and the ways that it is on.
pub(crate) struct PartRow<'a> {
    pub(crate) part: &'a LaidPart,
    pub(crate) on: Vec<&'a str>,
    pub(crate) loss: String,
    pub(crate) covers: String,
    pub(crate) rated: String,
}

/// Every part once, in the order in which power meets them.
pub(crate) fn parts(layout: &Layout) -> Vec<PartRow<'_>> {
    let common = layout.common.iter().map(|part| (part, "every way"));
    let on_ways =
        layout.ways.iter().flat_map(|way| way.parts.iter().map(move |part| (part, way.name.as_str())));
    let mut rows: Vec<PartRow<'_>> = Vec::new();
    for (part, on) in common.chain(on_ways) {
        match rows.iter_mut().find(|row| row.part == part) {
            Some(row) if row.on.contains(&on) => {}
            Some(row) => row.on.push(on),
            None => rows.push(PartRow {
                part,
                on: vec![on],
                loss: figures::loss(part),
                covers: format!("{} to {}", part.covers.low(), part.covers.high()),
                rated: part.rated.map_or_else(|| "not stated".to_owned(), |watts: Watts| watts.to_string()),
            }),
        }
    }
    rows
}
