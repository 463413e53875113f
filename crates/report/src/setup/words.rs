//! What stands in the boxes, and the drawing in words.

use std::fmt::Display;

use spurline_record::{Identity, InstrumentUsed, LaidKey, LaidPart, LaidSupply, LaidWay, Role, RunHeader};
use spurline_units::Watts;

use super::block::{Block, Kind};
use crate::drawing::NO_BREAK;
use crate::figures;

/// More supplies than this are counted, not listed.
const SUPPLIES_SHOWN: usize = 3;

pub(super) fn unit(identity: &Identity) -> Block {
    Block { kind: Kind::Unit, name: "Unit under test".to_owned(), facts: who(identity) }
}

pub(super) fn part(part: &LaidPart) -> Block {
    let rated = part.rated.map(|watts: Watts| format!("rated {watts}"));
    Block {
        kind: Kind::Part,
        name: part.name.clone(),
        facts: std::iter::once(figures::loss(part)).chain(rated).collect(),
    }
}

pub(super) fn instrument(role: Role, instruments: &[InstrumentUsed]) -> Block {
    Block { kind: Kind::Instrument, name: figures::role(role).to_owned(), facts: found(role, instruments) }
}

pub(super) fn supplies(supplies: &[LaidSupply], instruments: &[InstrumentUsed]) -> Block {
    let listed = supplies
        .iter()
        .take(SUPPLIES_SHOWN)
        .map(|supply| format!("{}: {}, at most {}", supply.name, whole(supply.set), whole(supply.limit)));
    let more = supplies.len().saturating_sub(SUPPLIES_SHOWN);
    let more = (more > 0).then(|| format!("and {more} more"));
    Block {
        kind: Kind::Feed,
        name: figures::role(Role::Supply).to_owned(),
        facts: found(Role::Supply, instruments).into_iter().chain(listed).chain(more).collect(),
    }
}

pub(super) fn key(key: &LaidKey, instruments: &[InstrumentUsed]) -> Block {
    if let Some(line) = &key.line {
        let facts = vec![
            line.clone(),
            format!("keyed ≤ {}", whole(key.longest)),
            format!("rest ≥ {}", whole(key.rest)),
        ];
        return Block { kind: Kind::Feed, name: "Key line".to_owned(), facts };
    }
    let opens = match key.opens_by_itself {
        Some(after) => format!("opens by itself after {}", whole(after)),
        None => "does not open by itself".to_owned(),
    };
    let mut facts = found(Role::Relay, instruments);
    facts.extend(key.contact.map(|contact| format!("contact {contact}")).into_iter().chain([opens]));
    facts.extend([format!("keyed ≤ {}", whole(key.longest)), format!("rest ≥ {}", whole(key.rest))]);
    Block { kind: Kind::Feed, name: figures::role(Role::Relay).to_owned(), facts }
}

/// A way with the positions of its switches.
pub(super) fn way(way: &LaidWay) -> String {
    let mut title = if way.used { "Way: " } else { "Way not used in this run: " }.to_owned();
    title.push_str(&way.name);
    for switch in &way.set {
        title.push_str(&format!("; switch {} at {}", switch.name, switch.position));
    }
    title
}

/// The whole drawing for those who cannot see it.
pub(super) fn label(header: &RunHeader) -> String {
    let layout = &header.layout;
    let list = |parts: &[LaidPart]| {
        parts
            .iter()
            .map(|part| format!("{} ({})", part.name, figures::loss(part)))
            .collect::<Vec<_>>()
            .join(", then ")
    };
    let mut label = "set-up: the unit under test".to_owned();
    if !layout.common.is_empty() {
        label.push_str(&format!(", then {}", list(&layout.common)));
    }
    for way in &layout.ways {
        let end = figures::role(way.ends_at).to_lowercase();
        let parts = if way.parts.is_empty() { "straight".to_owned() } else { list(&way.parts) };
        label.push_str(&format!(". {}: {parts}, to the {end}", self::way(way)));
    }
    label
}

/// A figure that stays with its unit.
fn whole(figure: impl Display) -> String {
    figure.to_string().replace(' ', &NO_BREAK.to_string())
}

/// The first instrument of a role that answered.
fn found(role: Role, instruments: &[InstrumentUsed]) -> Vec<String> {
    instruments.iter().find(|used| used.role == role).map(|used| who(&used.identity)).unwrap_or_default()
}

fn who(identity: &Identity) -> Vec<String> {
    let serial = (!identity.serial.is_empty()).then(|| format!("serial {}", identity.serial));
    std::iter::once(identity.model.clone()).filter(|model| !model.is_empty()).chain(serial).collect()
}
