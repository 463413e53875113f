//! Keys in files: PKCS #8 and SubjectPublicKeyInfo in PEM, as RFC 8410 has them for Ed25519 and other programs read them.

use std::fs::{self, OpenOptions};
use std::io::{self, Read, Write};
use std::os::unix::fs::{OpenOptionsExt, PermissionsExt};
use std::path::{Path, PathBuf};

use ed25519_dalek::pkcs8::spki::der::pem::LineEnding;
use ed25519_dalek::pkcs8::{
    DecodePrivateKey, DecodePublicKey, EncodePrivateKey, EncodePublicKey, KeypairBytes,
};
use ed25519_dalek::{Signer, SigningKey, VerifyingKey};
use rand::TryRng;
use rand::rngs::SysRng;
use thiserror::Error;

/// A key file is a few lines.
const MOST: u64 = 4096;

/// Why a key could not be made or read.
#[derive(Debug, Error)]
pub enum KeyError {
    /// There is a file already.
    #[error("`{}` is there already, and a key is never written over", file.display())]
    There {
        /// The file.
        file: PathBuf,
    },
    /// The file cannot be written or read.
    #[error("could not {action} the key file `{}`", file.display())]
    File {
        /// What was tried.
        action: &'static str,
        /// The file.
        file: PathBuf,
        /// What the system said.
        #[source]
        source: io::Error,
    },
    /// Others may read the secret key.
    #[error("expected `{}` to be for its owner alone (mode 600), found mode {mode:o}", file.display())]
    Open {
        /// The file.
        file: PathBuf,
        /// Its mode.
        mode: u32,
    },
    /// The file holds something else.
    #[error("expected {expected} in PEM in `{}`, found something else", file.display())]
    NotAKey {
        /// What kind of key.
        expected: &'static str,
        /// The file.
        file: PathBuf,
    },
    /// The system gave no random bytes.
    #[error("the system gave no random bytes: {0}")]
    Random(String),
}

impl KeyError {
    /// What to do about it.
    #[must_use]
    pub const fn advice(&self) -> &'static str {
        match self {
            Self::There { .. } => "name another file",
            Self::File { .. } => "look at the file's name, owner and rights",
            Self::Open { .. } => {
                "who has read it can sign in your name: make a new key, or `chmod 600` if nobody has"
            }
            Self::NotAKey { .. } => "`spurline sign --new-key FILE` makes both halves: FILE and FILE.pub",
            Self::Random(_) => "try again",
        }
    }
}

/// The half of a key that signs. It is never shown.
pub struct SecretKey(SigningKey);

impl std::fmt::Debug for SecretKey {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "SecretKey of {}", self.public())
    }
}

/// The half of a key that shows whose a signature is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct PublicKey(pub [u8; 32]);

impl SecretKey {
    /// Makes a key, and writes it to `file` (for its owner alone) and its public half beside it, with `.pub` added to
    /// the name. A file that is there is never written over.
    ///
    /// # Errors
    ///
    /// If one of the two files is there, or cannot be written.
    pub fn make(file: &Path) -> Result<(Self, PathBuf), KeyError> {
        let mut bytes = [0; 32];
        SysRng.try_fill_bytes(&mut bytes).map_err(|error| KeyError::Random(error.to_string()))?;
        let key = Self(SigningKey::from_bytes(&bytes));
        // Without the public half in the same structure: older readers do not know that form.
        let pair = KeypairBytes { secret_key: bytes, public_key: None };
        let secret =
            pair.to_pkcs8_pem(LineEnding::LF).map_err(|error| KeyError::Random(error.to_string()))?;
        let mut public_file = file.as_os_str().to_owned();
        public_file.push(".pub");
        let public_file = PathBuf::from(public_file);
        let public = key.0.verifying_key().to_public_key_pem(LineEnding::LF);
        let public = public.map_err(|error| KeyError::Random(error.to_string()))?;
        if public_file.symlink_metadata().is_ok() {
            return Err(KeyError::There { file: public_file });
        }
        write_new(file, secret.as_bytes(), 0o600)?;
        write_new(&public_file, public.as_bytes(), 0o644)?;
        Ok((key, public_file))
    }

    /// Reads a key from its file.
    ///
    /// # Errors
    ///
    /// If the file cannot be read, may be read by others than its owner, or holds no such key.
    pub fn read(file: &Path) -> Result<Self, KeyError> {
        let (text, mode) = read(file)?;
        if mode & 0o077 != 0 {
            return Err(KeyError::Open { file: file.to_owned(), mode: mode & 0o777 });
        }
        let expected = "a secret Ed25519 key";
        SigningKey::from_pkcs8_pem(&text)
            .map(Self)
            .map_err(|_| KeyError::NotAKey { expected, file: file.to_owned() })
    }

    /// Its public half.
    #[must_use]
    pub fn public(&self) -> PublicKey {
        PublicKey(self.0.verifying_key().to_bytes())
    }

    #[cfg(test)]
    pub(super) fn from_bytes(bytes: &[u8; 32]) -> Self {
        Self(SigningKey::from_bytes(bytes))
    }

    pub(super) fn sign(&self, message: &[u8]) -> [u8; 64] {
        self.0.sign(message).to_bytes()
    }
}

impl PublicKey {
    /// Reads a public key from its file.
    ///
    /// # Errors
    ///
    /// If the file cannot be read or holds no such key.
    pub fn read(file: &Path) -> Result<Self, KeyError> {
        let (text, _) = read(file)?;
        let expected = "a public Ed25519 key";
        VerifyingKey::from_public_key_pem(&text)
            .map(|key| Self(key.to_bytes()))
            .map_err(|_| KeyError::NotAKey { expected, file: file.to_owned() })
    }
}

fn failed(action: &'static str, file: &Path) -> impl FnOnce(io::Error) -> KeyError {
    let file = file.to_owned();
    move |source| match source.kind() {
        io::ErrorKind::AlreadyExists => KeyError::There { file },
        _ => KeyError::File { action, file, source },
    }
}

fn write_new(file: &Path, content: &[u8], mode: u32) -> Result<(), KeyError> {
    let write = || {
        let mut open = OpenOptions::new().write(true).create_new(true).mode(mode).open(file)?;
        open.write_all(content)?;
        open.sync_all()
    };
    write().map_err(failed("write", file))
}

fn read(file: &Path) -> Result<(String, u32), KeyError> {
    let read = || {
        let open = fs::File::open(file)?;
        let mode = open.metadata()?.permissions().mode();
        let mut text = String::new();
        open.take(MOST).read_to_string(&mut text)?;
        Ok((text, mode))
    };
    read().map_err(failed("read", file))
}
