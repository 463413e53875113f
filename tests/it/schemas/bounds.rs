//! Bounds of plain numbers and closed lists of words are the same to both.

use std::collections::BTreeSet;

use serde_json::{Value as Json, json};

use super::document::{Step, scalars, shown};
use super::sample::{Kind, Sample, shipped};

#[test]
fn both_know_the_same_bounds() {
    let schemas = Kind::ALL.map(Kind::schema);
    let mut tried = BTreeSet::new();
    for sample in shipped() {
        let (schema, document) = (&schemas[sample.kind as usize], sample.json());
        for way in scalars(&sample.tree().root) {
            // A name may be a number too, but its bounds are about digits and not about worth.
            let parts = schema.at(&document, &way).into_iter().filter(|part| !part["type"].is_array());
            for part in parts {
                let place = format!("{} at {}", sample.name, shown(&way));
                for (keyword, inside, outside) in
                    [("minimum", 0, -1), ("exclusiveMinimum", 1, 0), ("maximum", 0, 1)]
                {
                    let Some(bound) = part.get(keyword) else { continue };
                    let value = |steps: i32| match bound.as_i64() {
                        Some(bound) if part["type"] == "integer" => json!(bound + i64::from(steps)),
                        _ => json!(bound.as_f64().unwrap() + f64::from(steps) / 1000.0),
                    };
                    let told = refusal(&sample, &way, &value(inside));
                    assert_eq!(told, None, "{place}: the reader does not take {}", value(inside));
                    let told = refusal(&sample, &way, &value(outside));
                    assert!(told.is_some(), "{place}: the reader takes {}", value(outside));
                    tried.insert((std::ptr::from_ref(part), keyword));
                }
            }
        }
    }
    assert!(tried.len() > 20, "only {} bounds", tried.len());
}

/// What the reader says about the value itself.
fn refusal(sample: &Sample, way: &[Step], value: &Json) -> Option<String> {
    let told = sample.with_value(way, value).0.read().err()?;
    let about = |message: &str| message.contains("expected ") && message.contains("found");
    told.into_iter().map(|(message, _)| message).find(|message| about(message))
}

/// A word that is like no other, so that a reader lists all that it knows.
const STRANGE: &str = "zzzzzz";

#[test]
fn both_know_the_same_words() {
    let schemas = Kind::ALL.map(Kind::schema);
    let mut tried = BTreeSet::new();
    for sample in shipped() {
        let (schema, document) = (&schemas[sample.kind as usize], sample.json());
        for way in scalars(&sample.tree().root) {
            let parts = schema.at(&document, &way);
            let Some(part) = parts.into_iter().find(|part| part.get("enum").is_some()) else { continue };
            let place = format!("{} at {}", sample.name, shown(&way));
            let told = sample.with_value(&way, &Json::from(STRANGE)).0.read().unwrap_err();
            let found = format!("found `{STRANGE}`");
            let (_, advice) = told.iter().find(|(message, _)| message.ends_with(&found)).unwrap();
            let listed = advice.as_deref().and_then(|advice| advice.strip_prefix("known here: "));
            let listed: BTreeSet<&str> =
                listed.unwrap_or_else(|| panic!("{place}: {told:?}")).split(", ").collect();
            let words = part["enum"].as_array().unwrap().iter().map(|word| word.as_str().unwrap());
            assert_eq!(listed, words.collect(), "{place}");
            tried.insert(std::ptr::from_ref(part));
        }
    }
    for schema in &schemas {
        let properties = schema.every().into_iter().filter_map(|part| part["properties"].as_object());
        // A key without a description only says more about one that is explained elsewhere.
        let stated = properties.flatten().filter(|(_, value)| value.get("description").is_some());
        for (key, value) in stated.filter(|(_, value)| value.get("enum").is_some()) {
            assert!(tried.contains(&std::ptr::from_ref(value)), "no file has the word under `{key}`");
        }
    }
    assert!(tried.len() > 10, "only {} lists of words", tried.len());
}
