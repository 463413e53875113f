//! The branches of a path, and the named ways that readings take through them.

use spurline_document::{Entry, Node, Reader, Span, nearest};
use spurline_path::Part;

use super::Shelf;
use super::switches::Switches;
use crate::way::{Branch, SwitchSet, Way};

type Parts = Vec<(Part, Span)>;

/// The rows of parts behind the common ones, by their names.
pub(super) struct Branches {
    /// The rows, and where their names stand.
    rows: Vec<(String, Span, Parts)>,
    place: Span,
}

/// The branch that leads to the power meter; every other one leads to the analyser.
const TO_METER: &str = "power_meter";
/// The branch of a bench that names no paths, and the name of its only way.
const TO_ANALYSER: &str = "analyser";
const ONLY_WAY: &str = "direct";

impl Branches {
    fn find(&self, name: &str) -> Option<&Parts> {
        self.rows.iter().find(|(known, _, _)| known == name).map(|(_, _, parts)| parts)
    }

    fn to_analyser(&self) -> impl Iterator<Item = (&str, Span)> {
        let rows = self.rows.iter().filter(|(name, _, _)| name != TO_METER);
        rows.map(|(name, span, _)| (name.as_str(), *span))
    }

    /// The branch of a name that stands at `span`; that there is none is a mistake there.
    fn named(&self, reader: &mut Reader, name: &str, span: Span) -> Option<&Parts> {
        let known: Vec<&str> = self.to_analyser().map(|(name, _)| name).collect();
        if known.contains(&name) {
            return self.find(name);
        }
        let (message, hint) = if name == TO_METER {
            (format!("the branch `{name}` leads to the power meter"), None)
        } else {
            (format!("there is no branch `{name}`"), nearest(name, &known))
        };
        let mistake = reader.mistake(span, message);
        match hint {
            Some(near) => mistake.hint(format!("did you mean `{near}`?")),
            None if known.is_empty() => mistake.hint("write the branch `analyser` under `branches`"),
            None => mistake.hint(format!("branches that lead to the analyser: {}", known.join(", "))),
        }
        None
    }
}

pub(super) fn branches(reader: &mut Reader, node: &Node, shelf: &mut Shelf<'_>) -> Option<Branches> {
    let fields = reader.fields(node, "the branches")?;
    let read: Vec<_> = fields
        .entries()
        .iter()
        .map(|entry| Some((entry.key.clone(), entry.key_span, shelf.parts(reader, &entry.node)?)))
        .collect();
    let place = fields.entries().first().map_or(node.span, |entry| entry.key_span);
    Some(Branches { rows: read.into_iter().collect::<Option<_>>()?, place })
}

/// The parts to the power meter, if the bench has one; outer `None` after a mistake.
pub(super) fn meter(reader: &mut Reader, meter: Option<&Node>, branches: &Branches) -> Option<Option<Parts>> {
    let row = branches.rows.iter().find(|(name, _, _)| name == TO_METER);
    match (meter, row) {
        (Some(_), Some((_, _, parts))) => Some(Some(parts.clone())),
        (None, None) => Some(None),
        (Some(node), None) => {
            reader
                .mistake(
                    node.span,
                    format!("the branch `{TO_METER}` that leads to this power meter is missing"),
                )
                .hint(format!("write its parts under `branches: {{ {TO_METER}: [ … ] }}`"));
            None
        }
        (None, Some((_, span, _))) => {
            reader
                .mistake(*span, "this branch leads to a power meter, but the bench has none")
                .hint("add `power_meter:` to the bench, or take the branch out");
            None
        }
    }
}

