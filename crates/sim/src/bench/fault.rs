//! What goes wrong on purpose.

use spurline_document::{Node, Reader};
use spurline_units::Seconds;

use super::read;
use crate::role::Role;

/// One fault of one instrument.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Fault {
    pub(crate) instrument: Role,
    pub(crate) kind: FaultKind,
    /// How many messages the instrument takes before it happens.
    pub(crate) after_messages: u64,
    /// How long it lasts; for ever if not stated.
    pub(crate) lasts: Option<Seconds>,
}

/// What a fault does.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum FaultKind {
    /// All connections are closed and new ones refused.
    CutLink,
    /// Connections stay, but nothing is heard and nothing is answered.
    MuteLink,
}

impl Fault {
    pub(super) fn read_all(reader: &mut Reader, node: &Node) -> Option<Vec<Self>> {
        let faults = read::all(reader, node, "the faults", Self::read)?;
        for (index, fault) in faults.iter().enumerate() {
            if faults[..index].iter().any(|other| other.instrument == fault.instrument) {
                let message = format!("the {} has two faults; one can be played", fault.instrument);
                reader.mistake(node.span, message);
                return None;
            }
        }
        Some(faults)
    }

    fn read(reader: &mut Reader, node: &Node) -> Option<Self> {
        let mut fields = reader.fields(node, "a fault")?;
        let roles = Role::ALL.map(|role| (role.name(), role));
        let kinds = [("cut-link", FaultKind::CutLink), ("mute-link", FaultKind::MuteLink)];
        let instrument =
            fields.required(reader, "instrument").and_then(|n| reader.choice(n, "an instrument", &roles));
        let kind = fields.required(reader, "does").and_then(|n| reader.choice(n, "a fault", &kinds));
        let after = fields.required(reader, "after_messages").and_then(|n| read::count(reader, n));
        let lasts = fields.maybe(reader, "lasts", |r, n| r.parse(n, "a time"));
        fields.close(reader);
        Some(Self { instrument: instrument?, kind: kind?, after_messages: u64::from(after?), lasts: lasts? })
    }
}
