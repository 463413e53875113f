//! What a rule and a table of bands say of themselves.

use crate::finding::Status;

/// Which regulation a file is, and how far it was checked.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Head {
    /// The name, which is also that of the file.
    pub(crate) name: String,
    /// What it is, in words.
    pub(crate) title: String,
    /// The regulation, for example `47 CFR 97.307`.
    pub(crate) source: String,
    /// The edition that was read.
    pub(crate) edition: String,
    /// How far the text was checked.
    pub(crate) status: Status,
}

impl Head {
    /// The regulation and the edition that was read, as a record keeps them.
    pub(crate) fn source_text(&self) -> String {
        format!("{}, {}", self.source, self.edition)
    }

    /// How a derivation by it begins.
    pub(crate) fn opening(&self, kind: &str) -> String {
        format!("{kind} {}: {}, {}", self.name, self.source_text(), self.status)
    }
}
