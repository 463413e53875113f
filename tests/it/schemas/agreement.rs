//! Reader and schema accept every shipped file, and know the same keys at every place of it.

use std::collections::BTreeSet;

use serde_json::Value as Json;

use super::document::{maps, shown};
use super::sample::{Kind, Told, shipped};
use super::schema::{is_closed, known_keys};

/// A key that is like no other, so that a reader lists all that it knows.
const STRANGE: &str = "zzzzzz";

#[test]
fn every_shipped_file_is_accepted_by_both() {
    for sample in shipped() {
        sample.read().unwrap_or_else(|told| panic!("{}: {told:#?}", sample.name));
        sample.kind.schema().check(&sample.json()).unwrap_or_else(|wrong| panic!("{}: {wrong}", sample.name));
    }
}

/// Where alternatives have keys of their own, those count that the file's own alternative has: of a profile those
/// of its `kind`, of a part those of its loss. The keys of which just one is due (`attenuator`, `touchstone`,
/// `loss`) all count as known, for the reader names them too.
#[test]
fn both_know_the_same_keys_at_every_place() {
    let mut compared = BTreeSet::new();
    let mut open = 0;
    let schemas = Kind::ALL.map(Kind::schema);
    for sample in shipped() {
        let (schema, document) = (&schemas[sample.kind as usize], sample.json());
        for way in maps(&sample.tree().root) {
            let place = format!("{} at {}", sample.name, shown(&way));
            let parts = schema.at(&document, &way);
            let closed: Vec<_> = parts.iter().filter(|part| is_closed(part)).collect();
            let (strange, json) = sample.with_key(&way, STRANGE, &Json::from("1"));
            let Some(listed) = listed(&strange.read().unwrap_err()) else {
                assert!(
                    closed.is_empty(),
                    "{place}: the reader takes keys of one's own, the schema does not"
                );
                open += 1;
                continue;
            };
            let known: BTreeSet<String> = known_keys(&parts).into_keys().map(str::to_owned).collect();
            assert_eq!(listed, known, "{place}: the reader's keys on the left, the schema's on the right");
            assert!(!closed.is_empty() && schema.check(&json).is_err(), "{place}: the schema takes any key");
            compared.extend(closed.into_iter().map(|part| std::ptr::from_ref(*part)));
        }
    }
    assert!(open > 20, "only {open} maps with keys of one's own");
    for kind in Kind::ALL {
        for part in kind.schema().every().into_iter().filter(|part| is_closed(part)) {
            assert!(
                compared.contains(&std::ptr::from_ref(part)),
                "no file shows what the reader of a {} knows here: {}",
                kind.word(),
                part["description"]
            );
        }
    }
}

/// The keys that the reader says it knows at the place of the strange one, if they are not one's own there.
fn listed(told: &Told) -> Option<BTreeSet<String>> {
    let advice = |(message, advice): &(String, Option<String>)| {
        let start = if message.starts_with(&format!("`{STRANGE}` is not a key of ")) {
            "keys known here: "
        } else if message.ends_with(&format!(" is not compared by `{STRANGE}`")) {
            "known here: "
        } else {
            return None;
        };
        let advice = advice.as_ref().unwrap();
        Some(advice.strip_prefix(start).unwrap_or_else(|| panic!("{message}: {advice}")).to_owned())
    };
    let list = told.iter().find_map(advice)?;
    Some(list.split(", ").map(str::to_owned).collect())
}
