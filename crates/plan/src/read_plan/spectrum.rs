//! What a plan asks of the carrier's own spectrum.

use spurline_document::{Fields, Node, Reader, Value};
use spurline_limits::{Designator, Region, Use};
use spurline_units::{Db, Hertz, Ratio};

use super::above_zero;
use crate::measure::{
    AdjacentAsked, BandAsked, MaskAsked, OccupiedAsked, Spectrum, TableAsked, Tolerance, XdbAsked,
};

/// The share that the occupied bandwidth holds (ITU-R SM.328).
const SHARE: f64 = 0.99;
const LEAST_SHARE: f64 = 0.5;
const MOST_DOWN: f64 = 100.0;
/// A carrier that is farther off is not taken for the channel's.
const LARGEST_TOLERANCE: f64 = 1e-3;

/// Takes the keys of the spectrum from those of `measure`.
pub(super) fn read(reader: &mut Reader, fields: &mut Fields<'_>) -> Option<Spectrum> {
    let occupied = fields.maybe(reader, "occupied_bandwidth", read_occupied);
    let x_db = fields.maybe(reader, "x_db_bandwidth", read_x_db);
    let mask = fields.maybe(reader, "emission_mask", read_mask);
    let adjacent = fields.maybe(reader, "adjacent_channel", read_adjacent);
    let channel = fields.maybe(reader, "channel_power", read_channel);
    let frequency = fields.maybe(reader, "frequency", read_frequency);
    let band = fields.maybe(reader, "band", read_band);
    Some(Spectrum {
        occupied: occupied?,
        x_db: x_db?,
        mask: mask?,
        adjacent: adjacent?,
        channel: channel?,
        frequency: frequency?,
        band: band?,
    })
}

fn width(reader: &mut Reader, fields: &mut Fields<'_>, key: &'static str) -> Option<Option<Hertz>> {
    fields.maybe(reader, key, |reader, node| above_zero(reader, node, "a width", Hertz::new(0.0)))
}

fn read_occupied(reader: &mut Reader, node: &Node) -> Option<OccupiedAsked> {
    let mut fields = reader.fields(node, "the occupied bandwidth")?;
    let share = fields.or(reader, "share", read_share, SHARE);
    let at_most = width(reader, &mut fields, "at_most");
    fields.close(reader);
    Some(OccupiedAsked { share: share?, at_most: at_most? })
}

fn read_share(reader: &mut Reader, node: &Node) -> Option<f64> {
    let share = reader.parse::<Ratio>(node, "a share of the power")?.get();
    if (LEAST_SHARE..1.0).contains(&share) {
        return Some(share);
    }
    let message = format!("expected a share from 50 % to below 100 %, found {}", Ratio::new(share));
    reader.mistake(node.span, message).hint("the occupied bandwidth of most rules holds 99 %");
    None
}

fn read_x_db(reader: &mut Reader, node: &Node) -> Option<XdbAsked> {
    let mut fields = reader.fields(node, "the x-dB bandwidth")?;
    let down = fields.required(reader, "down");
    let at_most = width(reader, &mut fields, "at_most");
    fields.close(reader);
    let down = down.and_then(|node| ratio(reader, node));
    Some(XdbAsked { down: down?, at_most: at_most? })
}

/// A positive number of decibels that levels lie below something.
fn ratio(reader: &mut Reader, node: &Node) -> Option<Db> {
    let down: Db = reader.parse(node, "a ratio in dB")?;
    if down.get() > 0.0 && down.get() <= MOST_DOWN {
        return Some(down);
    }
    reader
        .mistake(node.span, format!("expected a ratio above 0 dB and at most {MOST_DOWN} dB, found {down}"))
        .hint("it is how far below something lies, without a minus");
    None
}

fn read_mask(reader: &mut Reader, node: &Node) -> Option<MaskAsked> {
    let mut fields = reader.fields(node, "the emission mask")?;
    let rule = fields.optional("rule");
    let facts = fields.optional("facts");
    let out_to = width(reader, &mut fields, "out_to");
    fields.close(reader);
    Some(MaskAsked { rule: named(reader, rule, facts)?, out_to: out_to? })
}

/// The name of a rule; facts are told to it and to no other.
fn named(reader: &mut Reader, rule: Option<&Node>, facts: Option<&Node>) -> Option<Option<String>> {
    if let (None, Some(facts)) = (rule, facts) {
        reader
            .mistake(facts.span, "these `facts` have no `rule` beside them that they are told to")
            .hint("what the plan's own rule must know stands under the plan's `facts`");
        return None;
    }
    match rule {
        None => Some(None),
        Some(node) => Some(Some(reader.text(node, "the name of a rule")?.to_owned())),
    }
}

