//! Verdicts that were made again: kept beside their run, never over it, and never changed.

mod check;
mod hash;

use jiff::Timestamp;
use rusqlite::types::{Type, Value};
use rusqlite::{
    Connection, OptionalExtension, Row, Transaction, TransactionBehavior, params, params_from_iter,
};
use spurline_record::{
    JudgedFrom, Outcome, Reading, Replaced, RunHeader, RunId, SourceText, Verdict, VerdictReading,
};

use crate::column::{broken, get_json, get_stamp, get_word, json, optional, stamp, word};
use crate::error::{Damage, StoreError};
use crate::figures;
use crate::open::Store;
use hash::Hash;

/// A verdict as a list of them shows it.
#[derive(Clone, Debug, PartialEq)]
pub struct VerdictSummary {
    /// Which of those on its run, from 1.
    pub number: u32,
    /// When it was made.
    pub at: Timestamp,
    /// What judged again.
    pub software: String,
    /// The rule.
    pub rule: String,
    /// What was replaced.
    pub replaced: Vec<Replaced>,
    /// What it came to.
    pub outcome: Option<Outcome>,
    /// How many of its readings have no limit.
    pub without_limit: u32,
}

impl Store {
    /// Keeps a verdict, and gives it back with its number and with the head of the run's chain that it rests on. `Ok` means
    /// that it is on the disk.
    ///
    /// # Errors
    ///
    /// If its run is not there, or it cannot be written.
    pub fn keep_verdict(&self, verdict: Verdict) -> Result<Verdict, StoreError> {
        let run = verdict.run.clone();
        let write = || {
            let connection = self.connection.turn();
            let transaction = Transaction::new_unchecked(&connection, TransactionBehavior::Immediate)?;
            let number = transaction
                .prepare_cached("SELECT coalesce(max(number), 0) + 1 FROM verdict WHERE run = ?1")?
                .query_row([run.as_str()], |row| row.get(0))?;
            let verdict = Verdict { number, head: head(&transaction, &run)?, ..verdict };
            insert(&transaction, &verdict)?;
            transaction.commit()?;
            Ok(verdict)
        };
        write().map_err(|source| StoreError::Write {
            what: "the verdict".to_owned(),
            run,
            file: self.file.clone(),
            source,
        })
    }

    /// The verdicts on a run, the first first; none in a record that is older than verdicts.
    ///
    /// # Errors
    ///
    /// If the record cannot be read.
    pub fn verdicts(&self, run: &RunId) -> Result<Vec<VerdictSummary>, StoreError> {
        let read = || {
            if !has_verdicts(&self.connection.turn())? {
                return Ok(Vec::new());
            }
            self.connection.turn()
                .prepare_cached(
                    "SELECT number, at, software, rule, replaced, outcome, (SELECT count(*) FROM verdict_reading AS of
                         WHERE of.run = verdict.run AND of.number = verdict.number AND of.outcome = 'no limit')
                     FROM verdict WHERE run = ?1 ORDER BY number",
                )?
                .query_map([run.as_str()], |row| {
                    Ok(VerdictSummary {
                        number: row.get(0)?,
                        at: get_stamp(row, 1)?,
                        software: row.get(2)?,
                        rule: row.get(3)?,
                        replaced: get_json(row, 4)?,
                        outcome: optional(row, 5, get_word)?,
                        without_limit: row.get(6)?,
                    })
                })?
                .collect::<rusqlite::Result<Vec<_>>>()
        };
        read().map_err(self.unread(format!("the verdicts on run `{run}`")))
    }

    /// One of them. Its readings have no looks: they are those of the run's readings.
    ///
    /// # Errors
    ///
    /// If there is no such verdict, it is not what was kept, or it cannot be read.
    pub fn verdict(&self, run: &RunId, number: u32) -> Result<Verdict, StoreError> {
        let read = || {
            if !has_verdicts(&self.connection.turn())? {
                return Ok(None);
            }
            let connection = self.connection.turn();
            let snapshot = Transaction::new_unchecked(&connection, TransactionBehavior::Deferred)?;
            whole(&snapshot, run, number).optional()
        };
        let unknown = || StoreError::UnknownVerdict { run: run.clone(), number, file: self.file.clone() };
        read().map_err(self.unread(format!("verdict {number} on run `{run}`")))?.ok_or_else(unknown)
    }
}

