//! The quantities from outside: what they say, what they compute, and what holds for all of them.

#![expect(clippy::unwrap_used, reason = "a test fails loudly")]

mod algebra;
mod messages;
mod published;
mod ranges;
mod texts;
