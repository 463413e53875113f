//! What goes wrong on purpose: the faults as the bench file states them.

mod kinds;
mod nature;

use std::time::Duration;

use spurline_document::{Fields, Node, Reader};
use spurline_units::{Ratio, Seconds};

pub(crate) use kinds::Does;
pub(crate) use nature::{Befalls, Nature};

use super::read;
use crate::role::Role;

/// One fault of one instrument.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Fault {
    /// Whose.
    pub(crate) instrument: Role,
    /// What happens.
    pub(crate) does: Does,
    /// Only messages in which this stands, in capitals; all if not stated.
    pub(crate) on: Option<String>,
    /// How many messages the instrument takes before it can happen.
    pub(crate) after_messages: u64,
    /// How often it happens; without end if not stated.
    pub(crate) times: Option<u64>,
    /// How likely it is each time that it could happen, from 0 to 1.
    pub(crate) chance: f64,
    /// How long it lasts from the first time on; for ever if not stated.
    pub(crate) lasts: Option<Duration>,
    /// The time that it needs, if it needs one.
    pub(crate) by: Duration,
    /// The bytes that it needs, if it needs a number of them.
    pub(crate) bytes: usize,
    /// The number that it needs, if it needs one.
    pub(crate) count: u32,
}

/// The most that `bytes` may be: what an instrument takes in one block.
const MOST_BYTES: u32 = 1 << 20;
/// The most that `count` may be.
const MOST: u32 = 1000;

impl Fault {
    /// A fault with what it does unless stated otherwise.
    pub(crate) fn new(instrument: Role, does: Does) -> Self {
        let nature = does.nature();
        Self {
            instrument,
            does,
            on: None,
            after_messages: 0,
            times: nature.times.map(u64::from),
            chance: 1.0,
            lasts: nature.lasts,
            by: nature.by.unwrap_or_default(),
            bytes: nature.bytes.map_or(0, |bytes| bytes as usize),
            count: nature.count.unwrap_or_default(),
        }
    }

    pub(super) fn read_all(reader: &mut Reader, node: &Node) -> Option<Vec<Self>> {
        read::all(reader, node, "the faults", Self::read)
    }

    fn read(reader: &mut Reader, node: &Node) -> Option<Self> {
        let mut fields = reader.fields(node, "a fault")?;
        let roles = Role::ALL.map(|role| (role.name(), role));
        let instrument =
            fields.required(reader, "instrument").and_then(|n| reader.choice(n, "an instrument", &roles));
        let does = fields.required(reader, "does").and_then(|n| reader.choice(n, "a fault", Does::ALL));
        let on = fields.maybe(reader, "on", |r, n| r.text(n, "a part of a message").map(str::to_uppercase));
        let after = fields.or(reader, "after_messages", read::count, 0);
        let times = fields.maybe(reader, "times", |r, n| r.whole(n, "a number", 1, u32::MAX));
        let chance = fields.or(reader, "chance", chance, 1.0);
        let time = |r: &mut Reader, n: &Node| r.parse(n, "a time").map(Seconds::duration);
        let lasts = fields.maybe(reader, "lasts", time);
        let by = fields.maybe(reader, "by", time);
        let bytes = fields.maybe(reader, "bytes", |r, n| r.whole(n, "a number of bytes", 1, MOST_BYTES));
        let number = fields.maybe(reader, "count", |r, n| r.whole(n, "a number", 1, MOST));
        let fits = does.is_none_or(|does| fits(reader, &fields, does));
        fields.close(reader);
        let (instrument, does, after, on) = (instrument?, does?, after?, on?);
        let (times, chance, lasts, by, bytes, number) = (times?, chance?, lasts?, by?, bytes?, number?);
        let usual = Self::new(instrument, does);
        fits.then(|| Self {
            on,
            after_messages: u64::from(after),
            times: times.map(u64::from).or(usual.times),
            chance,
            lasts: lasts.or(usual.lasts),
            by: by.unwrap_or(usual.by),
            bytes: bytes.map_or(usual.bytes, |bytes| bytes as usize),
            count: number.unwrap_or(usual.count),
            ..usual
        })
    }
}

/// Whether every key that is there means something to what the fault does; a mistake is noted for each that does not.
fn fits(reader: &mut Reader, fields: &Fields<'_>, does: Does) -> bool {
    let meant = does.nature().keys();
    let mut fits = true;
    for entry in fields.entries() {
        let key = entry.key.as_str();
        if !Nature::KEYS.contains(&key) || meant.contains(&key) {
            continue;
        }
        fits = false;
        let hint = if meant.is_empty() {
            "leave it out; the fault takes nothing but `after_messages` and `lasts`".to_owned()
        } else {
            format!("leave it out; the fault takes {}", meant.join(", "))
        };
        reader
            .mistake(entry.key_span, format!("`{key}` means nothing to the fault `{}`", does.word()))
            .hint(hint);
    }
    fits
}

fn chance(reader: &mut Reader, node: &Node) -> Option<f64> {
    let share: Ratio = reader.parse(node, "a share")?;
    if (0.0..=1.0).contains(&share.get()) {
        return Some(share.get());
    }
    reader
        .mistake(node.span, format!("expected a chance from 0 % to 100 %, found {share}"))
        .hint("write how many of a hundred times it happens, for example `5 %`");
    None
}

#[cfg(test)]
mod tests;
