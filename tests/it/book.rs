//! The book in itself: nothing it points at is missing, its page of keys is what the schemas say, and what it gives as an
//! example is taken by the program.
//!
//! What it says of commands is held against them where they are, in the binary's own tests. What it has people type one
//! after the other is followed by `scripts/tutorial`.

mod keys;
mod links;
mod page;
mod paths;
mod rule;
mod workflow;
