//! The signal generator of a bench, and how it is connected.

use spurline_document::{Node, Reader};
use spurline_record::Role;
use spurline_units::Db;

use super::Shelf;
use crate::bench::{GeneratorUse, InstrumentAt};

/// For how many days a proof holds unless the file says otherwise.
pub(super) const PROOF_LASTS: u32 = 90;
const MOST_DAYS: u32 = 3660;

pub(super) fn read(
    reader: &mut Reader,
    node: &Node,
    shelf: &mut Shelf<'_>,
    instruments: &mut Vec<Option<InstrumentAt>>,
) -> Option<GeneratorUse> {
    let mut fields = reader.fields(node, "the generator")?;
    let through = fields.optional("through").map(|node| shelf.parts(reader, node));
    let beside = fields.optional("beside_carrier");
    let isolation_node = fields.optional("isolation");
    let instrument = shelf.instrument_in(reader, Role::Generator, &mut fields);
    fields.close(reader);
    instruments.push(instrument);
    let is_beside = beside.map_or(Some(false), |node| reader.flag(node, "whether it goes beside the unit"));
    let isolation = isolation_node.map_or(Some(None), |node| read_isolation(reader, node).map(Some));
    let (is_beside, isolation) = (is_beside?, isolation?);
    match (is_beside, isolation, beside, isolation_node) {
        (true, None, Some(node), _) => {
            reader
                .mistake(node.span, "nothing says how much of the unit's power runs into the generator")
                .hint(
                    "write `isolation: 40 dB`, from the unit's connector to the generator's output: combiner and pads \
                     together",
                );
            return None;
        }
        (false, Some(_), _, Some(node)) => {
            reader
                .mistake(node.span, "expected no `isolation` for a generator that takes the unit's place")
                .hint("add `beside_carrier: true` if both go through one combiner");
            return None;
        }
        _ => {}
    }
    let through = through.unwrap_or(Some(Vec::new()))?;
    Some(GeneratorUse { through: through.into_iter().map(|(part, _)| part).collect(), isolation })
}

fn read_isolation(reader: &mut Reader, node: &Node) -> Option<Db> {
    let isolation: Db = reader.parse(node, "an isolation in dB")?;
    if isolation < Db::new(0.0) {
        reader.mistake(node.span, format!("expected an isolation of 0 dB or more, found {isolation}"));
        return None;
    }
    Some(isolation)
}

/// A number of days, as `90 d`.
pub(super) fn read_days(reader: &mut Reader, node: &Node) -> Option<u32> {
    let text = reader.text(node, "a number of days")?;
    let days = text.strip_suffix('d').and_then(|number| number.trim_end().parse::<u32>().ok());
    let days = days.filter(|days| (1..=MOST_DAYS).contains(days));
    if days.is_none() {
        reader
            .mistake(node.span, format!("expected from 1 d to {MOST_DAYS} d, found `{text}`"))
            .hint("write whole days: 90 d");
    }
    days
}
