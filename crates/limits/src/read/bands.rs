//! Files of bands.

use spurline_document::{Document, Fields, Mistakes, Node, Reader};
use spurline_units::{Hertz, Range};

use super::{each, head, text};
use crate::bands::{Band, BandPlan, PowerCeiling, PowerOf, Region, Segment, Use};
use crate::finding::Status;

impl BandPlan {
    /// Reads a file of bands.
    ///
    /// # Errors
    ///
    /// All mistakes in it.
    pub fn read(document: &Document) -> Result<Self, Mistakes> {
        let mut reader = Reader::new(document);
        let plan = plan(&mut reader, &document.root);
        reader.finish(plan)
    }
}

fn plan(reader: &mut Reader, node: &Node) -> Option<BandPlan> {
    let mut fields = reader.fields(node, "a band plan")?;
    let head = head::head(reader, &mut fields, "band_plan");
    let everywhere = fields.or(reader, "everywhere", uses, Vec::new());
    let power = fields.or(reader, "power", ceilings, Vec::new());
    let bands = fields.required(reader, "bands");
    let common = power.clone().unwrap_or_default();
    let bands = bands.and_then(|node| each(reader, node, "the bands", |r, n| band(r, n, &common)));
    fields.close(reader);
    power?;
    Some(BandPlan { head: head?, everywhere: everywhere?, bands: bands? })
}

fn band(reader: &mut Reader, node: &Node, common: &[PowerCeiling]) -> Option<Band> {
    let mut fields = reader.fields(node, "a band")?;
    let name = text(reader, &mut fields, "band");
    let range = band_range(reader, &mut fields);
    let all = Region::WORDS.iter().map(|(_, region)| *region).collect();
    let regions = fields.or(reader, "regions", regions, all);
    let source =
        fields.maybe(reader, "source", |reader, node| reader.text(node, "a source").map(str::to_owned));
    let status =
        fields.maybe(reader, "status", |reader, node| reader.choice(node, "a status", Status::WORDS));
    let widest = fields.maybe(reader, "widest", |reader, node| reader.parse(node, "a bandwidth"));
    let power = fields.or(reader, "power", ceilings, common.to_vec());
    let note = fields.maybe(reader, "note", |reader, node| reader.text(node, "a note").map(str::to_owned));
    let segments = fields.or(
        reader,
        "segments",
        |reader, node| each(reader, node, "the segments", |reader, node| segment(reader, node, range)),
        Vec::new(),
    );
    fields.close(reader);
    Some(Band {
        name: name?,
        range: range?,
        regions: regions?,
        source: source?,
        status: status?,
        widest: widest?,
        power: power?,
        note: note?,
        segments: segments?,
    })
}

/// A range, or a centre and the width about it.
fn band_range(reader: &mut Reader, fields: &mut Fields<'_>) -> Option<Range<Hertz>> {
    let (key, node) = fields.one_of(reader, &["range", "centre"])?;
    if key == "range" {
        return reader.parse(node, "a range of frequencies");
    }
    let centre: Option<Hertz> = reader.parse(node, "a frequency");
    let width = fields.required(reader, "width");
    let width: Option<Hertz> = width.and_then(|node| reader.parse(node, "a width"));
    let (centre, half) = (centre?, width? / 2.0);
    let range = Range::new(centre - half, centre + half).filter(|range| range.low().get() >= 0.0);
    if range.is_none() {
        reader.mistake(
            node.span,
            format!("expected a width of at most twice the centre, found {}", half * 2.0),
        );
    }
    range
}

fn regions(reader: &mut Reader, node: &Node) -> Option<Vec<Region>> {
    each(reader, node, "the regions", |reader, node| reader.choice(node, "a region", Region::WORDS))
}

fn uses(reader: &mut Reader, node: &Node) -> Option<Vec<Use>> {
    each(reader, node, "the uses", |reader, node| reader.choice(node, "a use", Use::WORDS))
}

