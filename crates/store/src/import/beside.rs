//! What is made on a run after its end: verdicts and signatures, out of a file into a record that has the run already.

use rusqlite::types::Value;
use rusqlite::{Connection, OptionalExtension, Transaction, params};
use spurline_record::RunId;

use super::Pruned;
use crate::pruning::Prunable;
use crate::verdict;

/// How many there are.
pub(super) struct Counts([i64; 2]);

impl Counts {
    pub(super) fn of(from: &Connection, run: &RunId) -> rusqlite::Result<Self> {
        let count = |table| {
            from.query_row(&format!("SELECT count(*) FROM {table} WHERE run = ?1"), [run.as_str()], |row| {
                row.get(0)
            })
        };
        Ok(Self([count("verdict")?, count("signature")?]))
    }

    /// How many verdicts and signatures more than before.
    pub(super) fn since(&self, before: &Self) -> (u32, u32) {
        let more = |at: usize| u32::try_from(self.0[at].saturating_sub(before.0[at])).unwrap_or(0);
        (more(0), more(1))
    }
}

/// What was taken over.
pub(super) enum Taken {
    /// Everything that was not there: verdicts, by their numbers in the file and in the record.
    Verdicts(Vec<(u32, u32)>),
    /// Nothing: something in the file is there and another one, in words.
    Other(String),
}

/// Takes over what is not there. If something is there and another one nothing may be kept.
pub(super) fn take(from: &Connection, into: &Transaction<'_>, run: &RunId) -> rusqlite::Result<Taken> {
    let verdicts = verdict::take(from, into, run)?;
    Ok(signatures(from, into, run)?.map_or(Taken::Verdicts(verdicts), Taken::Other))
}

fn signatures(from: &Connection, into: &Connection, run: &RunId) -> rusqlite::Result<Option<String>> {
    if !has(from, "signature")? {
        return Ok(None);
    }
    let mut statement =
        from.prepare("SELECT public_key, head, at, software, signature FROM signature WHERE run = ?1")?;
    let mut rows = statement.query([run.as_str()])?;
    while let Some(row) = rows.next()? {
        let of_file: [Value; 5] = [row.get(0)?, row.get(1)?, row.get(2)?, row.get(3)?, row.get(4)?];
        let there: Option<[Value; 3]> = into
            .query_row(
                "SELECT at, software, signature FROM signature WHERE run = ?1 AND public_key = ?2 AND head = ?3",
                params![run.as_str(), of_file[0], of_file[1]],
                |row| Ok([row.get(0)?, row.get(1)?, row.get(2)?]),
            )
            .optional()?;
        match there {
            Some(there) if there == of_file[2..] => {}
            Some(_) => return Ok(Some("signature by a key".to_owned())),
            None => {
                into.execute(
                    "INSERT INTO signature (run, public_key, head, at, software, signature) VALUES (?1, ?2, ?3, ?4, ?5, ?6)",
                    params![run.as_str(), of_file[0], of_file[1], of_file[2], of_file[3], of_file[4]],
                )?;
            }
        }
    }
    Ok(None)
}

/// What was taken out on one side only.
pub(super) fn pruned(from: &Connection, into: &Connection, run: &RunId) -> rusqlite::Result<Vec<Pruned>> {
    let mut all = Vec::new();
    for what in [Prunable::Sweeps, Prunable::Transcript] {
        let of = |side: &Connection| {
            side.query_row(
                "SELECT count(*) FROM pruning WHERE run = ?1 AND what = ?2",
                [run.as_str(), what.word()],
                |row| row.get::<_, i64>(0).map(|count| count > 0),
            )
        };
        let (here, there) = (of(into)?, of(from)?);
        if here != there {
            all.push(Pruned { what, here });
        }
    }
    Ok(all)
}

fn has(from: &Connection, table: &str) -> rusqlite::Result<bool> {
    let query = "SELECT count(*) FROM sqlite_schema WHERE type = 'table' AND name = ?1";
    from.query_row(query, [table], |row| row.get::<_, i64>(0).map(|count| count > 0))
}
