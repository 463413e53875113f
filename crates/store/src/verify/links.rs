//! The links of a chain one after the other: is each what it was, and does it follow on the one before?

use std::collections::HashMap;

use rusqlite::{Connection, Row, params};
use spurline_record::RunId;

use super::{BreakKind, Found, Place};
use crate::chain::{self, Hash, rows};

/// What a link stands for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Item {
    /// An event, by its number.
    Event(i64),
    /// A batch of the transcript, by its place among those of the run and its row.
    Batch { part: i64, row: i64 },
}

impl Item {
    pub(super) const fn place(self) -> Place {
        match self {
            Self::Event(number) => Place::Event(number),
            Self::Batch { part, .. } => Place::Transcript(part),
        }
    }

    fn name(self) -> String {
        match self {
            Self::Event(number) => format!("event {number}"),
            Self::Batch { part, .. } => format!("part {part} of the transcript"),
        }
    }
}

/// One link as the record has it; what is no hash counts as none.
#[derive(Clone, Copy, Debug)]
pub(super) struct Link {
    pub(super) number: i64,
    pub(super) item: Item,
    digest: Option<Hash>,
    link: Option<Hash>,
}

/// All of a run that can have a link.
#[derive(Debug, Default)]
pub(crate) struct Chain {
    /// In the order of their numbers.
    pub(super) links: Vec<Link>,
    /// What is in no link.
    outside: Vec<Item>,
}

const EVENTS: &str = "SELECT sequence, number, digest, link FROM event WHERE run = ?1 ORDER BY sequence";
const BATCHES: &str =
    "SELECT ordinal, number, digest, link FROM transcript_batch WHERE run = ?1 ORDER BY ordinal";

impl Chain {
    pub(super) fn read(from: &Connection, run: &RunId) -> rusqlite::Result<Self> {
        let mut chain = Self::default();
        let mut statement = from.prepare_cached(EVENTS)?;
        let mut found = statement.query([run.as_str()])?;
        while let Some(row) = found.next()? {
            chain.add(Item::Event(row.get(0)?), row)?;
        }
        let mut statement = from.prepare_cached(BATCHES)?;
        let mut found = statement.query([run.as_str()])?;
        let mut part = 0;
        while let Some(row) = found.next()? {
            part += 1;
            chain.add(Item::Batch { part, row: row.get(0)? }, row)?;
        }
        chain.links.sort_by_key(|link| link.number);
        Ok(chain)
    }

    fn add(&mut self, item: Item, row: &Row<'_>) -> rusqlite::Result<()> {
        match row.get(1)? {
            Some(number) => {
                self.links.push(Link { number, item, digest: hash_in(row, 2)?, link: hash_in(row, 3)? });
            }
            None => self.outside.push(item),
        }
        Ok(())
    }

    /// The number of the last link.
    pub(super) fn last(&self) -> u64 {
        self.links.last().map_or(0, |link| link.number.unsigned_abs())
    }

    pub(super) fn last_hash(&self) -> Option<Hash> {
        self.links.last().map_or(Some(Hash::ORIGIN), |link| link.link)
    }

    /// The number of the link with that hash.
    pub(crate) fn number_of(&self, hash: Hash) -> Option<i64> {
        self.links.iter().find(|link| link.link == Some(hash)).map(|link| link.number)
    }
}

/// What a column holds, if that is a hash.
pub(super) fn hash_in(row: &Row<'_>, column: usize) -> rusqlite::Result<Option<Hash>> {
    Ok(row.get_ref(column)?.as_blob().ok().and_then(|bytes| bytes.try_into().ok()).map(Hash))
}

pub(super) fn check(from: &Connection, run: &RunId, chain: &Chain, into: &mut Found) -> rusqlite::Result<()> {
    for item in &chain.outside {
        let what = format!("{} is in no link of the chain", item.name());
        into.add(None, item.place(), BreakKind::Inserted, what);
    }
    let places: HashMap<Hash, i64> =
        chain.links.iter().filter_map(|link| Some((link.link?, link.number))).collect();
    let (mut number, mut before) = (0, Some(Hash::ORIGIN));
    let mut order = Order { event: i64::MIN, batch: i64::MIN };
    for link in &chain.links {
        if into.is_full() {
            break;
        }
        let gap = gap(link, number, into);
        altered(from, run, link, into)?;
        // What comes after a gap cannot follow on what is before it, and that has been told.
        if !gap {
            follows(link, before, &places, into);
        }
        order.check(link, into);
        (number, before) = (link.number, link.link);
    }
    Ok(())
}