fn ceilings(reader: &mut Reader, node: &Node) -> Option<Vec<PowerCeiling>> {
    each(reader, node, "the ceilings of power", ceiling)
}

fn ceiling(reader: &mut Reader, node: &Node) -> Option<PowerCeiling> {
    let mut fields = reader.fields(node, "a ceiling of power")?;
    let most = fields.required(reader, "most").and_then(|node| super::expression::power(reader, node));
    let of = fields.required(reader, "of");
    let of = of.and_then(|node| reader.choice(node, "a kind of power", PowerOf::WORDS));
    fields.close(reader);
    Some(PowerCeiling { most: most?.0, of: of? })
}

fn segment(reader: &mut Reader, node: &Node, band: Option<Range<Hertz>>) -> Option<Segment> {
    let mut fields = reader.fields(node, "a segment")?;
    let at = fields.required(reader, "range");
    let range: Option<Range<Hertz>> = at.and_then(|node| reader.parse(node, "a range of frequencies"));
    let sent = fields.required(reader, "uses").and_then(|node| uses(reader, node));
    fields.close(reader);
    if let (Some(at), Some(range), Some(band)) = (at, range, band)
        && !(band.contains(range.low()) && band.contains(range.high()))
    {
        reader.mistake(at.span, format!("expected a segment within its band {band}, found {range}"));
        return None;
    }
    Some(Segment { range: range?, uses: sent? })
}

#[cfg(test)]
mod tests {
    use insta::assert_snapshot;

    use super::*;

    const HEAD: &str =
        "band_plan: demo\ntitle: Demo\nsource: Nowhere 1\nedition: none\nstatus: from-memory\n";

    #[test]
    fn slips_are_named_with_their_place() {
        let text = format!(
            "{HEAD}bands:
  - {{ band: a, range: 2..1 MHz }}
  - {{ band: b, range: 1..2 MHz, segments: [ {{ range: 1.5..2.5 MHz, uses: [ fone ] }} ] }}
  - {{ band: c, centre: 1 MHz }}
  - {{ band: d, range: 1..2 MHz, regions: [ 4 ], power: [ {{ most: 5 W, of: peak }} ] }}
"
        );
        let mistakes = Document::parse("demo.yaml", &text).and_then(|document| BandPlan::read(&document));
        assert_snapshot!(mistakes.unwrap_err(), @"
        error: the range `2..1 MHz` ends below its start
         --> demo.yaml:7:23
          |
        7 |   - { band: a, range: 2..1 MHz }
          |                       ^^^^^^^^
          |
          = help: write the lower value first

        error: expected a segment within its band 1..2 MHz, found 1.5..2.5 MHz
         --> demo.yaml:8:54
          |
        8 |   - { band: b, range: 1..2 MHz, segments: [ { range: 1.5..2.5 MHz, uses: [ fone ] } ] }
          |                                                      ^^^^^^^^^^^^

        error: expected a use, found `fone`
         --> demo.yaml:8:76
          |
        8 |   - { band: b, range: 1..2 MHz, segments: [ { range: 1.5..2.5 MHz, uses: [ fone ] } ] }
          |                                                                            ^^^^
          |
          = help: known here: cw, mcw, phone, image, data

        error: the key `width` is missing in a band
         --> demo.yaml:9:7
          |
        9 |   - { band: c, centre: 1 MHz }
          |       ^^^^
          |
          = help: keys of a band: band, range, centre, width, regions, source, status, widest, power, note, segments

        error: expected a region, found `4`
          --> demo.yaml:10:44
           |
        10 |   - { band: d, range: 1..2 MHz, regions: [ 4 ], power: [ { most: 5 W, of: peak } ] }
           |                                            ^
           |
           = help: known here: 1, 2, 3

        error: expected a kind of power, found `peak`
          --> demo.yaml:10:75
           |
        10 |   - { band: d, range: 1..2 MHz, regions: [ 4 ], power: [ { most: 5 W, of: peak } ] }
           |                                                                           ^^^^
           |
           = help: known here: pep, erp, eirp
        ");
    }
}
