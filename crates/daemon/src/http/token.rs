//! The token that lets somebody in, and what a browser carries instead once it has shown it.

use std::fs::OpenOptions;
use std::io::{self, Read, Write};
use std::os::unix::fs::{MetadataExt, OpenOptionsExt};
use std::path::Path;

use data_encoding::BASE64URL_NOPAD;
use hmac::{Hmac, KeyInit, Mac};
use jiff::{SignedDuration, Timestamp};
use sha2::Sha256;
use thiserror::Error;

/// How long a browser is let in without showing the token again.
const SESSION: SignedDuration = SignedDuration::from_hours(12);
/// The shortest token that is not guessed.
const SHORTEST: usize = 16;
const LONGEST: u64 = 4096;

/// Why there is no token.
#[derive(Debug, Error)]
pub enum TokenError {
    /// The file cannot be read or made.
    #[error("cannot {action} the token in {file}")]
    File {
        /// What was tried.
        action: &'static str,
        /// The file.
        file: String,
        /// Why.
        #[source]
        source: io::Error,
    },
    /// Others may read it.
    #[error("expected a token in {file} that only its owner reads, found mode {mode:03o}")]
    Shared {
        /// The file.
        file: String,
        /// Its mode.
        mode: u32,
    },
    /// It is too short.
    #[error("expected a token of at least {SHORTEST} characters in {file}, found {found}")]
    Short {
        /// The file.
        file: String,
        /// How many it has.
        found: usize,
    },
}

impl TokenError {
    /// What to do about it.
    #[must_use]
    pub fn advice(&self) -> String {
        match self {
            Self::File { action, .. } => format!("can this user {action} there?"),
            Self::Shared { file, .. } => {
                format!("`chmod 600 {file}`, and take a new token if others may have read it")
            }
            Self::Short { .. } => "remove the file: a good one is made at the next start".to_owned(),
        }
    }
}

/// The token. It is never printed: there is no way to have it shown but [`Secret::reveal`].
pub struct Secret(String);

impl std::fmt::Debug for Secret {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("Secret(..)")
    }
}

impl Secret {
    /// The token in a file; a good one is made where there is none.
    ///
    /// # Errors
    ///
    /// [`TokenError`].
    pub fn in_file(path: &Path) -> Result<Self, TokenError> {
        let file = path.display().to_string();
        let failed = |action| {
            let file = file.clone();
            move |source| TokenError::File { action, file, source }
        };
        let mut text = String::new();
        match std::fs::File::open(path) {
            Ok(opened) => {
                let mode = opened.metadata().map_err(failed("read"))?.mode() & 0o777;
                if mode & 0o077 != 0 {
                    return Err(TokenError::Shared { file, mode });
                }
                opened.take(LONGEST).read_to_string(&mut text).map_err(failed("read"))?;
            }
            Err(error) if error.kind() == io::ErrorKind::NotFound => {
                text = fresh().map_err(failed("make"))?;
                let made = OpenOptions::new().write(true).create_new(true).mode(0o600).open(path);
                let written = made.and_then(|mut made| {
                    writeln!(made, "{text}")?;
                    made.sync_all()
                });
                written.map_err(failed("make"))?;
            }
            Err(error) => return Err(failed("read")(error)),
        }
        let token = text.trim();
        if token.len() < SHORTEST {
            return Err(TokenError::Short { file, found: token.len() });
        }
        Ok(Self(token.to_owned()))
    }

    /// The token itself, for whoever started the service.
    #[must_use]
    pub fn reveal(&self) -> &str {
        &self.0
    }

    /// Whether a text is the token; how long it takes says nothing about where they differ.
    pub(super) fn is(&self, text: &str) -> bool {
        let mut shown = keyed(text);
        shown.update(b"token");
        let mut own = keyed(&self.0);
        own.update(b"token");
        own.verify_slice(&shown.finalize().into_bytes()).is_ok()
    }

