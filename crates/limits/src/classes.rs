//! The values of something missing that make a difference: one of each set that passes the same tests.

use spurline_units::{Hertz, Watts};

use crate::condition::{Relation, Test, Truth};
use crate::value::Value;
use crate::world::World;

/// One value of what is missing under `name` for each way the tests can come out; `words` are all that a word fact may
/// be.
pub(crate) fn classes(world: &World<'_>, name: &str, tests: &[&Test], words: &[String]) -> Vec<Value> {
    let mut seen: Vec<Vec<Truth>> = Vec::new();
    let mut kept = Vec::new();
    let bounds = tests.iter().flat_map(|test| {
        around(&test.relation).into_iter().filter_map(|bound| world.given(name, &test.subject, &bound))
    });
    for value in bounds.chain(words.iter().cloned().map(Value::Word)) {
        let supposed = world.suppose(name, value.clone());
        let outcome: Vec<_> = tests.iter().map(|test| test.truth(&supposed)).collect();
        if !seen.contains(&outcome) {
            seen.push(outcome);
            kept.push(value);
        }
    }
    kept
}

/// The boundary of a test and a value on either side of it.
fn around(relation: &Relation) -> Vec<Value> {
    // A step that no two boundaries of a real rule lie within, yet far above rounding.
    const STEP: f64 = 1e-6;
    let Relation::Order(_, bound) = relation else { return Vec::new() };
    let sides = [1.0 - STEP, 1.0, 1.0 + STEP];
    match bound {
        Value::Date { first, .. } => {
            let days = [first.yesterday(), Ok(*first), first.tomorrow()];
            days.into_iter().flatten().map(Value::day).collect()
        }
        Value::Power(power) => sides.map(|side| Value::Power(Watts::new(power.get() * side))).into(),
        Value::Frequency(frequency) => {
            sides.map(|side| Value::Frequency(Hertz::new(frequency.get() * side))).into()
        }
        Value::Share(share) => sides.map(|side| Value::Share(share * side)).into(),
        Value::Multiple(multiple) => sides.map(|side| Value::Multiple(multiple * side)).into(),
        Value::Word(_) => Vec::new(),
    }
}
