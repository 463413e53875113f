//! Record in, bytes out: a run as a page for people, and as documents for programs, spreadsheets and pipelines.
//!
//! This room opens nothing and judges no reading: it shows what a [`RunView`] holds, and what differs between two
//! ([`Comparison`]).

mod arithmetic;
mod batch;
mod cautions;
mod compare;
mod course;
mod csv;
mod drawing;
mod figures;
mod format;
mod html;
mod interlocks;
mod issue;
mod json;
mod junit;
mod key;
mod limit;
mod limit_plot;
mod lockdown;
mod markdown;
mod page;
mod paragraph;
mod pdf;
mod scope;
mod setup;
mod sheet;
mod text;
mod timeline;
mod view;
mod when;

pub use batch::{Batch, BatchRun, Concern, Dot, Row as BatchRow, batch_csv, batch_html};
pub use cautions::{CAUTIONS, LOCAL_RULES};
pub use compare::{
    Basis, Change, Comparison, NotComparable, Said, Side, Single, Terms, Verdict, comparison_html,
    comparison_json, needs_sweeps,
};
pub use course::course;
pub use csv::csv;
pub use figures::{class as outcome_class, sign as outcome_sign};
pub use format::Format;
pub use html::{html, write_html};
pub use json::{json, reading_json};
pub use junit::junit;
pub use key::keyed;
pub use limit_plot::{Axis, Curve, limit_plot};
pub use lockdown::{Lockdown, LockdownRow};
pub use markdown::{batch_markdown, markdown};
pub use paragraph::{WIDTH, counted, paragraph};
pub use pdf::{Label, Paper, batch_pdf, label_pdf, pdf};
pub use sheet::sheet;
pub use text::inert;
pub use timeline::notes;
pub use view::{Particulars, ReportError, RunView};
pub use when::{shown as offset_shown, when};