/// Tells what is missing before a link, or that its place is taken; whether there is something of that kind.
fn gap(link: &Link, last: i64, into: &mut Found) -> bool {
    let name = link.item.name();
    let next = last.saturating_add(1);
    if link.number == next && link.number != last {
        return false;
    }
    if link.number <= last {
        let what = format!("{name} has a place in the chain that is taken, or none: {}", link.number);
        into.add(Some(link.number), link.item.place(), BreakKind::Inserted, what);
    } else {
        let (first, to) = (next, link.number.saturating_sub(1));
        let missing =
            if first == to { format!("link {first} is") } else { format!("links {first} to {to} are") };
        let what = format!("{missing} missing before {name}");
        into.add(Some(first), Place::Link(first), BreakKind::Missing, what);
    }
    true
}

/// Tells whether an item is what it was.
fn altered(from: &Connection, run: &RunId, link: &Link, into: &mut Found) -> rusqlite::Result<()> {
    let digest = match link.item {
        Item::Event(sequence) => rows::event(from, run, sequence)?,
        Item::Batch { row, .. } => rows::batch(from, row)?,
    };
    if link.digest != Some(digest) {
        let with = match link.item {
            Item::Event(sequence) => brings(from, run, sequence)?,
            Item::Batch { .. } => String::new(),
        };
        let what = format!("{}{with} is not what was recorded", link.item.name());
        into.add(Some(link.number), link.item.place(), BreakKind::Altered, what);
    }
    Ok(())
}

/// What an event brings, for a message.
fn brings(from: &Connection, run: &RunId, sequence: i64) -> rusqlite::Result<String> {
    let (kind, reading): (String, Option<i64>) = from
        .prepare_cached("SELECT kind, reading FROM event WHERE run = ?1 AND sequence = ?2")?
        .query_row(params![run.as_str(), sequence], |row| Ok((row.get(0)?, row.get(1)?)))?;
    Ok(match (kind.as_str(), reading) {
        ("run-started", _) => " (the start of the run, with its header and files)".to_owned(),
        (_, Some(reading)) => format!(" (reading {reading} with its looks and sweeps)"),
        (other, None) => format!(" ({})", other.escape_debug()),
    })
}

/// Tells whether a link follows on the one before.
fn follows(link: &Link, before: Option<Hash>, places: &HashMap<Hash, i64>, into: &mut Found) {
    let name = link.item.name();
    let mut add = |kind, what: String| into.add(Some(link.number), link.item.place(), kind, what);
    let (Some(before), Some(digest), Some(stored)) = (before, link.digest, link.link) else {
        return add(BreakKind::Altered, format!("{name} or what comes before it has no hash"));
    };
    if chain::link(before, digest) == stored {
        return;
    }
    let mut others = places.iter().map(|(hash, number)| (*hash, *number)).chain([(Hash::ORIGIN, 0)]);
    match others.find(|(other, _)| chain::link(*other, digest) == stored) {
        Some((_, number)) if number < link.number => {
            let what =
                format!("something was put in before {name}, which was recorded right after link {number}");
            add(BreakKind::Inserted, what);
        }
        Some((_, number)) => {
            add(BreakKind::Reordered, format!("{name} was recorded after what is now link {number}"))
        }
        None => {
            let before = link.number.saturating_sub(1);
            let what = format!(
                "{name} does not follow on link {before}: one of them was made anew, or what was between them is gone"
            );
            add(BreakKind::Unlinked, what);
        }
    }
}

/// Events and batches each go up with the links.
struct Order {
    event: i64,
    batch: i64,
}

impl Order {
    fn check(&mut self, link: &Link, into: &mut Found) {
        let (highest, this) = match link.item {
            Item::Event(number) => (&mut self.event, number),
            Item::Batch { row, .. } => (&mut self.batch, row),
        };
        if this < *highest {
            let what = format!("{} was recorded at another place", link.item.name());
            into.add(Some(link.number), link.item.place(), BreakKind::Reordered, what);
        }
        *highest = this.max(*highest);
    }
}
