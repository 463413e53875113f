//! A document on its way to both judges: the tree that readers take, and the JSON that an editor makes of it.

use serde_json::Value as Json;
use spurline_document::{Entry, Node, Span, Value};

/// One step down into a document.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Step {
    Key(String),
    Item(usize),
}

/// The steps from the root of a document to a place in it.
pub(super) type Way = Vec<Step>;

/// The way in a form that a person can follow.
pub(super) fn shown(way: &[Step]) -> String {
    let step = |step: &Step| match step {
        Step::Key(key) => format!("/{key}"),
        Step::Item(place) => format!("/{place}"),
    };
    way.iter().map(step).collect()
}

/// The ways to all maps of a document, the root among them.
pub(super) fn maps(root: &Node) -> Vec<Way> {
    ways(root, |value| matches!(value, Value::Map(_)))
}

/// The ways to all single values of a document.
pub(super) fn scalars(root: &Node) -> Vec<Way> {
    ways(root, |value| matches!(value, Value::Scalar(_)))
}

fn ways(root: &Node, wanted: fn(&Value) -> bool) -> Vec<Way> {
    let mut found = Vec::new();
    let mut open = vec![(Vec::new(), root)];
    while let Some((way, node)) = open.pop() {
        let down = |step: Step| [&way[..], &[step]].concat();
        match &node.value {
            Value::Map(entries) => {
                open.extend(entries.iter().map(|entry| (down(Step::Key(entry.key.clone())), &entry.node)));
            }
            Value::List(items) => {
                open.extend(items.iter().enumerate().map(|(place, item)| (down(Step::Item(place)), item)));
            }
            Value::Empty | Value::Scalar(_) => {}
        }
        if wanted(&node.value) {
            found.push(way);
        }
    }
    found
}

/// The node at the end of the way.
pub(super) fn node_at<'n>(root: &'n mut Node, way: &[Step]) -> &'n mut Node {
    way.iter().fold(root, |here, step| match (step, &mut here.value) {
        (Step::Key(key), Value::Map(entries)) => {
            &mut entries.iter_mut().find(|entry| entry.key == *key).unwrap().node
        }
        (Step::Item(place), Value::List(items)) => &mut items[*place],
        _ => panic!("no such way: {}", shown(way)),
    })
}

/// The entries of the map at the end of the way.
pub(super) fn entries_at<'n>(root: &'n mut Node, way: &[Step]) -> &'n mut Vec<Entry> {
    let Value::Map(entries) = &mut node_at(root, way).value else { panic!("no map: {}", shown(way)) };
    entries
}

/// The value at the end of the way.
pub(super) fn json_at<'j>(root: &'j mut Json, way: &[Step]) -> &'j mut Json {
    way.iter().fold(root, |here, step| match step {
        Step::Key(key) => here.get_mut(key).unwrap(),
        Step::Item(place) => here.get_mut(place).unwrap(),
    })
}

/// A scalar as readers see it: its text.
pub(super) fn scalar(value: &Json) -> Value {
    Value::Scalar(value.as_str().map_or_else(|| value.to_string(), str::to_owned))
}

/// An entry that stands nowhere.
pub(super) fn entry(key: &str, value: Value) -> Entry {
    let span = Span { start: 0, end: 0 };
    Entry { key: key.to_owned(), key_span: span, node: Node { span, value } }
}

/// The tree as YAML again: in braces, and every scalar in quotes, for readers look at its text alone.
pub(super) fn flow(node: &Node) -> String {
    let quoted = |text: &str| Json::from(text).to_string();
    match &node.value {
        Value::Empty => "~".to_owned(),
        Value::Scalar(text) => quoted(text),
        Value::List(items) => format!("[{}]", items.iter().map(flow).collect::<Vec<_>>().join(", ")),
        Value::Map(entries) => {
            let entry = |entry: &Entry| format!("{}: {}", quoted(&entry.key), flow(&entry.node));
            format!("{{{}}}", entries.iter().map(entry).collect::<Vec<_>>().join(", "))
        }
    }
}
