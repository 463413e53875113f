//! A test day at a terminal: what is typed, what is shown large, and the sounds.

mod letters;
mod lines;
mod paper;
mod terminal;

pub(crate) use paper::Slips;
pub(crate) use terminal::{Stopped, Terminal, Waited};
