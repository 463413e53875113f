//! How the serial line of an instrument is set.

use spurline_document::{Node, Reader};
use spurline_transport::{SerialFlow, SerialLine};

const FLOWS: [(&str, SerialFlow); 2] = [("none", SerialFlow::None), ("rts-cts", SerialFlow::RtsCts)];

pub(super) fn read(reader: &mut Reader, node: &Node) -> Option<SerialLine> {
    let usual = SerialLine::default();
    let mut fields = reader.fields(node, "a serial line")?;
    let baud = fields.or(reader, "baud", read_baud, usual.baud);
    let framing = fields.or(reader, "framing", |reader, node| reader.parse(node, "a framing"), usual.framing);
    let flow = fields.or(reader, "flow", read_flow, usual.flow);
    fields.close(reader);
    Some(SerialLine { baud: baud?, framing: framing?, flow: flow? })
}

fn read_baud(reader: &mut Reader, node: &Node) -> Option<u32> {
    reader.whole(node, "a rate in baud", 50, 4_000_000)
}

fn read_flow(reader: &mut Reader, node: &Node) -> Option<SerialFlow> {
    reader.choice(node, "a flow control", &FLOWS)
}