/// Takes the verdicts on a run over that are not there. One whose number another one has there gets the next free one:
/// verdicts that were made in two places both stand. Given back are those that were taken, by their numbers in the one
/// and in the other.
pub(crate) fn take(
    from: &Connection,
    into: &Transaction<'_>,
    run: &RunId,
) -> rusqlite::Result<Vec<(u32, u32)>> {
    let all = |side: &Connection| -> rusqlite::Result<Vec<Verdict>> {
        if !has_verdicts(side)? {
            return Ok(Vec::new());
        }
        let mut numbers = side.prepare("SELECT number FROM verdict WHERE run = ?1 ORDER BY number")?;
        let numbers = numbers.query_map([run.as_str()], |row| row.get(0))?;
        numbers.map(|number| whole(side, run, number?)).collect()
    };
    let there = all(into)?;
    let said: Vec<[u8; 32]> = there.iter().map(said).collect::<Result<_, _>>()?;
    let mut free = there.last().map_or(1, |last| last.number + 1);
    let mut taken = Vec::new();
    for verdict in all(from)? {
        if said.contains(&self::said(&verdict)?) {
            continue;
        }
        let number = verdict.number;
        insert(into, &Verdict { number: free, ..verdict })?;
        taken.push((number, free));
        free += 1;
    }
    Ok(taken)
}

/// What tells a verdict from others, whatever its number.
fn said(verdict: &Verdict) -> rusqlite::Result<[u8; 32]> {
    let unnumbered = Verdict { number: 0, ..verdict.clone() };
    Ok(Written::of(&unnumbered)?.hash(&unnumbered))
}

impl Store {
    /// The head of a run's chain of hashes, in hexadecimal; `None` where records have none.
    ///
    /// # Errors
    ///
    /// If it cannot be read.
    pub fn head(&self, run: &RunId) -> Result<Option<String>, StoreError> {
        let read = || {
            let connection = self.connection.turn();
            head(&Transaction::new_unchecked(&connection, TransactionBehavior::Deferred)?, run)
        };
        read().map_err(self.unread(format!("the chain of run `{run}`")))
    }
}

fn has_verdicts(connection: &Connection) -> rusqlite::Result<bool> {
    connection.query_row(
        "SELECT count(*) FROM sqlite_schema WHERE type = 'table' AND name = 'verdict'",
        [],
        |row| row.get::<_, i64>(0).map(|count| count > 0),
    )
}

/// The head of a run's chain, where records have chains.
fn head(from: &Transaction<'_>, run: &RunId) -> rusqlite::Result<Option<String>> {
    let there: i64 =
        from.query_row("SELECT count(*) FROM pragma_table_info('run') WHERE name = 'head'", [], |row| {
            row.get(0)
        })?;
    if there == 0 {
        return Ok(None);
    }
    let head: Option<String> = from.query_row(
        "SELECT CASE WHEN head IS NULL THEN NULL ELSE lower(hex(head)) END FROM run WHERE id = ?1",
        [run.as_str()],
        |row| row.get(0),
    )?;
    Ok(head)
}

/// What of a verdict is written into its columns and hashed.
struct Written {
    at: String,
    replaced: String,
    header: String,
    readings: Vec<String>,
}

impl Written {
    fn of(verdict: &Verdict) -> rusqlite::Result<Self> {
        let details = verdict.readings.iter().map(|judged| json(&without_looks(&judged.reading)));
        Ok(Self {
            at: stamp(verdict.at),
            replaced: json(&verdict.replaced)?,
            header: json(&RunHeader { texts: Vec::new(), ..verdict.header.clone() })?,
            readings: details.collect::<Result<_, _>>()?,
        })
    }

    /// Of all that a verdict says and rests on, in this order.
    fn hash(&self, verdict: &Verdict) -> [u8; 32] {
        let mut hash = Hash::new();
        hash.part(verdict.run.as_str());
        hash.part(&verdict.number.to_string());
        hash.part(&self.at);
        hash.part(&self.replaced);
        hash.part(verdict.outcome.map_or("", Outcome::word));
        hash.part(verdict.head.as_deref().unwrap_or_default());
        hash.part(&self.header);
        hash.part(&verdict.header.texts.len().to_string());
        for text in &verdict.header.texts {
            hash.part(&word(text.role));
            hash.part(&text.name);
            hash.part(&text.text);
        }
        hash.part(&verdict.readings.len().to_string());
        for (judged, detail) in verdict.readings.iter().zip(&self.readings) {
            hash.part(judged.from.word());
            hash.part(detail);
        }
        hash.finish()
    }
}

