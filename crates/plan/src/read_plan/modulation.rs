//! What the carrier carries while it is measured, as a plan says it.

use spurline_document::{Node, Reader, Value};
use spurline_units::{Hertz, Ratio, Seconds};

use super::above_zero;
use super::set_up;
use crate::measure::SetUp;
use crate::model::Modulation;

/// `none`, or a map with one of `tone`, `am`, `burst` and `set_up`; of a set-up, what it is expected to come to.
pub(super) fn read(reader: &mut Reader, node: &Node) -> Option<(Modulation, Option<SetUp>)> {
    if matches!(node.value, Value::Scalar(_)) {
        let what = "the modulation, or a map with `tone`, `am`, `burst` or `set_up`";
        return reader.choice(node, what, &[("none", (Modulation::None, None))]);
    }
    let mut fields = reader.fields(node, "the modulation")?;
    let kind = fields.one_of(reader, &["tone", "am", "burst", "set_up"]);
    fields.close(reader);
    let (key, node) = kind?;
    let modulation = match key {
        "tone" => read_tone(reader, node),
        "am" => read_am(reader, node),
        "burst" => read_burst(reader, node),
        _ => {
            let set_up = set_up::read(reader, node)?;
            return Some((set_up.expected(), Some(set_up)));
        }
    };
    Some((modulation?, None))
}

fn read_tone(reader: &mut Reader, node: &Node) -> Option<Modulation> {
    let mut fields = reader.fields(node, "a modulation by a tone")?;
    let nodes = ["deviation", "frequency"].map(|key| fields.required(reader, key));
    fields.close(reader);
    let [deviation, tone] =
        nodes.map(|node| node.and_then(|node| above_zero(reader, node, "a frequency", Hertz::new(0.0))));
    Some(Modulation::Tone { deviation: deviation?, tone: tone? })
}

fn read_am(reader: &mut Reader, node: &Node) -> Option<Modulation> {
    let mut fields = reader.fields(node, "an amplitude modulation")?;
    let depth = fields.required(reader, "depth");
    let tone = fields.required(reader, "frequency");
    fields.close(reader);
    let depth = depth.and_then(|node| {
        let depth: Ratio = reader.parse(node, "a depth")?;
        if depth.get() > 0.0 && depth.get() <= 1.0 {
            return Some(depth.get());
        }
        reader.mistake(node.span, format!("expected a depth above 0 % and at most 100 %, found {depth}"));
        None
    });
    let tone = tone.and_then(|node| above_zero(reader, node, "a frequency", Hertz::new(0.0)));
    Some(Modulation::Am { depth: depth?, tone: tone? })
}

fn read_burst(reader: &mut Reader, node: &Node) -> Option<Modulation> {
    let mut fields = reader.fields(node, "a burst")?;
    let nodes = [("on", fields.required(reader, "on")), ("period", fields.required(reader, "period"))];
    fields.close(reader);
    let [on, period] =
        nodes.map(|(_, node)| node.and_then(|node| above_zero(reader, node, "a time", Seconds::new(0.0))));
    let (on, period) = (on?, period?);
    if on >= period {
        reader
            .mistake(node.span, format!("expected `on` shorter than `period`, found {on} and {period}"))
            .hint("what is always on is no burst: write `modulation: none`");
        return None;
    }
    Some(Modulation::Burst { on, period })
}
