//! Whether the file itself is sound, whatever it says.

use crate::error::StoreError;
use crate::open::Store;

impl Store {
    /// What SQLite finds wrong with the whole file, and rows that belong to nothing; empty if it is sound.
    ///
    /// # Errors
    ///
    /// If the file cannot be read at all.
    pub fn integrity(&self) -> Result<Vec<String>, StoreError> {
        let read = || {
            let mut found: Vec<String> = self
                .connection
                .turn()
                .prepare("PRAGMA integrity_check")?
                .query_map([], |row| row.get(0))?
                .collect::<rusqlite::Result<_>>()?;
            found.retain(|line| line != "ok");
            let orphans: Vec<String> = self
                .connection
                .turn()
                .prepare("PRAGMA foreign_key_check")?
                .query_map([], |row| Ok((row.get::<_, String>(0)?, row.get::<_, String>(2)?)))?
                .map(|row| row.map(|(of, to)| format!("a row of {of} belongs to no row of {to}")))
                .collect::<rusqlite::Result<_>>()?;
            found.extend(orphans);
            Ok(found)
        };
        read().map_err(self.unread("the structure of the file"))
    }
}
