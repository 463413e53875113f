//! One program an instrument: while this one uses it, another of its kind is told who does.
//!
//! A lock file an address, held by the system for as long as the process lives, however it ends. It keeps programs of
//! this kind and this user apart; an instrument's own lock, where there is one, is not to be relied on.

use std::fs::{File, OpenOptions, TryLockError};
use std::io::{Read, Seek, Write};
use std::path::PathBuf;

use spurline_transport::Address;

use crate::data::{environment_folder, make_folder};
use crate::talk::Failure;

/// Addresses that are held until this is dropped.
#[derive(Debug, Default)]
pub(crate) struct Held {
    files: Vec<File>,
}

impl Held {
    /// Holds every address, or none.
    pub(crate) fn take<'a>(addresses: impl IntoIterator<Item = &'a Address>) -> Result<Self, Failure> {
        let folder = folder();
        make_folder(&folder)?;
        let mut names: Vec<String> = addresses.into_iter().map(ToString::to_string).collect();
        // Two instruments of a bench may share an address, as several relays of one card do.
        names.sort();
        names.dedup();
        let files = names.into_iter().map(|name| hold(&folder.join(file_name(&name)), &name));
        Ok(Self { files: files.collect::<Result<_, _>>()? })
    }
}

impl Drop for Held {
    fn drop(&mut self) {
        for file in &self.files {
            // Nobody is named any more; the lock itself goes with the file.
            drop(file.set_len(0));
        }
    }
}

fn hold(path: &PathBuf, address: &str) -> Result<File, Failure> {
    let failure = |source| Failure::File { action: "write", path: path.display().to_string(), source };
    let mut file =
        OpenOptions::new().read(true).write(true).create(true).truncate(false).open(path).map_err(failure)?;
    match file.try_lock() {
        Ok(()) => {
            file.set_len(0).map_err(failure)?;
            write!(file, "{}", std::process::id()).map_err(failure)?;
            Ok(file)
        }
        Err(TryLockError::WouldBlock) => {
            let mut holder = String::new();
            let read = file.rewind().and_then(|()| file.read_to_string(&mut holder));
            let process = read.ok().and_then(|_| holder.trim().parse::<u32>().ok());
            Err(Failure::InUse { address: address.to_owned(), process })
        }
        Err(TryLockError::Error(error)) => Err(failure(error)),
    }
}

fn folder() -> PathBuf {
    let runtime = environment_folder("XDG_RUNTIME_DIR").or_else(|| environment_folder("TMPDIR"));
    let user = environment_folder("USER").unwrap_or_else(|| PathBuf::from("user"));
    let plain = user.file_name().unwrap_or_default().to_string_lossy().into_owned();
    runtime.unwrap_or_else(|| PathBuf::from("/tmp")).join(format!("spurline-{plain}")).join("in-use")
}

/// An address in letters that every file system takes, and still another for another address.
fn file_name(address: &str) -> String {
    let plain = |byte: u8| byte.is_ascii_alphanumeric() || matches!(byte, b'.' | b'-');
    address
        .to_ascii_lowercase()
        .bytes()
        .map(|byte| if plain(byte) { char::from(byte).to_string() } else { format!("_{byte:02x}") })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn other_addresses_have_other_names() {
        let names = ["TCPIP::a::1::SOCKET", "TCPIP::a:::1::SOCKET", "TCPIP::a_3a::1::SOCKET"].map(file_name);
        assert!(names[0] != names[1] && names[0] != names[2] && names[1] != names[2], "{names:?}");
        assert_eq!(file_name("TCPIP::B-1::5025::SOCKET"), "tcpip_3a_3ab-1_3a_3a5025_3a_3asocket");
    }

    #[test]
    fn an_address_is_held_once() {
        let address: Address = format!("TCPIP::held-{}::1::SOCKET", std::process::id()).parse().unwrap();
        let first = Held::take([&address, &address]).unwrap();
        let second = Held::take([&address]).unwrap_err();
        let Failure::InUse { process, .. } = second else { panic!("{second:?}") };
        assert_eq!(process, Some(std::process::id()));
        drop(first);
        assert!(Held::take([&address]).is_ok());
    }
}
