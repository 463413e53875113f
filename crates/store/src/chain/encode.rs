//! Fields as bytes, and their hash. The form is told in the module above.

use rusqlite::Row;
use rusqlite::types::ValueRef;
use sha2::{Digest, Sha256};

use super::Hash;

/// Fields that are hashed one after the other.
#[derive(Debug)]
pub(crate) struct Fields(Sha256);

impl Fields {
    /// Begins with what it is the hash of.
    pub(crate) fn new(of: &str) -> Self {
        let mut fields = Self(Sha256::new());
        fields.text(of.as_bytes());
        fields
    }

    /// A whole row: its table and its columns, as SQLite gives them.
    pub(crate) fn row(&mut self, table: &str, row: &Row<'_>) -> rusqlite::Result<()> {
        let columns = row.as_ref().column_count();
        self.0.update(b"R");
        self.text(table.as_bytes());
        self.integer(columns as i64);
        (0..columns).try_for_each(|column| {
            match row.get_ref(column)? {
                ValueRef::Null => self.0.update(b"N"),
                ValueRef::Integer(number) => self.integer(number),
                ValueRef::Real(number) => self.number(b"F", number.to_bits().to_be_bytes()),
                ValueRef::Text(text) => self.text(text),
                ValueRef::Blob(bytes) => self.bytes(bytes),
            }
            Ok(())
        })
    }

    fn integer(&mut self, number: i64) {
        self.number(b"I", number.to_be_bytes());
    }

    /// A text.
    pub(crate) fn text(&mut self, text: &[u8]) {
        self.sized(b"T", text);
    }

    /// Bytes.
    pub(crate) fn bytes(&mut self, bytes: &[u8]) {
        self.sized(b"B", bytes);
    }

    fn number(&mut self, kind: &[u8; 1], bytes: [u8; 8]) {
        self.0.update(kind);
        self.0.update(bytes);
    }

    fn sized(&mut self, kind: &[u8; 1], content: &[u8]) {
        self.number(kind, (content.len() as u64).to_be_bytes());
        self.0.update(content);
    }

    /// The hash of all of them.
    pub(crate) fn hash(self) -> Hash {
        Hash(self.0.finalize().into())
    }
}

/// Writes a text or bytes as a field, for what is signed and not hashed.
pub(crate) fn put_sized(into: &mut Vec<u8>, kind: u8, content: &[u8]) {
    into.push(kind);
    into.extend((content.len() as u64).to_be_bytes());
    into.extend(content);
}

/// The hash of bytes as they are.
pub(crate) fn of_bytes(bytes: &[u8]) -> Hash {
    Hash(Sha256::digest(bytes).into())
}

/// The hash of the levels of a sweep: binary32, little endian.
pub(crate) fn of_levels(levels: &[f32]) -> Hash {
    let mut hash = Sha256::new();
    for level in levels {
        hash.update(level.to_le_bytes());
    }
    Hash(hash.finalize().into())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// FIPS 180-4, as in NIST's example "SHA-256 of abc"; the empty message as in NIST's CAVP short-message vectors.
    #[test]
    fn the_hash_is_sha_256() {
        let abc = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
        assert_eq!(of_bytes(b"abc").to_string(), abc);
        let empty = "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855";
        assert_eq!(of_levels(&[]).to_string(), empty);
    }

    #[test]
    fn no_two_contents_are_the_same_bytes() {
        let hash = |texts: &[&str]| {
            let mut fields = Fields::new("x");
            texts.iter().for_each(|text| fields.text(text.as_bytes()));
            fields.hash()
        };
        assert_ne!(hash(&["ab", "c"]), hash(&["a", "bc"]));
        assert_ne!(hash(&["ab", ""]), hash(&["ab"]));
        let (mut one, mut two) = (Fields::new("x"), Fields::new("x"));
        one.text(b"a");
        two.bytes(b"a");
        assert_ne!(one.hash(), two.hash());
    }
}
