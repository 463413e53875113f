//! A schema, and which parts of it speak about a place in a document.

use std::cell::RefCell;
use std::collections::{BTreeMap, BTreeSet};

use jsonschema::Validator;
use serde_json::{Value as Json, json};

use super::document::Step;

/// Keywords whose value is one schema, a list of schemas, or a map of them.
const ONE: [&str; 6] = ["if", "then", "else", "items", "additionalProperties", "propertyNames"];
const SEVERAL: [&str; 4] = ["oneOf", "anyOf", "allOf", "prefixItems"];
const NAMED: [&str; 2] = ["properties", "$defs"];

/// One of the schemas.
pub(super) struct Schema {
    root: &'static Json,
    whole: Validator,
    /// Parts as validators of their own, by their address: they are asked again and again.
    parts: RefCell<BTreeMap<*const Json, Validator>>,
}

impl Schema {
    pub(super) fn new(root: &'static Json) -> Self {
        let whole = jsonschema::draft202012::new(root).unwrap();
        Self { root, whole, parts: RefCell::default() }
    }

    pub(super) fn root(&self) -> &'static Json {
        self.root
    }

    /// Whether the document is as the schema wants it; if not, what is wrong.
    pub(super) fn check(&self, document: &Json) -> Result<(), String> {
        let wrong = |error: jsonschema::ValidationError<'_>| format!("{}: {error}", error.instance_path());
        let wrong: Vec<String> = self.whole.iter_errors(document).map(wrong).collect();
        if wrong.is_empty() { Ok(()) } else { Err(wrong.join("\n")) }
    }

    /// Whether a value is as a part of the schema wants it.
    pub(super) fn accepts(&self, part: &'static Json, value: &Json) -> bool {
        let mut parts = self.parts.borrow_mut();
        let made = parts.entry(part).or_insert_with(|| {
            let alone = json!({ "$defs": self.root["$defs"], "allOf": [part] });
            jsonschema::draft202012::new(&alone).unwrap()
        });
        made.is_valid(value)
    }

    pub(super) fn definition(&self, name: &str) -> &'static Json {
        let found = &self.root["$defs"][name];
        assert!(!found.is_null(), "there is no definition `{name}`");
        found
    }

    /// Every part that speaks about the place at the end of the way, of a document that the schema accepts.
    ///
    /// Of alternatives only those count that accept the value there.
    pub(super) fn at(&self, document: &Json, way: &[Step]) -> Vec<&'static Json> {
        let mut here = Vec::new();
        self.expand(self.root, document, &mut here);
        let mut value = document;
        for step in way {
            value = match step {
                Step::Key(key) => &value[key],
                Step::Item(place) => &value[place],
            };
            let mut below = Vec::new();
            for part in here.into_iter().filter_map(|part| down(part, step)) {
                self.expand(part, value, &mut below);
            }
            here = below;
        }
        here
    }

    fn expand(&self, part: &'static Json, value: &Json, into: &mut Vec<&'static Json>) {
        into.push(part);
        if let Some(reference) = part["$ref"].as_str() {
            let name = reference.strip_prefix("#/$defs/").unwrap();
            self.expand(self.definition(name), value, into);
        }
        for each in list(&part["allOf"]) {
            self.expand(each, value, into);
        }
        let alternatives = list(&part["oneOf"]).chain(list(&part["anyOf"]));
        for each in alternatives.filter(|each| self.accepts(each, value)) {
            self.expand(each, value, into);
        }
        if let Some(condition) = part.get("if") {
            let branch = part.get(if self.accepts(condition, value) { "then" } else { "else" });
            branch.into_iter().for_each(|branch| self.expand(branch, value, into));
        }
    }

    /// Every part of the schema, however deep.
    pub(super) fn every(&self) -> Vec<&'static Json> {
        let mut found = vec![self.root];
        let mut next = 0;
        while next < found.len() {
            let part = found[next];
            let one = ONE.iter().filter_map(|keyword| part.get(keyword));
            let several = SEVERAL.iter().flat_map(|keyword| list(&part[*keyword]));
            let named =
                NAMED.iter().filter_map(|keyword| part[*keyword].as_object()).flat_map(|map| map.values());
            found.extend(one.chain(several).chain(named).filter(|part| part.is_object()));
            next += 1;
        }
        found
    }
}

fn list(value: &'static Json) -> impl Iterator<Item = &'static Json> {
    value.as_array().into_iter().flatten()
}

/// What a part says about the value one step further down.
fn down(part: &'static Json, step: &Step) -> Option<&'static Json> {
    match step {
        Step::Key(key) => part["properties"].get(key).or_else(|| part.get("additionalProperties")),
        Step::Item(place) => part["prefixItems"].get(place).or_else(|| part.get("items")),
    }
}

/// The keys that the parts of one place know together. A key that one of them forbids is not known.
pub(super) fn known_keys(parts: &[&'static Json]) -> BTreeMap<&'static str, &'static Json> {
    let stated = || parts.iter().filter_map(|part| part["properties"].as_object()).flatten();
    let forbidden: BTreeSet<&str> =
        stated().filter(|(_, value)| **value == Json::Bool(false)).map(|(key, _)| key.as_str()).collect();
    stated().map(|(key, value)| (key.as_str(), value)).filter(|(key, _)| !forbidden.contains(key)).collect()
}

/// Whether a part takes no keys but its own.
pub(super) fn is_closed(part: &Json) -> bool {
    part["additionalProperties"] == Json::Bool(false)
}
