//! What an instrument answers to `*IDN?`.

use spurline_document::{Node, Reader};

/// The four fields of `*IDN?`.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Identity {
    pub(crate) maker: String,
    pub(crate) model: String,
    pub(crate) serial: String,
    pub(crate) firmware: String,
}

impl Identity {
    /// An invented maker's instrument.
    pub(crate) fn invented(model: &str, serial: &str) -> Self {
        Self {
            maker: "Example".to_owned(),
            model: model.to_owned(),
            serial: serial.to_owned(),
            firmware: "1.0".to_owned(),
        }
    }

    /// Reads the keys that are given; the rest stays as in `default`.
    pub(super) fn read(reader: &mut Reader, node: &Node, default: Self) -> Option<Self> {
        let mut fields = reader.fields(node, "an identity")?;
        let maker = fields.or(reader, "maker", field, default.maker);
        let model = fields.or(reader, "model", field, default.model);
        let serial = fields.or(reader, "serial", field, default.serial);
        let firmware = fields.or(reader, "firmware", field, default.firmware);
        fields.close(reader);
        Some(Self { maker: maker?, model: model?, serial: serial?, firmware: firmware? })
    }
}

/// A field of `*IDN?`: IEEE 488.2 clause 10.14 allows neither commas nor semicolons in it.
pub(super) fn field(reader: &mut Reader, node: &Node) -> Option<String> {
    let text = reader.text(node, "a name")?;
    if text.chars().all(|c| (' '..='~').contains(&c) && !",;".contains(c)) {
        return Some(text.to_owned());
    }
    reader.mistake(node.span, format!("expected plain text without `,` and `;`, found `{text}`"));
    None
}
