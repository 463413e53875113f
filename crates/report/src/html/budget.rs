//! An uncertainty budget as a table that can be redone with a pencil.

use spurline_record::{Budget, BudgetLine};

use crate::figures;

/// The contributions and what they come to.
pub(crate) struct BudgetTable<'a> {
    pub(crate) budget: &'a Budget,
    pub(crate) lines: Vec<Line<'a>>,
    pub(crate) squares: f64,
    pub(crate) combined: String,
    pub(crate) expanded: String,
    pub(crate) factor: String,
    /// How the factor was found; nothing for two.
    pub(crate) found: String,
}

/// One contribution.
pub(crate) struct Line<'a> {
    pub(crate) line: &'a BudgetLine,
    pub(crate) stated: String,
    pub(crate) standard: String,
    /// Stated value over standard uncertainty.
    pub(crate) divisor: String,
    /// The part of its square in the sum of squares.
    pub(crate) share: String,
}

impl<'a> BudgetTable<'a> {
    pub(crate) fn of(budget: &'a Budget) -> Self {
        let squares = budget.lines.iter().map(|line| line.standard.powi(2)).sum();
        let lines = budget
            .lines
            .iter()
            .map(|line| Line {
                line,
                stated: budget.unit.show(line.value, 3),
                standard: budget.unit.show(line.standard, 3),
                divisor: divisor(line),
                share: share(line, squares),
            })
            .collect();
        let (factor, found) = (figures::factor(budget.coverage_factor), budget.factor_words());
        let [combined, expanded] =
            [budget.combined, budget.expanded].map(|figure| budget.unit.show(figure, 3));
        Self { budget, lines, squares, combined, expanded, factor, found }
    }
}

fn divisor(line: &BudgetLine) -> String {
    if line.standard == 0.0 {
        return "–".to_owned();
    }
    format!("{:.3}", (line.value / line.standard).abs())
}

fn share(line: &BudgetLine, squares: f64) -> String {
    if squares == 0.0 {
        return "–".to_owned();
    }
    format!("{:.1} %", 100.0 * line.standard.powi(2) / squares)
}