fn read_adjacent(reader: &mut Reader, node: &Node) -> Option<AdjacentAsked> {
    let mut fields = reader.fields(node, "the adjacent channels")?;
    let spacing = fields.required(reader, "spacing");
    let width = fields.required(reader, "width");
    let below_node = fields.optional("below");
    let rule = fields.optional("rule");
    let facts = fields.optional("facts");
    fields.close(reader);
    let spacing = spacing.and_then(|node| above_zero(reader, node, "a spacing", Hertz::new(0.0)));
    let width_node = width;
    let width = width.and_then(|node| above_zero(reader, node, "a width", Hertz::new(0.0)));
    let below = below_node.map_or(Some(None), |node| ratio(reader, node).map(Some));
    let rule_name = named(reader, rule, facts);
    if let (Some(_), Some(rule)) = (below_node, rule) {
        reader
            .mistake(rule.span, "expected `below` or `rule`, found both")
            .hint("leave one of them out: a reading has one limit");
        return None;
    }
    if let (Some(spacing), Some(width), Some(node)) = (spacing, width, width_node)
        && width > spacing
    {
        reader
            .mistake(
                node.span,
                format!("expected a width of at most the spacing of {spacing}, found {width}"),
            )
            .hint("channels side by side do not overlap");
        return None;
    }
    Some(AdjacentAsked { spacing: spacing?, width: width?, below: below?, rule: rule_name? })
}

fn read_channel(reader: &mut Reader, node: &Node) -> Option<Hertz> {
    let mut fields = reader.fields(node, "the channel's power")?;
    let width = fields.required(reader, "width");
    fields.close(reader);
    width.and_then(|node| above_zero(reader, node, "a width", Hertz::new(0.0)))
}

fn read_frequency(reader: &mut Reader, node: &Node) -> Option<Tolerance> {
    let mut fields = reader.fields(node, "the carrier's frequency")?;
    let asked = fields.one_of(reader, &["within", "rule"]);
    let facts = fields.optional("facts");
    fields.close(reader);
    let (key, node) = asked?;
    if key == "rule" {
        return reader.text(node, "the name of a rule").map(|name| Tolerance::Rule(name.to_owned()));
    }
    named(reader, None, facts)?;
    read_tolerance(reader, node)
}

fn read_tolerance(reader: &mut Reader, node: &Node) -> Option<Tolerance> {
    let text = reader.text(node, "a tolerance")?;
    if text.trim_end().ends_with(['%', 'm']) {
        let share: Ratio = reader.parse(node, "a tolerance such as `2.5 ppm` or `500 Hz`")?;
        if share.get() > 0.0 && share.get() <= LARGEST_TOLERANCE {
            return Some(Tolerance::Share(share));
        }
        let message = format!("expected a tolerance above 0 ppm and at most 1000 ppm, found {share}");
        reader.mistake(node.span, message);
        return None;
    }
    above_zero(reader, node, "a tolerance such as `2.5 ppm` or `500 Hz`", Hertz::new(0.0))
        .map(Tolerance::Hertz)
}

/// A range, or the name of a table with what it turns on.
fn read_band(reader: &mut Reader, node: &Node) -> Option<BandAsked> {
    if !matches!(node.value, Value::Map(_)) {
        return reader.parse(node, "the band's range of frequencies").map(BandAsked::Range);
    }
    let mut fields = reader.fields(node, "the band")?;
    let table = fields.required(reader, "table");
    let region =
        fields.maybe(reader, "region", |reader, node| reader.choice(node, "a region", Region::WORDS));
    let sent_node = fields.optional("use");
    let emission_node = fields.optional("emission");
    fields.close(reader);
    if let (Some(_), Some(emission)) = (sent_node, emission_node) {
        reader
            .mistake(emission.span, "expected `use` or `emission`, found both")
            .hint("leave one of them out: the designator of an emission says what it is used for");
        return None;
    }
    let table = table.and_then(|node| reader.text(node, "the name of a table of bands"));
    let sent = sent_node.map_or(Some(None), |node| reader.choice(node, "a use", Use::WORDS).map(Some));
    let designated = emission_node.map_or(Some(None), |node| read_emission(reader, node).map(Some));
    Some(BandAsked::Table(TableAsked {
        table: table?.to_owned(),
        region: region?,
        sent: sent?.or(designated?),
    }))
}

/// What the designator of an emission says of its use.
fn read_emission(reader: &mut Reader, node: &Node) -> Option<Use> {
    let designator: Designator = reader.parse(node, "the designator of an emission, such as `16K0F3E`")?;
    let sent = designator.sent();
    if sent.is_none() {
        let words: Vec<&str> = Use::WORDS.iter().map(|(word, _)| *word).collect();
        reader
            .mistake(
                node.span,
                format!("tables of bands do not tell emissions of the class `{}` apart", designator.class()),
            )
            .hint(format!("say what it is used for in place of `emission`: `use:` {}", words.join(", ")));
    }
    sent
}
