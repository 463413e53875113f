//! Recorded instruments: the transcript of a run answers in place of its bench.
//!
//! [`scripts`] sorts a transcript by link. [`serve`] puts each link on a port of this machine: to the same requests
//! in the same order it gives the same answers, each after the time that the instrument took. A request that is not
//! the recorded one is a [`Difference`], with both sides. [`readings`] and [`Ending`] compare what came out.
//!
//! This room knows messages and their order. It does not know what they mean, and it drives nothing.

mod compare;
mod cursor;
mod difference;
mod script;
mod server;
mod shown;
mod token;

pub use compare::{Differing, Ending, readings};
pub use difference::{Difference, ReplayError};
pub use script::{Exchange, Reply, Script, Sent, scripts};
pub use server::{Served, serve};
pub use shown::Shown;
