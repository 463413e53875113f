//! The truth of an audio generator: its ranges, and its own level.

use spurline_document::{Node, Reader};
use spurline_units::{Db, Hertz, Range};

use super::{Identity, LinkTruth, read};

/// An audio generator with known errors.
#[derive(Clone, Debug)]
pub(crate) struct AudioGeneratorTruth {
    pub(crate) identity: Identity,
    pub(crate) range: Range<Hertz>,
    /// The error of all levels.
    pub(crate) level_error: Db,
    pub(crate) link: LinkTruth,
}

impl AudioGeneratorTruth {
    pub(super) fn read(reader: &mut Reader, node: &Node) -> Option<Self> {
        let mut fields = reader.fields(node, "an audio generator")?;
        let f = &mut fields;
        let default = Identity::invented("Audio Generator", "T-0001");
        let known = default.clone();
        let identity = f.or(reader, "identity", |r, n| Identity::read(r, n, default), known);
        let range = Range::new(Hertz::new(1.0), Hertz::new(100e3)).expect("1 Hz is below 100 kHz");
        let range = f.or(reader, "range", |r, n| r.parse(n, "a range"), range);
        let level_error = read::quantity(reader, f, "level_error", Db::new(0.0));
        let link = f.or(reader, "link", LinkTruth::read, LinkTruth::default());
        fields.close(reader);
        Some(Self { identity: identity?, range: range?, level_error: level_error?, link: link? })
    }
}
