//! One program an instrument, and one a run: while this one uses it, another of its kind is told who does.
//!
//! A lock file a name, held by the system for as long as the process lives, however it ends. Those of instruments lie in
//! a folder of the user, those of a record beside it, wherever and as whomever a program looks at it. An instrument's own
//! lock, where there is one, is not to be relied on.

use std::collections::BTreeMap;
use std::fs::{File, OpenOptions, Permissions, TryLockError};
use std::io::{Read, Seek, Write};
use std::net::ToSocketAddrs;
use std::os::unix::fs::{MetadataExt, PermissionsExt};
use std::path::{Path, PathBuf};

use spurline_record::RunId;
use spurline_transport::Address;

use crate::failure::Failure;
use crate::folder::make_folder;

/// Addresses that are held until this is dropped.
#[derive(Debug, Default)]
pub struct Held {
    _locks: Vec<Lock>,
}

/// A lock file that is held, and goes with the lock.
#[derive(Debug)]
struct Lock {
    file: File,
    path: PathBuf,
}

impl Held {
    /// Holds every address, or none.
    pub fn take<'a>(addresses: impl IntoIterator<Item = &'a Address>) -> Result<Self, Failure> {
        let folder = folder()?;
        let named = |address: &'a Address| names(address).into_iter().map(move |name| (name, address));
        // Two instruments of a bench may share an address, as several relays of one card do.
        let names: BTreeMap<String, &Address> = addresses.into_iter().flat_map(named).collect();
        let files = names.iter().map(|(name, address)| {
            hold(&folder.join(file_name(name)), || format!("the instrument at {address}"))
        });
        Ok(Self { _locks: files.collect::<Result<_, _>>()? })
    }

    /// Holds a run of the record in a folder: nobody else writes it.
    pub fn run(data: &Path, run: &RunId) -> Result<Self, Failure> {
        Self::of_record(data, &format!("run-{run}"), || format!("run {run}"))
    }

    /// Holds the queue beside the record in a folder: no second service works it off.
    ///
    /// # Errors
    ///
    /// [`Failure::InUse`] if another one does.
    pub fn queue(data: &Path) -> Result<Self, Failure> {
        Self::of_record(data, "queue", || format!("the queue in {}", data.display()))
    }

    /// Holds the log of test days beside the record in a folder: two desks would number their visits alike.
    ///
    /// # Errors
    ///
    /// [`Failure::InUse`] if another one is open.
    pub fn days(data: &Path) -> Result<Self, Failure> {
        Self::of_record(data, "days", || format!("the log of test days in {}", data.display()))
    }

    fn of_record(data: &Path, part: &str, what: impl Fn() -> String) -> Result<Self, Failure> {
        make_folder(&data.join(HELD))?;
        Ok(Self { _locks: vec![hold(&place(data, part), what)?] })
    }

    /// Whether somebody writes a run now; if that cannot be found out, it is not said that its process died. Nobody who
    /// wants to write it meanwhile is kept from it.
    pub fn is_run_held(data: &Path, run: &RunId) -> bool {
        let Ok(file) = std::fs::metadata(place(data, &format!("run-{run}"))) else { return false };
        let Ok(locks) = std::fs::read_to_string("/proc/locks") else { return true };
        // By its number alone: some file systems tell another device of a file than of a lock on it.
        let named = format!(":{}", file.ino());
        let is_it =
            |lock: &str| lock.contains("FLOCK") && lock.split_whitespace().any(|word| word.ends_with(&named));
        locks.lines().any(is_it)
    }
}

/// The folder of the locks beside a record.
const HELD: &str = "held";

fn place(data: &Path, part: &str) -> PathBuf {
    data.join(HELD).join(file_name(part))
}

impl Drop for Lock {
    fn drop(&mut self) {
        // While it is still held: whoever opened it before finds that it is there no more, and makes another.
        drop(std::fs::remove_file(&self.path));
        drop(self.file.unlock());
    }
}

