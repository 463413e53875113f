//! The data behind the hashes: levels of sweeps, messages of links.

use std::collections::HashMap;

use rusqlite::{Connection, Row};
use spurline_record::RunId;

use super::links::{Chain, Item, hash_in};
use super::{BreakKind, Found, Place};
use crate::chain::of_levels;
use crate::codec::{self, Codec};
use crate::pruning::{Prunable, Pruning};
use crate::transcript;

const ALTERED: &str = "are not what was recorded";
const GONE: &str = "are gone, and nothing says who took them out";

pub(super) fn check(
    from: &Connection,
    run: &RunId,
    chain: &Chain,
    prunings: &[Pruning],
    into: &mut Found,
) -> rusqlite::Result<()> {
    let pruned = |what| prunings.iter().any(|pruning| pruning.what == what);
    sweeps(from, run, chain, pruned(Prunable::Sweeps), into)?;
    batches(from, chain, pruned(Prunable::Transcript), into)?;
    counts(from, run, into)
}

/// What the record says was taken out, and what is gone.
const COUNTS: [(&str, &str); 2] = [
    ("sweeps", "SELECT count(*) FROM sweep WHERE run = ?1 AND codec = 2"),
    ("transcript", "SELECT coalesce(sum(entries), 0) FROM transcript_batch WHERE run = ?1 AND codec = 2"),
];

fn counts(from: &Connection, run: &RunId, into: &mut Found) -> rusqlite::Result<()> {
    for (what, gone) in COUNTS {
        let mut said = Some(0i64);
        let mut statement =
            from.prepare_cached("SELECT items, size FROM pruning WHERE run = ?1 AND what = ?2")?;
        let mut rows = statement.query([run.as_str(), what])?;
        while let Some(row) = rows.next()? {
            let (items, size): (i64, i64) = (row.get(0)?, row.get(1)?);
            // What was taken out had a size, and none is less than nothing.
            said = said.and_then(|sum| sum.checked_add(items)).filter(|_| items > 0 && size >= 0);
        }
        let gone: i64 = from.prepare_cached(gone)?.query_row([run.as_str()], |row| row.get(0))?;
        if said != Some(gone) {
            let said = said.map_or_else(|| "no possible number".to_owned(), |said| said.to_string());
            let what = format!("the prunings say {said} of its {what}, and {gone} are gone");
            into.add(None, Place::Run, BreakKind::Altered, what);
        }
    }
    Ok(())
}

fn sweeps(
    from: &Connection,
    run: &RunId,
    chain: &Chain,
    pruned: bool,
    into: &mut Found,
) -> rusqlite::Result<()> {
    let events: HashMap<i64, i64> = from
        .prepare_cached("SELECT reading, sequence FROM event WHERE run = ?1 AND reading IS NOT NULL")?
        .query_map([run.as_str()], |row| Ok((row.get(0)?, row.get(1)?)))?
        .collect::<rusqlite::Result<_>>()?;
    let links = chain.links.iter().filter_map(|link| match link.item {
        Item::Event(sequence) => Some((sequence, link.number)),
        Item::Batch { .. } => None,
    });
    let links: HashMap<i64, i64> = links.collect();
    let mut statement = from.prepare_cached(
        "SELECT reading, acquisition, ordinal, n, codec, data, hash FROM sweep WHERE run = ?1
         ORDER BY reading, acquisition, ordinal",
    )?;
    let mut rows = statement.query([run.as_str()])?;
    while let Some(row) = rows.next()? {
        if let Some((kind, what)) = sweep(row, pruned)? {
            let [reading, look, ordinal]: [i64; 3] = [row.get(0)?, row.get(1)?, row.get(2)?];
            let event = events.get(&reading).copied();
            let link = event.and_then(|event| links.get(&event)).copied();
            let what = format!("the levels of sweep {ordinal} of look {look} of reading {reading} {what}");
            into.add(link, event.map_or(Place::Run, Place::Event), kind, what);
        }
        if into.is_full() {
            break;
        }
    }
    Ok(())
}

/// What is wrong with the data of a sweep.
fn sweep(row: &Row<'_>, pruned: bool) -> rusqlite::Result<Option<(BreakKind, String)>> {
    let codec = Codec::from_number(row.get(4)?);
    let points = usize::try_from(row.get::<_, i64>(3)?).unwrap_or(usize::MAX);
    let data = row.get_ref(5)?.as_blob().unwrap_or_default();
    let decoded = codec.and_then(|codec| Ok((codec, codec::decode(codec, points, data)?)));
    Ok(match decoded {
        Ok((Codec::Pruned, _)) if pruned => None,
        Ok((Codec::Pruned, _)) => Some((BreakKind::Missing, GONE.to_owned())),
        Ok((_, levels)) if hash_in(row, 6)? == Some(of_levels(&levels)) => None,
        Ok(_) => Some((BreakKind::Altered, ALTERED.to_owned())),
        Err(damage) => Some((BreakKind::Altered, format!("cannot be read: {damage}"))),
    })
}

fn batches(from: &Connection, chain: &Chain, pruned: bool, into: &mut Found) -> rusqlite::Result<()> {
    for link in &chain.links {
        let Item::Batch { part, row } = link.item else { continue };
        let stored = from
            .prepare_cached("SELECT hash FROM transcript_batch WHERE ordinal = ?1")?
            .query_row([row], |row| hash_in(row, 0))?;
        let (kind, what) = match transcript::hash_of(from, row)? {
            Ok(Some(hash)) if Some(hash) == stored => continue,
            Ok(None) if pruned => continue,
            Ok(Some(_)) => (BreakKind::Altered, ALTERED.to_owned()),
            Ok(None) => (BreakKind::Missing, GONE.to_owned()),
            Err(damage) => (BreakKind::Altered, format!("cannot be read: {damage}")),
        };
        let what = format!("the messages of part {part} of the transcript {what}");
        into.add(Some(link.number), link.item.place(), kind, what);
    }
    Ok(())
}
