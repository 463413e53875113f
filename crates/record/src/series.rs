//! Figures along a course: against time, or against the voltage of a supply.

use serde::{Deserialize, Serialize};

use crate::quantity::Unit;

/// Several columns of one length; the first is what the others are drawn against.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Series {
    /// The columns.
    pub columns: Vec<Column>,
}

/// One column.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Column {
    /// What it holds.
    pub name: String,
    /// The unit of its figures.
    pub unit: Unit,
    /// The figures; `None` where nothing could be read.
    pub values: Vec<Option<f64>>,
}
