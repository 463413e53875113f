//! The readings by the state of unit and bench that they belong to.

use spurline_record::{Reading, Scope};

/// The readings by scope, in the order in which the scopes first come.
pub(crate) fn by_scope(readings: &[Reading]) -> Vec<(&Scope, Vec<&Reading>)> {
    grouped(readings, |one, other| one == other)
}

/// The same for people, to whom carrier and harmonics belong together whatever path each was read by.
pub(crate) fn by_state(readings: &[Reading]) -> Vec<(&Scope, Vec<&Reading>)> {
    grouped(readings, |one, other| {
        let state = |scope: &Scope| Scope { path: String::new(), ..scope.clone() };
        state(one) == state(other)
    })
}

fn grouped(readings: &[Reading], same: impl Fn(&Scope, &Scope) -> bool) -> Vec<(&Scope, Vec<&Reading>)> {
    let mut groups: Vec<(&Scope, Vec<&Reading>)> = Vec::new();
    for reading in readings {
        match groups.iter_mut().find(|(scope, _)| same(scope, &reading.scope)) {
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
