//! From the judge's types to those of the record.

use spurline_judge::{Budget, COVERAGE, DecisionRule, Distribution};
use spurline_record::{BudgetLine, Decision};

pub(crate) fn budget(budget: &Budget) -> spurline_record::Budget {
    let lines = budget
        .lines
        .iter()
        .map(|line| BudgetLine {
            name: line.name.clone(),
            value: line.value,
            distribution: words(line.distribution),
            standard: line.standard(),
            source: line.source.clone(),
        })
        .collect();
    spurline_record::Budget {
        lines,
        combined: budget.combined(),
        coverage_factor: COVERAGE,
        expanded: budget.expanded(COVERAGE),
    }
}

pub(crate) fn rule(decision: Decision) -> DecisionRule {
    match decision {
        Decision::GuardBand => DecisionRule::GuardBand,
        Decision::Simple => DecisionRule::Simple,
    }
}

fn words(distribution: Distribution) -> String {
    match distribution {
        Distribution::Normal { k } => format!("normal, k = {k}"),
        Distribution::Rectangular => "rectangular".to_owned(),
        Distribution::UShaped => "U-shaped".to_owned(),
        Distribution::Triangular => "triangular".to_owned(),
        Distribution::Standard => "standard uncertainty".to_owned(),
    }
}
