//! The quantities from outside: what they say and what they compute.

#![expect(clippy::unwrap_used, reason = "a test fails loudly")]

mod messages;
mod published;
