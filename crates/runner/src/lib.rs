//! One run on one bench, from the opening of the record to the report: the same for a person at a terminal and for a
//! service. It knows no screen: whoever started it hears of it, and may stop it.

mod arming;
mod broken;
mod company;
mod drafted;
mod failure;
mod folder;
mod hold;
mod keeper;
mod library;
mod look;
mod measurement;
mod noted;
mod operator;
mod recorded;
mod report;
mod room;
mod simulated;
mod walk_in;

pub use arming::cautions;
pub use broken::Broken;
pub use company::Company;
pub use drafted::Drafted;
pub use failure::{Failure, WHEN_MISTAKEN};
pub use folder::{make_folder, write_whole};
pub use hold::Held;
pub use library::{BANDS, Files, PROFILES, RULES, environment_folder};
pub use look::{load, load_readings, newest_runs};
pub use measurement::{Done, From, Measurement, RecordAt, SOFTWARE, refuse_expired, salt, today};
pub use operator::Simulated;
pub use recorded::Recorded;
pub use report::{offset, particulars, view, view_with, write_report};
pub use room::LEAST as LEAST_ROOM;
pub use simulated::{
    addresses, key, read as read_simulated, serve_anywhere, serve_as_written, warning_of_port,
};
pub use walk_in::{Search, Visitor};
