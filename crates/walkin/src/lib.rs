//! A test day: people bring radios, one operator measures one after the other, and each gets a verdict and a slip.
//!
//! [`Day`] is what the file of a day says. [`Machine`] is the day as it goes on, without input or output: lines that
//! somebody typed and results go in, what is to be done comes out. [`Desk`] does it: it keeps the log, has the carrier
//! found and a run made, and tells a [`Front`] what to show. It knows neither terminals nor pages.

mod command;
mod day;
mod desk;
mod ledger;
mod machine;
mod measured;
mod noting;
mod now;
mod plan;
mod read;
mod reference;
mod slip;
#[cfg(test)]
mod specimen;
mod summary;
mod warmth;
mod wording;

pub use command::{Typed, TypedError, label};
pub use day::{Day, ReferenceRadio, SlipWidth};
pub use desk::{Desk, DeskError, Front, Show, kept_day};
pub use ledger::{Ledger, Visit};
pub use machine::{Effect, Machine};
pub use now::{Wall, local};
pub use read::{DAYS_BANDS, asked_for, load_day};
pub use slip::{label_slip, slip};
pub use summary::{Audience, counted, row, summary_csv, summary_json, summary_text};
pub use wording::{typeset, verdict};
