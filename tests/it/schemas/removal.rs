//! A key that may be left out is the same to both, and so is one that may not.

use super::document::{entries_at, maps, shown};
use super::sample::{Kind, shipped};

/// What a reader says of a name that leads nowhere, or of an order among ranges: a schema looks at one place at a
/// time and cannot know.
const BETWEEN_PLACES: [&str; 17] = [
    "these `facts` have no `rule` beside them",
    "no supply of this plan is called",
    "there is no supply `",
    "no bench: the plan names none",
    "the plan does not say by which path",
    "there is no relay `",
    "there is no branch `",
    "there is no part `",
    // A part may state what its table does not.
    "this part lacks the key `uncertainty`",
    " does not say how `",
    "nothing switches the part `",
    "an exception names the power setting `",
    "is nothing that a condition can look at",
    "is no power that a formula can use",
    "is of the fact `authorised_bandwidth`",
    "expected ranges that rise",
    "expected a segment within its band",
];

#[test]
fn both_demand_the_same_keys() {
    let schemas = Kind::ALL.map(Kind::schema);
    let (mut demanded, mut free) = (0, 0);
    for sample in shipped() {
        let schema = &schemas[sample.kind as usize];
        let mut tree = sample.tree().root;
        for way in maps(&tree.clone()) {
            let keys: Vec<String> =
                entries_at(&mut tree, &way).iter().map(|entry| entry.key.clone()).collect();
            for key in keys {
                let place = format!("{} at {} without `{key}`", sample.name, shown(&way));
                let (without, json) = sample.without_key(&way, &key);
                match (without.read(), schema.check(&json)) {
                    (Ok(()), checked) => {
                        checked.unwrap_or_else(|wrong| panic!("{place}: the schema demands it: {wrong}"));
                        free += 1;
                    }
                    (Err(_), Err(_)) => demanded += 1,
                    (Err(told), Ok(())) => {
                        let known = |told: &str| BETWEEN_PLACES.iter().any(|part| told.contains(part));
                        let beyond = told.iter().all(|(message, _)| known(message));
                        assert!(beyond, "{place}: the schema does not demand it: {told:#?}");
                    }
                }
            }
        }
    }
    assert!(demanded > 300 && free > 100, "{demanded} demanded, {free} free");
}
