//! What is made on a run after its end: verdicts and signatures, out of a file into a record that has the run already.

use rusqlite::types::Value;
use rusqlite::{Connection, OptionalExtension, params};
use spurline_record::RunId;

use super::Pruned;
use crate::copy;
use crate::pruning::Prunable;

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

/// Takes over what is not there. What is there and is another one is given back in words, and nothing may be kept then.
pub(super) fn take(from: &Connection, into: &Connection, run: &RunId) -> rusqlite::Result<Option<String>> {
    if !has(from, "verdict")? {
        return signatures(from, into, run);
    }
    let verdicts: Vec<(i64, Value)> = from
        .prepare("SELECT number, hash FROM verdict WHERE run = ?1 ORDER BY number")?
        .query_map([run.as_str()], |row| Ok((row.get(0)?, row.get(1)?)))?
        .collect::<rusqlite::Result<_>>()?;
    for (number, hash) in verdicts {
        let there: Option<Value> = into
            .query_row(
                "SELECT hash FROM verdict WHERE run = ?1 AND number = ?2",
                params![run.as_str(), number],
                |row| row.get(0),
            )
            .optional()?;
        match there {
            Some(there) if there == hash => {}
            Some(_) => return Ok(Some(format!("verdict {number}"))),
            None => {
                for table in ["verdict", "verdict_text", "verdict_reading"] {
                    copy::rows(
                        from,
                        into,
                        table,
                        "run = ?1 AND number = ?2",
                        None,
                        params![run.as_str(), number],
                    )?;
                }
            }
        }
    }
    signatures(from, into, run)
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
