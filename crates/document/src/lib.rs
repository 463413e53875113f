//! YAML text to a tree that knows its places, and readers that collect every mistake.
//!
//! [`Document::parse`] gives a tree of [`Node`]s, each with the place it came from. A [`Reader`] turns nodes into
//! typed values and notes every mistake on the way instead of stopping at the first, so that a person mends a
//! file in one go. [`Mistakes`] prints them with file, line, column, the line itself and advice.
//!
//! This room knows YAML and places in text. It does not know what a plan or a rule is, and reads no files.

mod fields;
mod mistake;
mod node;
mod parse;
mod quote;
mod reader;
mod syntax;

pub use fields::Fields;
pub use mistake::{Mistake, Mistakes, Style};
pub use node::{Document, Entry, Node, Source, Span, Value};
pub use quote::quoted;
pub use reader::{Reader, nearest};
