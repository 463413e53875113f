//! The hand that keys the unit where a person is asked to.

use spurline_document::{Node, Reader};
use spurline_units::Seconds;

use super::read::above;

/// A person at the key, with what may be wrong with one.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct HandTruth {
    /// How long it takes to do what it was told.
    pub(crate) reacts_in: Seconds,
    /// Whether it keys at all.
    pub(crate) keys: bool,
    /// After how long it lets go without being told, if it does.
    pub(crate) lets_go_after: Option<Seconds>,
    /// Whether it lets go when it is told.
    pub(crate) lets_go: bool,
}

/// A person who waits for a word (common practice: 0.2 s to 0.5 s).
const REACTS_IN: Seconds = Seconds::new(0.4);

impl Default for HandTruth {
    fn default() -> Self {
        Self { reacts_in: REACTS_IN, keys: true, lets_go_after: None, lets_go: true }
    }
}

impl HandTruth {
    pub(super) fn read(reader: &mut Reader, node: &Node) -> Option<Self> {
        let mut fields = reader.fields(node, "a simulated hand")?;
        let flag = |reader: &mut Reader, node: &Node| reader.flag(node, "`true` or `false`");
        let time = |reader: &mut Reader, node: &Node| above(reader, node, "a time", Seconds::new(0.0));
        let reacts_in = fields.or(reader, "reacts_in", time, REACTS_IN);
        let keys = fields.or(reader, "keys", flag, true);
        let lets_go_after = fields.maybe(reader, "lets_go_after", time);
        let lets_go = fields.or(reader, "lets_go", flag, true);
        fields.close(reader);
        Some(Self { reacts_in: reacts_in?, keys: keys?, lets_go_after: lets_go_after?, lets_go: lets_go? })
    }
}