    /// What a browser carries from now on.
    pub(super) fn session(&self, now: Timestamp) -> String {
        let until = now.saturating_add(SESSION).map_or(0, Timestamp::as_second).to_be_bytes();
        let mut signed = until.to_vec();
        signed.extend(self.signature(until).finalize().into_bytes());
        BASE64URL_NOPAD.encode(&signed)
    }

    /// Whether a browser carries what it was given, and not for too long.
    pub(super) fn admits(&self, session: &str, now: Timestamp) -> bool {
        let Ok(signed) = BASE64URL_NOPAD.decode(session.as_bytes()) else { return false };
        let Some((until, signature)) = signed.split_first_chunk::<8>() else { return false };
        self.signature(*until).verify_slice(signature).is_ok() && i64::from_be_bytes(*until) > now.as_second()
    }

    fn signature(&self, until: [u8; 8]) -> Hmac<Sha256> {
        let mut mac = keyed(&self.0);
        mac.update(b"session");
        mac.update(&until);
        mac
    }
}

fn keyed(text: &str) -> Hmac<Sha256> {
    Hmac::new_from_slice(text.as_bytes()).expect("a key of any length will do")
}

fn fresh() -> io::Result<String> {
    let mut bytes = [0; 32];
    rustix::rand::getrandom(&mut bytes, rustix::rand::GetRandomFlags::empty())?;
    Ok(BASE64URL_NOPAD.encode(&bytes))
}

#[cfg(test)]
mod tests {
    use std::os::unix::fs::PermissionsExt;

    use super::*;

    #[test]
    fn a_token_is_made_once_and_only_its_owner_reads_it() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("token");
        let made = Secret::in_file(&path).unwrap();
        assert_eq!(made.reveal().len(), 43, "32 bytes in base64");
        assert_eq!(std::fs::metadata(&path).unwrap().mode() & 0o777, 0o600);
        assert_eq!(Secret::in_file(&path).unwrap().reveal(), made.reveal());
        assert_eq!(format!("{made:?}"), "Secret(..)");
        std::fs::set_permissions(&path, std::fs::Permissions::from_mode(0o640)).unwrap();
        assert!(matches!(Secret::in_file(&path), Err(TokenError::Shared { mode: 0o640, .. })));
        std::fs::remove_file(&path).unwrap();
        std::fs::write(&path, "short\n").unwrap();
        std::fs::set_permissions(&path, std::fs::Permissions::from_mode(0o600)).unwrap();
        assert!(matches!(Secret::in_file(&path), Err(TokenError::Short { found: 5, .. })));
        assert!(matches!(
            Secret::in_file(folder.path()),
            Err(TokenError::Shared { .. } | TokenError::File { .. })
        ));
    }

    #[test]
    fn only_the_token_is_the_token() {
        let secret = Secret("a-good-long-token".to_owned());
        assert!(secret.is("a-good-long-token"));
        for other in ["", "a-good-long-toke", "a-good-long-token ", "A-good-long-token"] {
            assert!(!secret.is(other), "{other}");
        }
    }

    #[test]
    fn a_session_ends_and_cannot_be_made_up() {
        let now: Timestamp = "2026-11-26T12:00:00Z".parse().unwrap();
        let (secret, other) =
            (Secret("a-good-long-token".to_owned()), Secret("another-good-token".to_owned()));
        let session = secret.session(now);
        let at = |text: &str| text.parse::<Timestamp>().unwrap();
        assert!(secret.admits(&session, at("2026-11-26T23:59:59Z")));
        assert!(!secret.admits(&session, at("2026-11-27T00:00:00Z")));
        assert!(!other.admits(&session, now));
        let mut bytes = BASE64URL_NOPAD.decode(session.as_bytes()).unwrap();
        for place in 0..bytes.len() {
            bytes[place] ^= 1;
            assert!(!secret.admits(&BASE64URL_NOPAD.encode(&bytes), now), "byte {place}");
            bytes[place] ^= 1;
        }
        for nonsense in ["", "x", "====", "AAAA"] {
            assert!(!secret.admits(nonsense, now));
        }
    }
}
