//! Who vouches for a run: Ed25519 signatures (RFC 8032) over the head of its chain.
//!
//! What is signed are the fields (see [`crate::chain`]) `spurline signature 1`, the run's name, the head as bytes, the
//! time and the software, as bytes one after the other, not their hash. A signature vouches for the run up to the link
//! that it names: what was recorded later is not in it.

mod key;

use std::fmt;

use ed25519_dalek::{Signature, VerifyingKey};
use jiff::Timestamp;
use rusqlite::{Connection, params};
use serde::{Serialize, Serializer};
use spurline_record::{RunId, RunState};

use crate::chain::{self, Hash};
use crate::column::stamp;
use crate::error::StoreError;
use crate::open::Store;
use crate::verify::{BreakKind, Chain, Found, Place, Standing};

pub use key::{KeyError, PublicKey, SecretKey};

/// A signature of a run.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Signed {
    /// Whose it is.
    pub public_key: PublicKey,
    /// The link that was the last one when it was made.
    pub head: Hash,
    /// The number of that link in the chain; `None` if it is not there.
    pub link: Option<u64>,
    /// When, as the signer's clock said.
    pub at: String,
    /// With which program and version.
    pub software: String,
    /// Whether it is that key's signature of this run.
    pub genuine: bool,
}

fn message(run: &RunId, head: Hash, at: &str, software: &str) -> Vec<u8> {
    let mut message = Vec::new();
    for (kind, field) in [
        (b'T', "spurline signature 1".as_bytes()),
        (b'T', run.as_str().as_bytes()),
        (b'B', &head.0),
        (b'T', at.as_bytes()),
        (b'T', software.as_bytes()),
    ] {
        chain::put_sized(&mut message, kind, field);
    }
    message
}

impl Store {
    /// Signs a run that has ended, as it is; doing it again with the same key changes nothing.
    ///
    /// # Errors
    ///
    /// If the run goes on, has no chain or a broken one, or the signature cannot be kept.
    pub fn sign(
        &self,
        run: &RunId,
        key: &SecretKey,
        at: Timestamp,
        software: &str,
    ) -> Result<Signed, StoreError> {
        let found = self.verify(run)?;
        found.refuse_broken()?;
        let head = match (found.standing, found.head) {
            (Standing::Whole, Some(head)) if found.state != RunState::Running => head,
            (Standing::Whole, _) => return Err(StoreError::StillRunning { run: run.clone() }),
            (Standing::Unchained | Standing::Broken, _) => {
                return Err(StoreError::Unchained { run: run.clone() });
            }
        };
        let (public_key, at) = (key.public(), stamp(at));
        if let Some(there) =
            found.signatures.into_iter().find(|it| it.public_key == public_key && it.head == head)
        {
            return Ok(there);
        }
        let signature = key.sign(&message(run, head, &at, software));
        self.connection.turn()
            .execute(
                "INSERT INTO signature (run, public_key, head, at, software, signature) VALUES (?1, ?2, ?3, ?4, ?5, ?6)",
                params![run.as_str(), public_key.0, head, at, software, signature],
            )
            .map_err(|source| StoreError::Write {
                what: "the signature".to_owned(),
                run: run.clone(),
                file: self.file.clone(),
                source,
            })?;
        Ok(Signed {
            public_key,
            head,
            link: Some(found.links),
            at,
            software: software.to_owned(),
            genuine: true,
        })
    }
}

/// The signatures of a run, each tried with the key that is beside it.
pub(crate) fn of(
    from: &Connection,
    run: &RunId,
    chain: &Chain,
    into: &mut Found,
) -> rusqlite::Result<Vec<Signed>> {
    let mut statement = from.prepare_cached(
        "SELECT public_key, head, at, software, signature FROM signature WHERE run = ?1 ORDER BY at, public_key",
    )?;
    let mut rows = statement.query([run.as_str()])?;
    let mut all = Vec::new();
    while let Some(row) = rows.next()? {
        let (key, head): ([u8; 32], Hash) = (row.get(0)?, row.get(1)?);
        let (at, software): (String, String) = (row.get(2)?, row.get(3)?);
        let signature = Signature::from_bytes(&row.get(4)?);
        let message = message(run, head, &at, &software);
        let genuine =
            VerifyingKey::from_bytes(&key).is_ok_and(|key| key.verify_strict(&message, &signature).is_ok());
        let link = chain.number_of(head).map(i64::unsigned_abs);
        let public_key = PublicKey(key);
        if !genuine {
            let what = format!("the signature by {public_key} is not of this run with this key");
            into.add(None, Place::Signature, BreakKind::Altered, what);
        } else if link.is_none() {
            let what = format!("what {public_key} signed is not in the chain any more");
            into.add(None, Place::Signature, BreakKind::Missing, what);
        }
        all.push(Signed { public_key, head, link, at, software, genuine });
    }
    Ok(all)
}

impl fmt::Display for PublicKey {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.iter().try_for_each(|byte| write!(f, "{byte:02x}"))
    }
}

impl Serialize for PublicKey {
    fn serialize<S: Serializer>(&self, into: S) -> Result<S::Ok, S::Error> {
        into.collect_str(self)
    }
}

#[cfg(test)]
mod tests;
