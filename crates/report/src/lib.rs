//! Record in, bytes out: a run as a page for people and as a document for programs.
//!
//! This room opens nothing and judges nothing: it shows what a [`RunView`] holds.

mod figures;
mod group;
mod html;
mod json;
mod plot;
mod scale;
mod svg;
mod timeline;
mod trace;
mod view;

pub use html::html;
pub use json::json;
pub use view::{ReportError, RunView};
