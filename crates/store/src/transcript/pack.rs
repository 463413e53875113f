//! Messages as one run of bytes: names once, times as differences, then what was said.

use std::sync::Arc;

use jiff::Timestamp;

use super::wire::{Reader, put_bytes, put_number, put_signed};
use super::{Direction, TranscriptEntry};
use crate::error::Damage;

/// A new one is added at the end: its place is its number on the disk.
const DIRECTIONS: [Direction; 5] =
    [Direction::To, Direction::From, Direction::Unreadable, Direction::Lost, Direction::Resumed];

/// Packs messages. Each link and step is spelled where it first comes, and is a number from then on.
pub(super) fn pack(entries: &[TranscriptEntry]) -> Vec<u8> {
    let mut into = Vec::new();
    let mut names: Vec<&str> = Vec::new();
    let mut before = 0i128;
    for entry in entries {
        let direction = DIRECTIONS.iter().position(|known| *known == entry.direction);
        into.push(direction.map_or(u8::MAX, |place| place as u8));
        for name in [&*entry.link, &*entry.step] {
            let known = names.iter().position(|known| *known == name);
            put_number(&mut into, known.unwrap_or(names.len()) as u128);
            if known.is_none() {
                put_bytes(&mut into, name.as_bytes());
                names.push(name);
            }
        }
        let at = entry.at.as_nanosecond();
        put_signed(&mut into, at - before);
        before = at;
        put_bytes(&mut into, &entry.bytes);
    }
    into
}

/// Unpacks exactly `count` messages.
pub(super) fn unpack(packed: &[u8], count: usize, into: &mut Vec<TranscriptEntry>) -> Result<(), Damage> {
    let mut reader = Reader(packed);
    let mut names: Vec<Arc<str>> = Vec::new();
    let mut before = 0i128;
    for _ in 0..count {
        let direction = DIRECTIONS.get(usize::from(reader.byte()?)).copied();
        let direction = direction.ok_or(Damage::Transcript("a direction is not known"))?;
        let link = name(&mut reader, &mut names)?;
        let step = name(&mut reader, &mut names)?;
        let at = before.checked_add(reader.signed()?);
        let stamp = at.and_then(|at| Timestamp::from_nanosecond(at).ok());
        let (at, stamp) = at.zip(stamp).ok_or(Damage::Transcript("a time is none"))?;
        before = at;
        into.push(TranscriptEntry { at: stamp, link, direction, step, bytes: reader.bytes()?.to_vec() });
    }
    if reader.is_empty() { Ok(()) } else { Err(Damage::Transcript("there is more than its row says")) }
}

fn name(reader: &mut Reader<'_>, names: &mut Vec<Arc<str>>) -> Result<Arc<str>, Damage> {
    let place = reader.count()?;
    if place == names.len() {
        names.push(reader.text()?.into());
    }
    names.get(place).cloned().ok_or(Damage::Transcript("a name was never spelled"))
}
