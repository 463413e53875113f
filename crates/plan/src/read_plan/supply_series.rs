//! Power along the supply voltage, as a plan says it.

use spurline_document::{Node, Reader};
use spurline_units::Volts;

use super::{MOST_ORDERS, above_zero};
use crate::measure::SupplySeries;

const MOST_STEPS: u32 = 100;

/// Reads what stands under `supply_series`.
pub(super) fn read(reader: &mut Reader, node: &Node) -> Option<SupplySeries> {
    let mut fields = reader.fields(node, "a series of supply voltages")?;
    let of = fields.required(reader, "of");
    let (from, to) = (fields.required(reader, "from"), fields.required(reader, "to"));
    let steps = fields.required(reader, "steps");
    let name = |reader: &mut Reader, node: &Node| {
        Some((reader.text(node, "a name of the plan")?.to_owned(), node.span))
    };
    let channel = fields.maybe(reader, "channel", name);
    let power = fields.maybe(reader, "power", name);
    let harmonics = fields.or(
        reader,
        "harmonics_up_to",
        |reader, node| reader.whole(node, "the highest order", 1, MOST_ORDERS),
        1,
    );
    let end_node = fields.optional("end_point");
    fields.close(reader);
    let of = of.and_then(|node| name(reader, node));
    let volts = |reader: &mut Reader, node: &Node| above_zero(reader, node, "a voltage", Volts::new(0.0));
    let from = from.and_then(|node| volts(reader, node));
    let to = to.and_then(|node| volts(reader, node));
    let end_point = end_node.map_or(Some(None), |node| volts(reader, node).map(Some));
    let steps = steps.and_then(|node| reader.whole(node, "how many voltages", 2, MOST_STEPS));
    let (from, to, end_point) = (from?, to?, end_point?);
    if from.get() == to.get() {
        reader
            .mistake(node.span, format!("expected two voltages that differ, found {from} twice"))
            .hint("`from` is the first voltage, `to` the last");
        return None;
    }
    let beyond = end_point.filter(|at| *at < from.min(to) || *at > from.max(to));
    if let Some(at) = beyond {
        reader
            .mistake(
                end_node.map_or(node.span, |node| node.span),
                format!("expected an end point between {from} and {to}, found {at}"),
            )
            .hint("it is the lowest voltage at which the power must still lie in its window");
        return None;
    }
    Some(SupplySeries {
        of: of?,
        from,
        to,
        steps: steps?,
        channel: channel?,
        power: power?,
        harmonics_up_to: harmonics?,
        end_point,
    })
}