fn without_looks(reading: &Reading) -> Reading {
    Reading { acquisitions: Vec::new(), ..reading.clone() }
}

fn insert(into: &Transaction<'_>, verdict: &Verdict) -> rusqlite::Result<()> {
    let written = Written::of(verdict)?;
    let (run, number) = (verdict.run.as_str(), verdict.number);
    into.prepare_cached(
        "INSERT INTO verdict (run, number, at, software, rule, decision, replaced, outcome, head, header, hash)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11)",
    )?
    .execute(params![
        run,
        number,
        written.at,
        verdict.header.software,
        verdict.header.rule,
        word(verdict.header.decision),
        written.replaced,
        verdict.outcome.map(Outcome::word),
        verdict.head,
        written.header,
        written.hash(verdict),
    ])?;
    let mut row = into.prepare_cached(
        "INSERT INTO verdict_text (run, number, ordinal, role, name, text)
         VALUES (?1, ?2, ?3, ?4, ?5,
                 CASE WHEN ?6 = (SELECT text FROM text WHERE run = ?1 AND role = ?4 AND name = ?5 ORDER BY ordinal LIMIT 1)
                      THEN NULL ELSE ?6 END)",
    )?;
    for (ordinal, text) in (1u32..).zip(&verdict.header.texts) {
        row.execute(params![run, number, ordinal, word(text.role), text.name, text.text])?;
    }
    for (judged, detail) in verdict.readings.iter().zip(&written.readings) {
        reading(into, (run, number), judged, detail)?;
    }
    Ok(())
}

fn reading(
    into: &Transaction<'_>,
    (run, number): (&str, u32),
    judged: &VerdictReading,
    detail: &str,
) -> rusqlite::Result<()> {
    let VerdictReading { from, reading } = judged;
    let own: [Value; 5] = [
        run.to_owned().into(),
        number.into(),
        reading.ordinal.into(),
        from.word().to_owned().into(),
        detail.to_owned().into(),
    ];
    into.prepare_cached(&figures::insertion(
        "verdict_reading",
        &["run", "number", "ordinal", "made", "detail"],
    ))?
    .execute(params_from_iter(own.into_iter().chain(figures::values(reading))))?;
    Ok(())
}

const TEXTS: &str = "SELECT of.role, of.name, coalesce(of.text, (
         SELECT text FROM text WHERE run = of.run AND role = of.role AND name = of.name ORDER BY ordinal LIMIT 1))
     FROM verdict_text AS of WHERE of.run = ?1 AND of.number = ?2 ORDER BY of.ordinal";

fn whole(from: &Connection, run: &RunId, number: u32) -> rusqlite::Result<Verdict> {
    let key = params![run.as_str(), number];
    let (mut verdict, hash) = from
        .prepare_cached(
            "SELECT at, replaced, outcome, head, header, hash FROM verdict WHERE run = ?1 AND number = ?2",
        )?
        .query_row(key, |row| {
            let verdict = Verdict {
                run: run.clone(),
                number,
                at: get_stamp(row, 0)?,
                replaced: get_json(row, 1)?,
                outcome: optional(row, 2, get_word)?,
                head: row.get(3)?,
                header: get_json(row, 4)?,
                readings: Vec::new(),
            };
            Ok((verdict, row.get::<_, [u8; 32]>(5)?))
        })?;
    verdict.header.texts = from
        .prepare_cached(TEXTS)?
        .query_map(key, |row| {
            Ok(SourceText { role: get_word(row, 0)?, name: row.get(1)?, text: row.get(2)? })
        })?
        .collect::<rusqlite::Result<_>>()?;
    verdict.readings = from
        .prepare_cached(
            "SELECT made, detail FROM verdict_reading WHERE run = ?1 AND number = ?2 ORDER BY ordinal",
        )?
        .query_map(key, judged)?
        .collect::<rusqlite::Result<_>>()?;
    if Written::of(&verdict)?.hash(&verdict) != hash {
        return Err(broken(5, Type::Blob, Damage::Verdict(number)));
    }
    Ok(verdict)
}

fn judged(row: &Row<'_>) -> rusqlite::Result<VerdictReading> {
    Ok(VerdictReading { from: get_word::<JudgedFrom>(row, 0)?, reading: get_json(row, 1)? })
}

#[cfg(test)]
mod tests;
