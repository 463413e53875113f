//! The hash of a verdict: SHA-256 over its parts, each with its length before it, so that no two rows of parts are alike.

use sha2::{Digest, Sha256};

/// What all hashes of verdicts begin with.
const FORM: &str = "spurline verdict 1";

/// A hash under way.
pub(super) struct Hash(Sha256);

impl Hash {
    pub(super) fn new() -> Self {
        let mut hash = Self(Sha256::new());
        hash.part(FORM);
        hash
    }

    /// Adds a part: its length in bytes as 8 bytes, big endian, then its bytes.
    pub(super) fn part(&mut self, text: &str) {
        self.0.update((text.len() as u64).to_be_bytes());
        self.0.update(text.as_bytes());
    }

    pub(super) fn finish(self) -> [u8; 32] {
        self.0.finalize().into()
    }
}
