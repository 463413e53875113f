//! The control line that keys the unit, and the log of its key.

use spurline_document::{Node, Reader};

/// A control line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct KeyLineTruth {
    /// Whether the last close of the port drops the line.
    pub(crate) hupcl: bool,
}

impl Default for KeyLineTruth {
    fn default() -> Self {
        Self { hupcl: true }
    }
}

impl KeyLineTruth {
    pub(super) fn read(reader: &mut Reader, node: &Node) -> Option<Self> {
        let mut fields = reader.fields(node, "a simulated key line")?;
        let flag =
            |reader: &mut Reader, node: &Node| reader.flag(node, "whether closing the port drops the line");
        let hupcl = fields.or(reader, "hupcl", flag, true);
        fields.close(reader);
        Some(Self { hupcl: hupcl? })
    }
}

/// The path of the file that the key log goes to.
pub(super) fn log(reader: &mut Reader, node: &Node) -> Option<std::path::PathBuf> {
    reader.text(node, "the path of a file").map(Into::into)
}
