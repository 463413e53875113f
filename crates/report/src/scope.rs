//! The readings by the state of unit and bench that they belong to.

use spurline_record::{Reading, Scope};

/// The readings by scope, in the order in which the scopes first come.
pub(crate) fn by_scope(readings: &[Reading]) -> Vec<(&Scope, Vec<&Reading>)> {
    let mut groups: Vec<(&Scope, Vec<&Reading>)> = Vec::new();
    for reading in readings {
        match groups.iter_mut().find(|(scope, _)| **scope == reading.scope) {
            Some((_, members)) => members.push(reading),
            None => groups.push((&reading.scope, vec![reading])),
        }
    }
    groups
}

/// A scope in words: channel, carrier, power setting, and supply if the plan names supplies.
pub(crate) fn name(scope: &Scope) -> String {
    let supply = scope.supply.as_ref().map(|supply| format!(", supply {supply}")).unwrap_or_default();
    format!("{}, {}, power {}{supply}", scope.channel, scope.carrier, scope.power_setting)
}
