//! An uncertainty budget as a table that can be redone with a pencil.

use spurline_record::{Budget, BudgetLine};

use crate::figures;

/// The contributions and what they come to.
pub(crate) struct BudgetTable<'a> {
    pub(crate) budget: &'a Budget,
    pub(crate) lines: Vec<Line<'a>>,
    pub(crate) squares: f64,
    pub(crate) factor: String,
    /// How the factor was found; nothing for two.
    pub(crate) found: String,
}

/// One contribution.
pub(crate) struct Line<'a> {
    pub(crate) line: &'a BudgetLine,
    /// Stated value over standard uncertainty.
    pub(crate) divisor: String,
    /// The part of its square in the sum of squares.
    pub(crate) share: String,
}

impl<'a> BudgetTable<'a> {
    pub(crate) fn of(budget: &'a Budget) -> Self {
        let squares = budget.lines.iter().map(|line| line.standard.get().powi(2)).sum();
        let lines = budget
            .lines
            .iter()
            .map(|line| Line { line, divisor: divisor(line), share: share(line, squares) })
            .collect();
        let (factor, found) = (figures::factor(budget.coverage_factor), budget.factor_words());
        Self { budget, lines, squares, factor, found }
    }
}

fn divisor(line: &BudgetLine) -> String {
    if line.standard.get() == 0.0 {
        return "–".to_owned();
    }
    format!("{:.3}", (line.value.get() / line.standard.get()).abs())
}

fn share(line: &BudgetLine, squares: f64) -> String {
    if squares == 0.0 {
        return "–".to_owned();
    }
    format!("{:.1} %", 100.0 * line.standard.get().powi(2) / squares)
}
