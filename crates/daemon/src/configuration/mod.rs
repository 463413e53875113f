//! What a service is made of, read from one YAML file: where it listens, its benches, plans and schedules.

mod read;

use std::net::SocketAddr;
use std::path::PathBuf;

use crate::schedule::Schedule;
pub use read::read;

/// Where a service listens unless its file says otherwise.
pub const LISTEN: SocketAddr = SocketAddr::new(std::net::IpAddr::V4(std::net::Ipv4Addr::LOCALHOST), 8625);

/// A service.
#[derive(Clone, Debug)]
pub struct Configuration {
    /// Its title.
    pub title: String,
    /// Where it listens.
    pub listen: SocketAddr,
    /// Other names than those of this machine under which it is reached.
    pub names: Vec<String>,
    /// The file that holds the token; one in the folder of the record unless stated.
    pub token_file: Option<PathBuf>,
    /// The certificate and its key, in PEM.
    pub tls: Option<Tls>,
    /// Folder of the record; what the command line says, unless stated.
    pub data: Option<PathBuf>,
    /// Folder of the plans that may be asked for.
    pub plans: PathBuf,
    /// The benches, each with a name of its own.
    pub benches: Vec<BenchAt>,
    /// What is measured at which times.
    pub schedules: Vec<Schedule>,
    /// What is measured when something is announced.
    pub announced: Vec<OnAnnouncement>,
}

/// A certificate and its key.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Tls {
    /// The certificate with those that it rests on.
    pub certificate: PathBuf,
    /// Its private key.
    pub key: PathBuf,
}

/// A bench of the service.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BenchAt {
    /// Its name, in letters, digits, `-` and `_`.
    pub name: String,
    /// Its file.
    pub file: PathBuf,
    /// The file of the test day that it holds, if it holds one instead of working off a queue.
    pub day: Option<PathBuf>,
}

/// What is measured when somebody announces a firmware or a unit.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct OnAnnouncement {
    /// What is waited for.
    pub of: Announced,
    /// On which bench.
    pub bench: String,
    /// By which plan.
    pub plan: String,
}

/// What can be announced.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Announced {
    /// A firmware is on the unit.
    Firmware,
    /// A unit is on the bench.
    Unit,
}
