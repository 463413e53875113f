//! From what a person typed to one run.

use spurline_record::RunId;

use crate::error::StoreError;
use crate::open::Store;

impl Store {
    /// Finds the run that is meant by `last`, by its name, or by the start of its name.
    ///
    /// # Errors
    ///
    /// If there is no such run, more than one, or the record cannot be read.
    pub fn resolve(&self, text: &str) -> Result<RunId, StoreError> {
        let mut found = self.named_like(text)?;
        match found.len() {
            1 => Ok(found.remove(0)),
            0 if text == "last" => Err(StoreError::NoRuns { file: self.file.clone() }),
            0 => Err(StoreError::UnknownRun { text: text.to_owned(), file: self.file.clone() }),
            _ => match found.iter().position(|id| id.as_str() == text) {
                Some(exact) => Ok(found.swap_remove(exact)),
                None => Err(StoreError::Ambiguous { text: text.to_owned(), candidates: found }),
            },
        }
    }

    fn named_like(&self, text: &str) -> Result<Vec<RunId>, StoreError> {
        // `substr` and not `LIKE`: what was typed may hold `%` or `_`. An empty text is the start of nothing.
        let query = if text == "last" {
            "SELECT id FROM run WHERE ?1 = 'last' ORDER BY started DESC, id DESC LIMIT 1"
        } else {
            "SELECT id FROM run WHERE ?1 <> '' AND substr(id, 1, length(?1)) = ?1 ORDER BY started DESC, id DESC"
        };
        let read = || {
            self.connection
                .turn()
                .prepare_cached(query)?
                .query_map([text], |row| row.get(0).map(RunId::from_record))?
                .collect::<rusqlite::Result<Vec<_>>>()
        };
        read().map_err(self.unread("the names of runs"))
    }
}
