//! How an instrument takes its clients, whatever the kind of its link.

use spurline_document::{Node, Reader};

/// How an instrument takes its clients.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) struct LinkTruth {
    /// How many it serves at a time; any number if not stated.
    pub(crate) connections: Option<u32>,
    /// What becomes of one more.
    pub(crate) busy: Busy,
    /// What becomes of an answer, on a stream of bytes, when the next message is there before it.
    pub(crate) output: Output,
}

/// What becomes of a client for whom there is no room.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) enum Busy {
    /// It is served once another has gone; until then it hears nothing.
    #[default]
    Wait,
    /// It is refused.
    Refuse,
    /// It is let in, and the connection is closed at once.
    Close,
}

/// What becomes of an answer when the next message is there before it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) enum Output {
    /// All answers go out in their order.
    #[default]
    Queue,
    /// It is dropped, which is error -410.
    Interrupt,
}

/// More would be no model of an instrument.
const MOST_CONNECTIONS: u32 = 64;

impl LinkTruth {
    pub(super) fn read(reader: &mut Reader, node: &Node) -> Option<Self> {
        let mut fields = reader.fields(node, "a link")?;
        let busy = [("wait", Busy::Wait), ("refuse", Busy::Refuse), ("close", Busy::Close)];
        let output = [("queue", Output::Queue), ("interrupt", Output::Interrupt)];
        let connections =
            fields.maybe(reader, "connections", |r, n| r.whole(n, "connections", 1, MOST_CONNECTIONS));
        let busy = fields.or(reader, "busy", |r, n| r.choice(n, "a word for one more", &busy), Busy::Wait);
        let output =
            fields.or(reader, "output", |r, n| r.choice(n, "a word for the output", &output), Output::Queue);
        fields.close(reader);
        Some(Self { connections: connections?, busy: busy?, output: output? })
    }
}
