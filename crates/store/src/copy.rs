//! All rows of one run from one record to another, one after the other.

use rusqlite::types::ValueRef;
use rusqlite::{Connection, Params, ToSql, params_from_iter, types::ToSqlOutput};
use spurline_record::RunId;

/// The tables that hold something of a run, each behind those that it points to; the column that names the run; and the
/// column that is numbered anew in another record, which gives the order.
pub(crate) const TABLES: [(&str, &str, Option<&str>); 14] = [
    ("run", "id", None),
    ("text", "run", None),
    ("instrument", "run", None),
    ("reading", "run", None),
    ("acquisition", "run", None),
    ("sweep", "run", None),
    ("event", "run", None),
    ("transcript", "run", Some("ordinal")),
    ("transcript_batch", "run", Some("ordinal")),
    ("signature", "run", None),
    ("pruning", "run", Some("id")),
    ("verdict", "run", None),
    ("verdict_text", "run", None),
    ("verdict_reading", "run", None),
];

/// A value as SQLite has it, on its way from one file to the other.
struct Same<'a>(ValueRef<'a>);

impl ToSql for Same<'_> {
    fn to_sql(&self) -> rusqlite::Result<ToSqlOutput<'_>> {
        Ok(ToSqlOutput::Borrowed(self.0))
    }
}

/// Copies a run. Of a record of an earlier schema go the columns that it has.
pub(crate) fn run(from: &Connection, into: &Connection, run: &RunId) -> rusqlite::Result<()> {
    TABLES.iter().try_for_each(|(table, of, anew)| {
        rows(from, into, table, &format!("{of} = ?1"), *anew, [run.as_str()])
    })
}

/// Copies the rows of a table for which a condition holds.
pub(crate) fn rows(
    from: &Connection,
    into: &Connection,
    table: &str,
    which: &str,
    anew: Option<&str>,
    of: impl Params,
) -> rusqlite::Result<()> {
    let columns = columns(from, table, anew)?;
    if columns.is_empty() {
        return Ok(());
    }
    let (names, places) = (columns.join(", "), vec!["?"; columns.len()].join(", "));
    let order = anew.unwrap_or("rowid");
    let mut read = from.prepare(&format!("SELECT {names} FROM {table} WHERE {which} ORDER BY {order}"))?;
    let mut write = into.prepare(&format!("INSERT INTO {table} ({names}) VALUES ({places})"))?;
    let mut rows = read.query(of)?;
    while let Some(row) = rows.next()? {
        let values: Vec<Same<'_>> =
            (0..columns.len()).map(|column| row.get_ref(column).map(Same)).collect::<Result<_, _>>()?;
        write.execute(params_from_iter(values))?;
    }
    Ok(())
}

fn columns(from: &Connection, table: &str, anew: Option<&str>) -> rusqlite::Result<Vec<String>> {
    let mut columns: Vec<String> = from
        .prepare("SELECT name FROM pragma_table_info(?1, 'main')")?
        .query_map([table], |row| row.get(0))?
        .collect::<rusqlite::Result<_>>()?;
    columns.retain(|column| Some(column.as_str()) != anew);
    Ok(columns)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::open::Store;

    #[test]
    fn no_table_of_a_run_is_forgotten() {
        let folder = tempfile::tempdir().unwrap();
        let store = Store::open(folder.path()).unwrap();
        let mut all: Vec<String> = store
            .connection
            .turn()
            .prepare("SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite%' ORDER BY name")
            .unwrap()
            .query_map([], |row| row.get(0))
            .unwrap()
            .map(Result::unwrap)
            .collect();
        // Proofs are of a bench.
        all.retain(|table| table != "proof");
        let mut copied = TABLES.map(|(table, _, _)| table);
        copied.sort_unstable();
        assert_eq!(all, copied);
    }
}
