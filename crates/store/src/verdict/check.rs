//! Whether the verdicts on a run are what was kept: the hash covers what is given back, the columns beside it are
//! compared with that.

use rusqlite::types::Value;
use rusqlite::{Connection, Params, Transaction, TransactionBehavior};
use spurline_record::{RunId, Verdict};

use crate::column::word;
use crate::error::StoreError;
use crate::figures;
use crate::open::Store;

impl Store {
    /// What is wrong with the verdicts that were made on a run again, in words; empty if they are what was kept. They are no
    /// part of its chain: each has a hash of its own.
    ///
    /// # Errors
    ///
    /// If the record cannot be read at all.
    pub fn broken_verdicts(&self, run: &RunId) -> Result<Vec<String>, StoreError> {
        let read = || {
            if !super::has_verdicts(&self.connection.turn())? {
                return Ok(Vec::new());
            }
            let connection = self.connection.turn();
            let snapshot = Transaction::new_unchecked(&connection, TransactionBehavior::Deferred)?;
            broken(&snapshot, run)
        };
        read().map_err(self.unread(format!("the verdicts on run `{run}`")))
    }
}

fn broken(from: &Connection, run: &RunId) -> rusqlite::Result<Vec<String>> {
    let numbers = column(from, "SELECT number FROM verdict WHERE run = ?1 ORDER BY number", [run.as_str()])?;
    let mut all = Vec::new();
    for (expected, found) in (1u32..).zip(numbers) {
        if found != Value::from(expected) {
            all.push(format!("verdict {expected} is missing"));
            break;
        }
        let unlike = match super::whole(from, run, expected) {
            Ok(verdict) => unlike(from, &verdict)?,
            Err(_) => Some("not what was kept".to_owned()),
        };
        all.extend(unlike.map(|why| format!("verdict {expected} is {why}")));
    }
    for (table, of) in [
        ("verdict", "run NOT IN (SELECT id FROM run)"),
        ("verdict_text", "(run, number) NOT IN (SELECT run, number FROM verdict)"),
        ("verdict_reading", "(run, number) NOT IN (SELECT run, number FROM verdict)"),
    ] {
        let lost: i64 =
            from.query_row(&format!("SELECT count(*) FROM {table} WHERE {of}"), [], |row| row.get(0))?;
        if lost > 0 {
            all.push(format!("the table {table} has rows of no verdict or run, {lost} of them"));
        }
    }
    Ok(all)
}

/// What the columns of a verdict say otherwise than itself.
fn unlike(from: &Connection, verdict: &Verdict) -> rusqlite::Result<Option<String>> {
    let key = (verdict.run.as_str(), verdict.number);
    let header = &verdict.header;
    let texts = [header.software.clone(), header.rule.clone(), word(header.decision)].map(Value::from);
    for (name, expected) in ["software", "rule", "decision"].into_iter().zip(texts) {
        let query = format!("SELECT {name} FROM verdict WHERE run = ?1 AND number = ?2");
        if column(from, &query, key)? != [expected] {
            return Ok(Some(format!("listed with another {name} than it has")));
        }
    }
    let ordinals = "SELECT ordinal FROM verdict_text WHERE run = ?1 AND number = ?2 ORDER BY ordinal";
    if !column(from, ordinals, key)?
        .into_iter()
        .eq((1..=verdict.header.texts.len()).map(|place| Value::from(place as i64)))
    {
        return Ok(Some("kept with files that are not numbered as they were".to_owned()));
    }
    let mut rows = from.prepare_cached(&format!(
        "SELECT ordinal, {} FROM verdict_reading WHERE run = ?1 AND number = ?2 ORDER BY ordinal",
        figures::NAMES.join(", ")
    ))?;
    let mut rows = rows.query(key)?;
    for judged in &verdict.readings {
        let Some(row) = rows.next()? else { return Ok(Some("short of readings".to_owned())) };
        let ordinal = judged.reading.ordinal;
        let expected = std::iter::once(Value::from(ordinal)).chain(figures::values(&judged.reading));
        for (at, expected) in expected.enumerate() {
            if row.get::<_, Value>(at)? != expected {
                let name = at.checked_sub(1).map_or("ordinal", |at| figures::NAMES[at]);
                return Ok(Some(format!("not what was kept: {name} of reading {ordinal} is another")));
            }
        }
    }
    Ok(None)
}

fn column(from: &Connection, query: &str, key: impl Params) -> rusqlite::Result<Vec<Value>> {
    from.prepare_cached(query)?.query_map(key, |row| row.get(0))?.collect()
}
