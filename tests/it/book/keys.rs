//! The page of every key of every file, made from the schemas.
//!
//! To write it anew: `SPURLINE_WRITE_DOCS=1 cargo test -p spurline-tests -- book`.

use std::collections::BTreeSet;
use std::fmt::Write as _;

use serde_json::Value as Json;

use super::page::slug;
use crate::bench::root;

const HEAD: &str = "\
# Keys

Every key of every file that people write, made from the schemas in `config/schemas`; a test holds it up to date. What
the keys are for is explained with examples on [the page of plans and benches](files.md) and in the shipped files.

`spurline schema plan` (or `bench`, `profile`, `rule`, `table`, `band`, `service`, `day`) prints the schema, for an editor that explains
and completes keys while they are typed. A key with a star must be there. Quantities carry their unit: what each kind of
value looks like stands [at the end](#values).

";

const KINDS: [&str; 8] = ["plan", "bench", "profile", "rule", "table", "band", "service", "day"];

#[test]
fn the_page_of_keys_is_up_to_date() {
    let page = Book::page();
    let keys = page.lines().filter(|line| line.starts_with("| `")).count();
    assert!(keys > 400, "only {keys} keys");
    let path = root().join("docs/src/keys.md");
    if std::env::var_os("SPURLINE_WRITE_DOCS").is_some() {
        std::fs::write(&path, &page).unwrap();
    }
    let kept = std::fs::read_to_string(&path).unwrap_or_default();
    let differs = page.lines().zip(kept.lines()).find(|(made, kept)| made != kept);
    assert!(page == kept, "docs/src/keys.md tells otherwise, first here: {differs:?}");
}

/// Whatever is a key in a schema is a key on the page, with the words of the schema.
#[test]
fn no_key_is_left_out() {
    let page = Book::page();
    for kind in KINDS {
        let mut open = vec![schema(kind)];
        while let Some(part) = open.pop() {
            // Alternatives only say more about keys that are explained.
            let explained = part.get("description").is_some();
            for (key, value) in part["properties"].as_object().into_iter().flatten() {
                if explained && let Some(words) = value["description"].as_str() {
                    let (key, words) = (format!("| `{key}`"), cell(words));
                    let told = page.lines().any(|line| line.starts_with(&key) && line.contains(&words));
                    assert!(told, "{kind}: {key}: {words}");
                }
            }
            match part {
                Json::Object(map) => open.extend(map.into_iter().map(|(_, value)| value)),
                Json::Array(list) => open.extend(list),
                _ => {}
            }
        }
    }
}

fn schema(kind: &str) -> Json {
    let file = root().join("config/schemas").join(format!("{kind}.json"));
    serde_json::from_str(&std::fs::read_to_string(file).unwrap()).unwrap()
}

/// The page while it is being written.
struct Book {
    page: String,
    kind: &'static str,
    definitions: Json,
    /// Definitions that have had their place, in whichever kind of file: what schemas share is the same in all.
    told: BTreeSet<String>,
    values: Vec<(String, Json)>,
}

impl Book {
    fn page() -> String {
        let mut book = Self {
            page: HEAD.to_owned(),
            kind: "",
            definitions: Json::Null,
            told: BTreeSet::new(),
            values: Vec::new(),
        };
        for kind in KINDS {
            let root = schema(kind);
            book.kind = kind;
            book.definitions = root["$defs"].clone();
            writeln!(book.page, "## {}\n\n{}\n", capital(kind), words(&root)).unwrap();
            book.table("", &root);
            book.variants(&root);
            let definitions = book.definitions.clone();
            for (name, part) in definitions.as_object().unwrap() {
                if !book.told.insert(name.clone()) {
                    continue;
                }
                if part["properties"].is_object() {
                    writeln!(book.page, "### {}\n\n{}\n", shape(name), words(part)).unwrap();
                    book.table(name, part);
                } else if is_value(part) {
                    book.values.push((name.clone(), part.clone()));
                } else {
                    // Lists and choices are told where they are taken; the maps in them are told here.
                    let mut below = Vec::new();
                    book.takes(name, part, &mut below);
                    book.sections(below);
                }
            }
        }
        book.write_values();
        book.page
    }

    /// The keys of a map, and then of the maps in it.
    fn table(&mut self, way: &str, part: &Json) {
        let required: Vec<&str> =
            part["required"].as_array().into_iter().flatten().filter_map(Json::as_str).collect();
        self.page.push_str("| key | takes | says |\n|---|---|---|\n");
        let mut below = Vec::new();
        for (key, value) in part["properties"].as_object().into_iter().flatten() {
            // A key that is forbidden here is none.
            if value == &Json::Bool(false) {
                continue;
            }
            let way = join(way, key);
            let star = if required.contains(&key.as_str()) { " \\*" } else { "" };
            let takes = self.takes(&way, value, &mut below);
            writeln!(self.page, "| `{key}`{star} | {takes} | {} |", words(value)).unwrap();
        }
        let others = &part["additionalProperties"];
        if others.is_object() {
            let takes = self.takes(&join(way, "NAME"), others, &mut below);
            writeln!(self.page, "| any name | {takes} | {} |", words(others)).unwrap();
        }
        if let Some(one) = exactly_one(part) {
            writeln!(self.page, "\nExactly one of {one} must be there.").unwrap();
        }
        self.page.push('\n');
        self.sections(below);
    }

    /// The definitions that hold where a key has one value or another.
    fn variants(&mut self, root: &Json) {
        let chosen = |one: &Json| {
            let (key, value) = one["if"]["properties"].as_object()?.iter().next()?;
            let name = one["then"]["$ref"].as_str()?.trim_start_matches("#/$defs/");
            let value = plain(value.get("const")?);
            Some(format!("where `{key}` is `{value}`, those of [{}](#{})", human(name), slug(&shape(name))))
        };
        let all: Vec<String> = root["allOf"].as_array().into_iter().flatten().filter_map(chosen).collect();
        if !all.is_empty() {
            writeln!(self.page, "The keys beside these are: {}.\n", all.join("; ")).unwrap();
        }
    }

    fn sections(&mut self, maps: Vec<(String, Json)>) {
        for (way, part) in maps {
            writeln!(self.page, "### {}\n\n{}\n", self.heading(&way), words(&part)).unwrap();
            self.table(&way, &part);
        }
    }

    /// A map in a definition belongs to it, whichever kind of file has it.
    fn heading(&self, way: &str) -> String {
        let first = way.split(['.', '[']).next().unwrap_or_default();
        if self.definitions[first].is_object() {
            format!("In {}{}", human(first), &way[first.len()..])
        } else {
            format!("{}: {way}", capital(self.kind))
        }
    }

    /// What may stand at a place, in a few words; maps that have keys of their own are put off.
    fn takes(&self, way: &str, part: &Json, below: &mut Vec<(String, Json)>) -> String {
        if let Some(name) = part["$ref"].as_str() {
            let name = name.trim_start_matches("#/$defs/");
            return self.defined(name);
        }
        if let Some(value) = part.get("const") {
            return format!("`{}`", plain(value));
        }
        if let Some(list) = part["enum"].as_array() {
            return list.iter().map(|value| format!("`{}`", plain(value))).collect::<Vec<_>>().join(", ");
        }
        for alternatives in ["oneOf", "anyOf"] {
            let list = part[alternatives].as_array().filter(|_| part["properties"].is_null());
            if let Some(list) = list {
                let each: Vec<String> = list.iter().map(|one| self.takes(way, one, below)).collect();
                return each.join(" or ");
            }
        }
        if part["properties"].is_object() {
            below.push((way.to_owned(), part.clone()));
            return format!("[map](#{})", slug(&self.heading(way)));
        }
        if let Some(row) = part["prefixItems"].as_array() {
            let each: Vec<String> = row.iter().map(|one| self.takes(way, one, below)).collect();
            return format!("row of {}", each.join(", "));
        }
        match part["type"].as_str() {
            Some("array") => format!("list of {}", self.takes(&format!("{way}[]"), &part["items"], below)),
            Some("object") => {
                format!("map of {}", self.takes(&join(way, "NAME"), &part["additionalProperties"], below))
            }
            Some("boolean") => "`true`, `false`".to_owned(),
            Some(kind @ ("integer" | "number")) => {
                format!("{}{}", if kind == "integer" { "whole number" } else { "number" }, bounds(part))
            }
            _ => "[text](#values)".to_owned(),
        }
    }

    fn defined(&self, name: &str) -> String {
        let part = &self.definitions[name];
        if part["properties"].is_object() {
            return format!("[{}](#{})", human(name), slug(&shape(name)));
        }
        if is_value(part) {
            return format!("[{}](#values)", human(name));
        }
        self.takes(name, part, &mut Vec::new())
    }

    fn write_values(&mut self) {
        self.page.push_str("## Values\n\n| value | looks like | for example |\n|---|---|---|\n");
        let mut values = std::mem::take(&mut self.values);
        values.retain(|(_, part)| part["description"].is_string());
        values.sort_by_key(|(name, _)| human(name));
        for (name, part) in values {
            let examples: Vec<String> = part["examples"]
                .as_array()
                .into_iter()
                .flatten()
                .map(|example| format!("`{}`", plain(example)))
                .collect();
            let bounds = if part["enum"].is_array() {
                self.takes(&name, &part, &mut Vec::new())
            } else {
                examples.join(", ")
            };
            writeln!(self.page, "| {} | {} | {bounds} |", human(&name), words(&part)).unwrap();
        }
    }
}

/// Whether a definition is told among the values, and neither a list, a choice, nor another one by a name of its own.
fn is_value(part: &Json) -> bool {
    part["oneOf"].is_null() && part["anyOf"].is_null() && part["type"] != "array" && part["$ref"].is_null()
}

/// How a definition is headed.
fn shape(name: &str) -> String {
    format!("Map: {}", human(name))
}

/// The name of a definition as people read it.
fn human(name: &str) -> String {
    name.replace("sim_", "simulated ").replace('_', " ")
}

fn join(way: &str, key: &str) -> String {
    if way.is_empty() { key.to_owned() } else { format!("{way}.{key}") }
}

fn capital(word: &str) -> String {
    let mut letters = word.chars();
    letters.next().map(|first| first.to_ascii_uppercase()).into_iter().chain(letters).collect()
}

fn plain(value: &Json) -> String {
    value.as_str().map_or_else(|| value.to_string(), str::to_owned)
}

fn words(part: &Json) -> String {
    cell(part["description"].as_str().unwrap_or_default())
}

/// A text in a cell of a table: no bar ends it, and nothing in it is a tag.
fn cell(text: &str) -> String {
    let escaped = |(place, part): (usize, &str)| {
        if place % 2 == 0 { part.replace('<', "&lt;") } else { part.to_owned() }
    };
    text.replace('|', "\\|").split('`').enumerate().map(escaped).collect::<Vec<_>>().join("`")
}

fn bounds(part: &Json) -> String {
    let (least, most) = (part["minimum"].as_f64(), part["maximum"].as_f64());
    match (least, most, part["exclusiveMinimum"].as_f64()) {
        (Some(least), Some(most), _) => format!(" from {least} to {most}"),
        (Some(least), None, _) => format!(" from {least} up"),
        (None, Some(most), Some(least)) => format!(" above {least}, to {most}"),
        (None, None, Some(least)) => format!(" above {least}"),
        (None, Some(most), None) => format!(" to {most}"),
        (None, None, None) => String::new(),
    }
}

/// The keys of which a map has one, where that is all that its alternatives say.
fn exactly_one(part: &Json) -> Option<String> {
    let each: Option<Vec<String>> = part["oneOf"]
        .as_array()?
        .iter()
        .map(|one| match one["required"].as_array()?.as_slice() {
            [Json::String(key)] => Some(format!("`{key}`")),
            _ => None,
        })
        .collect();
    each.map(|keys| keys.join(", "))
}
