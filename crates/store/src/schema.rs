//! The tables, and the steps from one schema to the next.
//!
//! Columns are there to be asked; the JSON texts beside them (`header`, `detail`) hold the whole structure and are
//! what is given back. Times are UTC text, levels dBm at the transmitter's connector, frequencies hertz.

use rusqlite::{Connection, TransactionBehavior};

/// Marks the file as ours: the bytes `Spur`.
pub(crate) const APPLICATION_ID: i64 = 0x5370_7572;

/// Step `i` leads from schema `i` to schema `i + 1`. A step that has shipped is never edited.
const STEPS: [&str; 7] = [
    include_str!("schema/1.sql"),
    include_str!("schema/2.sql"),
    include_str!("schema/3.sql"),
    include_str!("schema/4.sql"),
    include_str!("schema/5.sql"),
    include_str!("schema/6.sql"),
    include_str!("schema/7.sql"),
];

/// The schema that this program writes.
pub(crate) const VERSION: i64 = STEPS.len() as i64;

/// The schema of the file, and whether it is a record at all.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Found {
    /// An empty database.
    Empty,
    /// A record of this schema.
    Record(i64),
    /// Somebody else's.
    Foreign,
}

/// Looks what the file is.
pub(crate) fn find(connection: &Connection) -> rusqlite::Result<Found> {
    let number = |pragma| connection.pragma_query_value(None, pragma, |row| row.get::<_, i64>(0));
    let tables: i64 = connection.query_row("SELECT count(*) FROM sqlite_schema", [], |row| row.get(0))?;
    Ok(match (number("application_id")?, number("user_version")?) {
        (APPLICATION_ID, version) if version > 0 => Found::Record(version),
        (0, 0) if tables == 0 => Found::Empty,
        _ => Found::Foreign,
    })
}

/// Makes the tables of a schema in an empty database.
pub(crate) fn lay(into: &Connection, version: i64) -> rusqlite::Result<()> {
    go(into, 0, usize::try_from(version).unwrap_or(STEPS.len()))
}

fn go(into: &Connection, done: usize, until: usize) -> rusqlite::Result<()> {
    STEPS.iter().take(until).skip(done).try_for_each(|step| into.execute_batch(step))
}

/// Brings an empty or older record up to date, in one transaction.
///
/// What the file is is looked at again under the write lock, since another process may have come first, and
/// what it then was is given back: of a foreign file or a newer record nothing was changed.
pub(crate) fn migrate(connection: &mut Connection) -> rusqlite::Result<Found> {
    let transaction = connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
    let found = find(&transaction)?;
    let done = match found {
        Found::Empty => 0,
        Found::Record(version) => usize::try_from(version).unwrap_or(STEPS.len()),
        Found::Foreign => return Ok(found),
    };
    go(&transaction, done, STEPS.len())?;
    if done < STEPS.len() {
        transaction.pragma_update(None, "application_id", APPLICATION_ID)?;
        transaction.pragma_update(None, "user_version", VERSION)?;
    }
    transaction.commit()?;
    Ok(found)
}

#[cfg(test)]
mod tests;