fn hold(path: &Path, what: impl Fn() -> String) -> Result<Lock, Failure> {
    let failure = |source| Failure::File { action: "write", path: path.display().to_string(), source };
    let mut file =
        OpenOptions::new().read(true).write(true).create(true).truncate(false).open(path).map_err(failure)?;
    match file.try_lock() {
        Ok(()) => {
            let is_there =
                |there: std::fs::Metadata| file.metadata().is_ok_and(|own| own.ino() == there.ino());
            if !std::fs::metadata(path).is_ok_and(is_there) {
                return hold(path, what);
            }
            file.set_len(0).map_err(failure)?;
            write!(file, "{}", std::process::id()).map_err(failure)?;
            Ok(Lock { file, path: path.to_owned() })
        }
        Err(TryLockError::WouldBlock) => {
            let mut holder = String::new();
            let read = file.rewind().and_then(|()| file.read_to_string(&mut holder));
            let process = read.ok().and_then(|_| holder.trim().parse::<u32>().ok());
            Err(Failure::InUse { what: what(), process })
        }
        Err(TryLockError::Error(error)) => Err(failure(error)),
    }
}

/// Where the port of VXI-11 is asked for, if the address has none (RFC 1833).
const PORT_MAPPER: u16 = 111;

/// The names that an address is held by: those of the hosts that its name stands for, so that another spelling of the
/// same place is the same.
fn names(address: &Address) -> Vec<String> {
    let places = |host: &str, port: u16| {
        let found = (host, port).to_socket_addrs().map(Iterator::collect::<Vec<_>>);
        found.unwrap_or_default().into_iter().map(|place| place.to_string()).collect::<Vec<_>>()
    };
    let mut names = match address {
        Address::Socket { host, port } => places(host, *port),
        Address::Hislip { host, port, .. } => places(host, *port),
        Address::Vxi11 { host, port, device } => {
            let places = places(host, port.unwrap_or(PORT_MAPPER));
            places.into_iter().map(|place| format!("{place} {device}")).collect()
        }
        Address::Serial { device } => {
            std::fs::canonicalize(device).map(|path| vec![path.display().to_string()]).unwrap_or_default()
        }
    };
    if names.is_empty() {
        names.push(address.to_string());
    }
    names
}

/// One folder a user, wherever the program is started from.
fn folder() -> Result<PathBuf, Failure> {
    let user = std::fs::metadata("/proc/self").map_or(0, |process| process.uid());
    let folder = PathBuf::from(format!("/tmp/spurline-{user}"));
    make_folder(&folder)?;
    let path = folder.display().to_string();
    let failure = |source| Failure::File { action: "use the folder", path: path.clone(), source };
    let owner = std::fs::symlink_metadata(&folder).map_err(failure)?;
    if owner.uid() != user || !owner.is_dir() {
        return Err(failure(std::io::Error::from(std::io::ErrorKind::PermissionDenied)));
    }
    std::fs::set_permissions(&folder, Permissions::from_mode(0o700)).map_err(failure)?;
    Ok(folder)
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
    fn another_spelling_of_a_place_is_the_same() {
        let of = |text: &str| names(&text.parse().unwrap());
        assert_eq!(of("TCPIP::127.0.0.1::5025::SOCKET"), ["127.0.0.1:5025"]);
        assert!(of("tcpip0::localhost::5025::socket").contains(&"127.0.0.1:5025".to_owned()));
        assert_ne!(of("TCPIP::127.0.0.1::inst0::INSTR"), of("TCPIP::127.0.0.1::inst1::INSTR"));
    }

    #[test]
    fn whether_a_run_is_held_is_found_out_without_holding_it() {
        let folder = tempfile::tempdir().unwrap();
        let run = RunId::from_record("20260101-000000-0001".to_owned());
        assert!(!Held::is_run_held(folder.path(), &run));
        let held = Held::run(folder.path(), &run).unwrap();
        assert!(Held::is_run_held(folder.path(), &run) && Held::is_run_held(folder.path(), &run));
        assert!(matches!(Held::run(folder.path(), &run), Err(Failure::InUse { .. })));
        drop(held);
        assert!(!Held::is_run_held(folder.path(), &run));
        // What a process that was killed leaves is held by nobody.
        std::fs::write(folder.path().join("held").join(file_name(&format!("run-{run}"))), "1").unwrap();
        assert!(!Held::is_run_held(folder.path(), &run));
        drop(Held::run(folder.path(), &run).unwrap());
        assert_eq!(std::fs::read_dir(folder.path().join("held")).unwrap().count(), 0);
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
