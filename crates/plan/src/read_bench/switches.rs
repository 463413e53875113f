//! The switches of the path: relays, their contacts, and the names of their positions.

use spurline_document::{Entry, Node, Reader};
use spurline_record::Role;

use super::Shelf;
use crate::bench::InstrumentAt;
use crate::way::SwitchSet;

/// All switches of a bench.
#[derive(Debug, Default)]
pub(super) struct Switches {
    pub(super) all: Vec<Switch>,
}

/// One switch.
#[derive(Debug)]
pub(super) struct Switch {
    pub(super) name: String,
    /// Its positions by name.
    pub(super) positions: Vec<SwitchSet>,
}

impl Switches {
    pub(super) fn names(&self) -> Vec<&str> {
        self.all.iter().map(|switch| switch.name.as_str()).collect()
    }
}

pub(super) fn read(
    reader: &mut Reader,
    node: &Node,
    shelf: &mut Shelf<'_>,
    instruments: &mut Vec<Option<InstrumentAt>>,
) -> Option<Switches> {
    let fields = reader.fields(node, "the relays of the path")?;
    let key = instruments.iter().flatten().find(|instrument| instrument.role == Role::Relay).cloned();
    let mut cards: Vec<InstrumentAt> = Vec::new();
    let read: Vec<_> = fields
        .entries()
        .iter()
        .map(|entry| read_switch(reader, entry, shelf, key.as_ref(), &mut cards))
        .collect();
    instruments.extend(cards.into_iter().map(Some));
    let all: Vec<Switch> = read.into_iter().collect::<Option<_>>()?;
    shared_contact(reader, fields.entries(), &all)?;
    Some(Switches { all })
}

/// Two relays that name the same contact of one card would each undo what the other did.
fn shared_contact(reader: &mut Reader, entries: &[Entry], all: &[Switch]) -> Option<()> {
    let contacts = |switch: &Switch| -> Vec<(usize, u32)> {
        let first = switch.positions.first();
        first
            .into_iter()
            .flat_map(|set| set.contacts.iter().map(|(contact, _)| (set.card, *contact)))
            .collect()
    };
    for (index, switch) in all.iter().enumerate() {
        let own = contacts(switch);
        let other =
            all[..index].iter().find(|other| contacts(other).iter().any(|contact| own.contains(contact)));
        if let Some(other) = other {
            reader
                .mistake(
                    entries[index].key_span,
                    format!("`{}` and `{}` name the same contact", other.name, switch.name),
                )
                .hint("give each relay contacts of its own, or write both as one relay with more positions");
            return None;
        }
    }
    Some(())
}

fn read_switch(
    reader: &mut Reader,
    entry: &Entry,
    shelf: &mut Shelf<'_>,
    key: Option<&InstrumentAt>,
    cards: &mut Vec<InstrumentAt>,
) -> Option<Switch> {
    let mut fields = reader.fields(&entry.node, "a relay of the path")?;
    let positions = fields.required(reader, "positions");
    let card = shelf.instrument_in(reader, Role::Switch, &mut fields);
    fields.close(reader);
    let positions = positions.and_then(|node| read_positions(reader, node));
    let card = card?;
    if key.is_some_and(|key| key.address == card.address) {
        reader
            .mistake(card.address_span, "this is the relay card of the key, which switches nothing else")
            .hint("the key's card must always answer at once: put the path's relays on a card of their own");
        return None;
    }
    let place = match cards.iter().position(|known| known.address == card.address) {
        Some(place)
            if cards[place].serial != card.serial || cards[place].profile.source != card.profile.source =>
        {
            reader
                .mistake(card.address_span, "another relay of this card has another profile or serial number")
                .hint(
                    "the same address is the same card: write the same profile and serial number everywhere",
                );
            return None;
        }
        Some(place) => place,
        None => {
            cards.push(card);
            cards.len() - 1
        }
    };
    let positions = set_all(&entry.key, positions?, place);
    Some(Switch { name: entry.key.clone(), positions })
}

/// The name of each position and the contacts that are closed in it.
type Positions = Vec<(String, Vec<u32>)>;

fn read_positions(reader: &mut Reader, node: &Node) -> Option<Positions> {
    let fields = reader.fields(node, "the positions")?;
    let read: Vec<_> = fields
        .entries()
        .iter()
        .map(|entry| {
            let items = reader.list(&entry.node, "the contacts that are closed in this position")?;
            let contacts: Vec<_> =
                items.iter().map(|item| reader.whole(item, "the number of a contact", 1, 999)).collect();
            Some((entry.key.clone(), contacts.into_iter().collect::<Option<Vec<u32>>>()?))
        })
        .collect();
    if read.len() < 2 {
        reader
            .mistake(node.span, format!("expected at least two positions, found {}", read.len()))
            .hint("name each position with the contacts closed in it: `positions: { out: [], in: [ 3 ] }`");
        return None;
    }
    let positions: Positions = read.into_iter().collect::<Option<_>>()?;
    same_twice(reader, node, &positions)?;
    Some(positions)
}

/// Two positions with the same contacts are one, or one of them is mistyped.
fn same_twice(reader: &mut Reader, node: &Node, positions: &Positions) -> Option<()> {
    let sorted = |contacts: &[u32]| {
        let mut contacts = contacts.to_vec();
        contacts.sort_unstable();
        contacts.dedup();
        contacts
    };
    for (index, (name, contacts)) in positions.iter().enumerate() {
        let twin = positions[..index].iter().find(|(_, other)| sorted(other) == sorted(contacts));
        if let Some((other, _)) = twin {
            reader
                .mistake(node.span, format!("the positions `{other}` and `{name}` close the same contacts"))
                .hint("a relay that stands the same way in both cannot tell them apart");
            return None;
        }
    }
    Some(())
}

/// Every contact that any position names is open in the positions that do not name it.
fn set_all(name: &str, positions: Positions, card: usize) -> Vec<SwitchSet> {
    let mut contacts: Vec<u32> = positions.iter().flat_map(|(_, closed)| closed.iter().copied()).collect();
    contacts.sort_unstable();
    contacts.dedup();
    positions
        .into_iter()
        .map(|(position, closed)| SwitchSet {
            name: name.to_owned(),
            position,
            card,
            contacts: contacts.iter().map(|contact| (*contact, closed.contains(contact))).collect(),
        })
        .collect()
}
