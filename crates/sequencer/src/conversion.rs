//! From the judge's types to those of the record.

use spurline_judge::{Budget, COVERAGE_PROBABILITY, CoverageMethod, DecisionRule, Distribution, HertzBudget};
use spurline_plan::Plan;
use spurline_record::{BudgetLine, Decision, Reason, ReasonCode, Unit};
use spurline_units::Db;

pub(crate) fn budget(budget: &Budget) -> spurline_record::Budget {
    in_unit(budget, Unit::Db)
}

/// That of a figure in hertz.
pub(crate) fn hertz_budget(budget: &HertzBudget) -> spurline_record::Budget {
    in_unit(budget.figures(), Unit::Hz)
}

fn in_unit(budget: &Budget, unit: Unit) -> spurline_record::Budget {
    let lines = budget
        .lines
        .iter()
        .map(|line| BudgetLine {
            name: line.name.clone(),
            value: line.value.get(),
            distribution: words(line.distribution),
            standard: line.standard().get(),
            source: line.source.clone(),
            freedom: line.freedom,
        })
        .collect();
    let coverage = budget.coverage(COVERAGE_PROBABILITY);
    let method = match coverage.method {
        CoverageMethod::Normal => spurline_record::CoverageMethod::Normal,
        CoverageMethod::Student => spurline_record::CoverageMethod::Student,
        CoverageMethod::Convolution => spurline_record::CoverageMethod::Convolution,
    };
    spurline_record::Budget {
        unit,
        lines,
        combined: budget.combined().get(),
        coverage_factor: coverage.factor,
        expanded: coverage.expanded.get(),
        method,
        effective_freedom: coverage.effective_freedom,
    }
}

/// Why nothing is decided with an uncertainty that the plan does not admit.
pub(crate) fn too_uncertain(plan: &Plan, expanded: Db) -> Reason {
    let most = plan.largest_uncertainty.map_or_else(String::new, |most| format!(" the {most}"));
    let text = format!("U = {expanded:.2} is above{most} with which the level alone decides");
    Reason::new(ReasonCode::TooUncertain, text)
}

pub(crate) fn rule(plan: &Plan) -> DecisionRule {
    match plan.decision {
        Decision::GuardBand => DecisionRule::GuardBand { factor: plan.guard_factor },
        Decision::Simple => DecisionRule::Simple { ceiling: plan.largest_uncertainty },
    }
}

fn words(distribution: Distribution) -> String {
    match distribution {
        Distribution::Normal { k } => format!("normal, k = {k}"),
        Distribution::Rectangular => "rectangular".to_owned(),
        Distribution::UShaped => "U-shaped".to_owned(),
        Distribution::Mismatch { .. } => "U-shaped, of an echo".to_owned(),
        Distribution::Triangular => "triangular".to_owned(),
        Distribution::Standard => "standard uncertainty".to_owned(),
    }
}
