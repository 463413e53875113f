//! Drawings as SVG inside the page: what is drawn here is text and lines of style classes, coloured by the page.

mod course;
mod foot;
mod form;
mod levels;
mod measure;
pub(crate) mod rows;
mod scale;
mod spectrum;
mod svg;
mod trace;

pub(crate) use course::course;
pub(crate) use levels::levels;
pub(crate) use measure::{NO_BREAK, width as width_of, wrapped};
pub(crate) use rows::Rows;
pub(crate) use scale::Scale;
pub(crate) use spectrum::spectrum;
pub(crate) use svg::{Anchor, Drawing, Point, Shape, What};
pub(crate) use trace::{Heights, trace};

/// For which width of page. The narrow one has units of a pixel on the narrowest phones.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Width {
    Wide,
    Narrow,
}
