//! Sums and comparisons written out with their numbers, for the page and for the sheet.

pub(crate) mod decision;
pub(crate) mod sum;
