//! How levels near the limit are decided, as a plan says it.

use spurline_document::{Node, Reader, Value};
use spurline_record::Decision;
use spurline_units::Db;

use super::above_zero;

/// A decision rule with its figures.
#[derive(Clone, Copy)]
pub(super) struct Decided {
    pub(super) rule: Decision,
    pub(super) guard_factor: f64,
    pub(super) largest_uncertainty: Option<Db>,
}

/// What holds where the plan says nothing: a guard band as wide as U.
pub(super) const DEFAULT: Decided =
    Decided { rule: Decision::GuardBand, guard_factor: 1.0, largest_uncertainty: None };
const SIMPLE: Decided = Decided { rule: Decision::Simple, ..DEFAULT };

/// Guard bands of more than that decide nothing any more.
const WIDEST: f64 = 3.0;

/// A word, or a map with the factor of a guard band or the ceiling of simple acceptance.
pub(super) fn read(reader: &mut Reader, node: &Node) -> Option<Decided> {
    if matches!(node.value, Value::Scalar(_)) {
        return reader.choice(node, "a decision rule", &[("guard-band", DEFAULT), ("simple", SIMPLE)]);
    }
    let mut fields = reader.fields(node, "a decision rule")?;
    let found = fields.one_of(reader, &["guard_band", "simple"]);
    fields.close(reader);
    let (key, node) = found?;
    if key == "simple" {
        let most = above_zero(reader, node, "an uncertainty", Db::new(0.0))?;
        return Some(Decided { largest_uncertainty: Some(most), ..SIMPLE });
    }
    let factor = reader.number(node, "the width of the guard band over U")?;
    if !(factor > 0.0 && factor <= WIDEST) {
        reader
            .mistake(node.span, format!("expected a factor above 0 and at most {WIDEST}, found {factor}"))
            .hint("1 keeps the whole of U clear of the limit, 0.83 leaves a risk of 5 %");
        return None;
    }
    Some(Decided { guard_factor: factor, ..DEFAULT })
}
