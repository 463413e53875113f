//! The modulation: the level of a tone is searched for before anything else, and what the carrier carries is measured.
//!
//! The tone comes from an audio generator of the bench, or from a person who is asked to set it.

mod lines;
mod operator;
mod reading;
mod search;
mod set_up;
mod source;

pub(crate) use lines::seen;
pub use operator::{Operator, Prompted, ToneWanted};
pub(crate) use reading::judge_look;
pub(crate) use set_up::{Kept, Prepared, SET_UP};
pub(crate) use source::tone_off;