/// Every named way to the analyser; without `paths` there is one, by the branch `analyser`.
pub(super) fn ways(
    reader: &mut Reader,
    (node, relays): (Option<&Node>, Option<Span>),
    common: &Parts,
    branches: &Branches,
    switches: &Switches,
    shelf: &mut Shelf<'_>,
) -> Option<Vec<Way>> {
    let Some(node) = node else {
        if let Some(switch) = switches.all.first() {
            reader
                .mistake(
                    relays.unwrap_or(branches.place),
                    format!("no path says how the relay `{}` is set", switch.name),
                )
                .hint("add `paths:` with a name for each way, or take `relays:` out");
            return None;
        }
        let own = branches.named(reader, TO_ANALYSER, branches.place)?.clone();
        no_idle(reader, branches, &[TO_ANALYSER])?;
        let branch = Branch::new(common.iter().cloned().chain(own));
        return Some(vec![Way {
            name: ONLY_WAY.to_owned(),
            branch,
            set: Vec::new(),
            keyed: true,
            into_load: false,
        }]);
    };
    let fields = reader.fields(node, "the paths")?;
    if fields.entries().is_empty() {
        reader
            .mistake(node.span, "expected at least one path, found none")
            .hint("write `through: { branch: analyser }`");
        return None;
    }
    let mut used = Vec::new();
    let read: Vec<_> = fields
        .entries()
        .iter()
        .map(|entry| read_way(reader, entry, common, branches, switches, shelf, &mut used))
        .collect();
    let ways: Vec<Way> = read.into_iter().collect::<Option<_>>()?;
    same_wire(reader, fields.entries(), &ways)?;
    let used: Vec<&str> = used.iter().map(String::as_str).collect();
    no_idle(reader, branches, &used)?;
    Some(ways)
}

/// Relays that stand the same way make the same path: it cannot have other parts.
fn same_wire(reader: &mut Reader, entries: &[Entry], ways: &[Way]) -> Option<()> {
    for (index, way) in ways.iter().enumerate() {
        let twin =
            ways[..index].iter().find(|other| other.set == way.set && other.branch.path != way.branch.path);
        if let Some(twin) = twin {
            let message = format!(
                "`{}` and `{}` differ in their parts, and no relay makes the difference",
                twin.name, way.name
            );
            reader
                .mistake(entries[index].key_span, message)
                .hint("give a relay another position on one of them: `set: { … }`");
            return None;
        }
    }
    Some(())
}

/// A branch that nothing uses has a mistyped name, or is not there.
fn no_idle(reader: &mut Reader, branches: &Branches, used: &[&str]) -> Option<()> {
    let idle: Vec<_> = branches.to_analyser().filter(|(name, _)| !used.contains(name)).collect();
    for (name, span) in &idle {
        reader
            .mistake(*span, format!("no path uses the branch `{name}`"))
            .hint("name it in a path, or take it out");
    }
    idle.is_empty().then_some(())
}

fn read_way(
    reader: &mut Reader,
    entry: &Entry,
    common: &Parts,
    branches: &Branches,
    switches: &Switches,
    shelf: &mut Shelf<'_>,
    used: &mut Vec<String>,
) -> Option<Way> {
    let mut fields = reader.fields(&entry.node, "a path")?;
    let branch = fields.required(reader, "branch");
    let set = fields.optional("set");
    let insert = fields.optional("insert");
    let after = fields.optional("insert_after");
    let keyed =
        fields.or(reader, "key", |r, n| r.choice(n, "a word for the key", &[("inhibited", false)]), true);
    let into_load = fields.or(
        reader,
        "unit",
        |r, n| r.choice(n, "a word for where the unit is", &[("into-load", true)]),
        false,
    );
    fields.close(reader);
    let set = read_set(reader, entry, set, switches);
    if let (Some(after), None) = (after, insert) {
        reader
            .mistake(after.span, "nothing is put in here: `insert` is missing")
            .hint("write the parts: `insert: [ { touchstone: … } ]`, or take `insert_after` out");
        return None;
    }
    let insert = insert.map_or(Some(Vec::new()), |node| read_insert(reader, node, shelf));
    let branch = branch.and_then(|node| {
        let name = reader.text(node, "the name of a branch")?;
        used.push(name.to_owned());
        branches.named(reader, name, node.span)
    });
    let parts =
        put_in(reader, common.iter().chain(branch?).cloned().collect(), insert?, after, common.len())?;
    Some(Way {
        name: entry.key.clone(),
        branch: Branch::new(parts),
        set: set?,
        keyed: keyed?,
        into_load: into_load?,
    })
}

