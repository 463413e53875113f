//! From the judge's types to those of the record.

use spurline_judge::{
    Budget, COVERAGE_PROBABILITY, Contribution, CoverageMethod, DecisionRule, Distribution, HertzBudget,
    Spread,
};
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

/// A line of a recorded budget as the judge takes it; `None` if its words are not those of this program.
pub(crate) fn contribution(line: &BudgetLine) -> Option<Contribution> {
    let distribution = match line.distribution.as_str() {
        "rectangular" => Distribution::Rectangular,
        "U-shaped" => Distribution::UShaped,
        "U-shaped, of an echo" => {
            Contribution::mismatch(line.name.as_str(), Db::new(line.value), "").distribution
        }
        "triangular" => Distribution::Triangular,
        "standard uncertainty" => Distribution::Standard,
        words => {
            let k = words.strip_prefix("normal, k = ")?.parse().ok();
            Distribution::Normal { k: k.filter(|k: &f64| *k > 0.0 && k.is_finite())? }
        }
    };
    let (name, source) = (line.name.clone(), line.source.clone());
    let read = Contribution { name, value: Db::new(line.value), distribution, source, freedom: line.freedom };
    let same = (read.standard().get() - line.standard).abs() <= SAME_STANDARD * line.standard.abs();
    same.then_some(read)
}

/// Two sums of the same figures differ by less than this share.
const SAME_STANDARD: f64 = 1e-9;

/// How the true level is spread by a recorded budget: by all its lines where they can be read back, else as a normal
/// distribution.
pub(crate) fn spread(budget: &spurline_record::Budget) -> Spread {
    let lines: Option<Vec<Contribution>> = budget.lines.iter().map(contribution).collect();
    lines.map_or_else(|| Spread::normal(Db::new(budget.expanded)), |lines| Spread::of(&Budget { lines }))
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
