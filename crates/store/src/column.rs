//! How times, words and structures are written into columns and read back.

use jiff::Timestamp;
use rusqlite::Row;
use rusqlite::types::Type;
use serde::Serialize;
use serde::de::DeserializeOwned;
use serde_json::Value;

/// A time as UTC text with nine digits of a second: exact, readable with any tool, and sorted as text.
pub(crate) fn stamp(at: Timestamp) -> String {
    format!("{at:.9}")
}

/// The word of a closed set, as its serde name has it.
pub(crate) fn word(of: impl Serialize) -> String {
    match serde_json::to_value(of) {
        Ok(Value::String(word)) => word,
        other => unreachable!("a closed set is written as one word, found {other:?}"),
    }
}

/// A structure as JSON text.
pub(crate) fn json(of: &impl Serialize) -> rusqlite::Result<String> {
    serde_json::to_string(of).map_err(|e| rusqlite::Error::ToSqlConversionFailure(Box::new(e)))
}

/// Reads what [`stamp`] wrote.
pub(crate) fn get_stamp(row: &Row<'_>, column: usize) -> rusqlite::Result<Timestamp> {
    row.get::<_, String>(column)?.parse().map_err(|e| broken(column, Type::Text, e))
}

/// Reads what [`word`] wrote.
pub(crate) fn get_word<T: DeserializeOwned>(row: &Row<'_>, column: usize) -> rusqlite::Result<T> {
    let text: String = row.get(column)?;
    serde_json::from_value(Value::String(text)).map_err(|e| broken(column, Type::Text, e))
}

/// Reads what [`json`] wrote.
pub(crate) fn get_json<T: DeserializeOwned>(row: &Row<'_>, column: usize) -> rusqlite::Result<T> {
    let text: String = row.get(column)?;
    serde_json::from_str(&text).map_err(|e| broken(column, Type::Text, e))
}

/// `None` where the column is empty, else what `read` makes of it.
pub(crate) fn optional<T>(
    row: &Row<'_>,
    column: usize,
    read: impl FnOnce(&Row<'_>, usize) -> rusqlite::Result<T>,
) -> rusqlite::Result<Option<T>> {
    if row.get_ref(column)?.data_type() == Type::Null { Ok(None) } else { read(row, column).map(Some) }
}

/// An error that says that the content of a column is not what belongs there.
pub(crate) fn broken(
    column: usize,
    is: Type,
    cause: impl std::error::Error + Send + Sync + 'static,
) -> rusqlite::Error {
    rusqlite::Error::FromSqlConversionFailure(column, is, Box::new(cause))
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    proptest! {
        #[test]
        fn stamps_read_back_and_sort_as_text(
            a in 0i64..4_000_000_000, b in 0i64..4_000_000_000, na in 0i32..1_000_000_000, nb in 0i32..1_000_000_000,
        ) {
            let (a, b) = (Timestamp::new(a, na).unwrap(), Timestamp::new(b, nb).unwrap());
            prop_assert_eq!(stamp(a).parse::<Timestamp>().unwrap(), a);
            prop_assert_eq!(stamp(a).cmp(&stamp(b)), a.cmp(&b));
        }
    }
}