fn read_insert(reader: &mut Reader, node: &Node, shelf: &mut Shelf<'_>) -> Option<Parts> {
    let parts = shelf.parts(reader, node)?;
    if parts.is_empty() {
        reader
            .mistake(node.span, "expected at least one part, found an empty list")
            .hint("write the parts, or take `insert` out");
        return None;
    }
    Some(parts)
}

/// Puts parts into a row: behind the one that is named, else first behind the common ones.
fn put_in(
    reader: &mut Reader,
    mut parts: Parts,
    insert: Parts,
    after: Option<&Node>,
    common: usize,
) -> Option<Parts> {
    let at = match after {
        None => common,
        Some(node) => {
            let name = reader.text(node, "the name of a part")?;
            let Some(place) = parts.iter().position(|(part, _)| part.name == name) else {
                let names: Vec<&str> = parts.iter().map(|(part, _)| part.name.as_str()).collect();
                let near = nearest(name, &names).map(|near| format!("did you mean `{near}`?"));
                let known = format!("parts of this path: {}", names.join(", "));
                reader
                    .mistake(node.span, format!("there is no part `{name}` on this path"))
                    .hint(near.unwrap_or(known));
                return None;
            };
            if parts.iter().filter(|(part, _)| part.name == name).count() > 1 {
                reader
                    .mistake(node.span, format!("several parts of this path are called `{name}`"))
                    .hint("give them names: `name: …`");
                return None;
            }
            if place + 1 < common {
                reader
                    .mistake(
                        node.span,
                        format!("`{name}` is passed by all readings: nothing can be put in behind it here"),
                    )
                    .hint("put it behind the last of the common parts, or behind a part of the branch");
                return None;
            }
            place + 1
        }
    };
    parts.splice(at..at, insert);
    Some(parts)
}

fn read_set(
    reader: &mut Reader,
    path: &Entry,
    node: Option<&Node>,
    switches: &Switches,
) -> Option<Vec<SwitchSet>> {
    let fields = node.map(|node| reader.fields(node, "the positions of the relays"));
    let entries = match &fields {
        None => &[],
        Some(None) => return None,
        Some(Some(fields)) => fields.entries(),
    };
    let read: Vec<_> = entries.iter().map(|entry| read_one(reader, entry, switches)).collect();
    let unset: Vec<&str> =
        switches.names().into_iter().filter(|name| !entries.iter().any(|entry| entry.key == *name)).collect();
    // A mistyped name has been told, and is why another one is missing.
    let mistyped = entries.iter().any(|entry| !switches.names().contains(&entry.key.as_str()));
    if !unset.is_empty() && !mistyped {
        reader
            .mistake(path.key_span, format!("the path `{}` does not say how `{}` is set", path.key, unset.join("`, `")))
            .hint("give every relay a position on every path: what one path leaves open, the path before it decides");
        return None;
    }
    read.into_iter().collect()
}

fn read_one(reader: &mut Reader, entry: &Entry, switches: &Switches) -> Option<SwitchSet> {
    let Some(switch) = switches.all.iter().find(|switch| switch.name == entry.key) else {
        let names = switches.names();
        let near = nearest(&entry.key, &names).map(|near| format!("did you mean `{near}`?"));
        let known = if names.is_empty() {
            "the bench has no `relays:`".to_owned()
        } else {
            format!("relays of this bench: {}", names.join(", "))
        };
        reader
            .mistake(entry.key_span, format!("there is no relay `{}`", entry.key))
            .hint(near.unwrap_or(known));
        return None;
    };
    let choices: Vec<(&str, usize)> =
        switch.positions.iter().enumerate().map(|(place, set)| (set.position.as_str(), place)).collect();
    let place = reader.choice(&entry.node, "a position of this relay", &choices)?;
    Some(switch.positions[place].clone())
}
