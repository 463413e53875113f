//! Documents as PDF: sheets of our own layout, with the fonts in them, tagged so that they can be read out.
//!
//! It knows no clock: what it says and every byte of it follow from the record.

mod batch;
pub(crate) mod element;
mod flow;
mod font;
mod ink;
mod label;
mod lines;
mod place;
mod run;
mod sheets;
mod table;

pub use batch::batch_pdf;
pub(crate) use flow::{BODY, CODE, SOFT, STRONG};
pub(crate) use font::Fonts;
pub(crate) use ink::Ink;
pub use label::{Label, label_pdf};
pub use run::pdf;
pub(crate) use sheets::{Frame, Sheets};
pub(crate) use table::{Cell, Column, Table};

/// The size of the sheets.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Paper {
    /// ISO 216 A4.
    #[default]
    A4,
    /// North American letter.
    Letter,
}

impl Paper {
    /// Width and height in points of 1/72 inch.
    pub(crate) const fn size(self) -> (f32, f32) {
        match self {
            Self::A4 => (595.28, 841.89),
            Self::Letter => (612.0, 792.0),
        }
    }
}
