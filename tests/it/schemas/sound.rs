//! The schemas in themselves: valid, self-contained, and every key explained.

use std::collections::BTreeMap;

use serde_json::Value as Json;

use super::sample::Kind;

#[test]
fn they_are_valid_and_need_nothing_else() {
    for kind in Kind::ALL {
        let root = kind.schema().root();
        assert_eq!(root["$schema"], "https://json-schema.org/draft/2020-12/schema");
        assert_eq!(root.get("$id"), None, "a schema here has no address");
        jsonschema::draft202012::meta::validate(root)
            .unwrap_or_else(|error| panic!("{}: {error}", kind.word()));
        for part in kind.schema().every() {
            let reference = part["$ref"].as_str().unwrap_or("#/$defs/");
            assert!(reference.starts_with("#/$defs/"), "{reference} is somewhere else");
        }
        assert!(kind.file().ends_with("}\n"));
    }
}

#[test]
fn every_key_is_explained_in_one_sentence() {
    for kind in Kind::ALL {
        let mut count = 0;
        for part in kind.schema().every() {
            let Some(properties) = part["properties"].as_object() else { continue };
            // The alternatives of a map say more about keys that its own list has explained.
            if part.get("description").is_none() {
                continue;
            }
            for (key, value) in properties {
                let text =
                    value["description"].as_str().unwrap_or_else(|| panic!("`{key}` is not explained"));
                let begins = text.starts_with(|c: char| c.is_ascii_uppercase() || c == '`');
                let sentences = text.matches(". ").count() + 1;
                assert!(begins && text.ends_with('.') && sentences == 1, "`{key}`: {text}");
                count += 1;
            }
            for key in part["required"].as_array().into_iter().flatten() {
                assert!(
                    properties.contains_key(key.as_str().unwrap()),
                    "{key} is required and not explained"
                );
            }
        }
        // A table has few of its own.
        let least = if kind == Kind::Table { 12 } else { 20 };
        assert!(count > least, "only {count} keys in the schema of a {}", kind.word());
    }
}

#[test]
fn every_example_and_default_is_right() {
    for kind in Kind::ALL {
        let schema = kind.schema();
        let mut count = 0;
        for part in schema.every() {
            for value in part["examples"].as_array().into_iter().flatten().chain(part.get("default")) {
                assert!(schema.accepts(part, value), "{value} is not {}", part["description"]);
                count += 1;
            }
        }
        assert!(count > 10, "only {count} examples in the schema of a {}", kind.word());
    }
}

/// Each schema is complete in itself, so what they share is written in each.
#[test]
fn what_they_share_is_the_same_in_all() {
    let mut seen: BTreeMap<&str, &Json> = BTreeMap::new();
    let mut shared = 0;
    for kind in Kind::ALL {
        for (name, definition) in kind.schema().root()["$defs"].as_object().unwrap() {
            let first = *seen.entry(name).or_insert(definition);
            assert_eq!(first, definition, "`{name}` in the schema of a {}", kind.word());
            shared += usize::from(!std::ptr::eq(first, definition));
        }
    }
    assert!(shared > 10, "only {shared} definitions are shared");
}
