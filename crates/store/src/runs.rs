//! The list of runs.

use jiff::Timestamp;
use rusqlite::params;
use spurline_record::{Identity, Outcome, RunId, RunState};

use crate::column::{get_stamp, get_word, optional};
use crate::error::StoreError;
use crate::open::Store;

/// A run in a list: what it was and what it came to.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RunSummary {
    /// Its name.
    pub id: RunId,
    /// The plan's title.
    pub plan: String,
    /// The bench's title.
    pub bench: String,
    /// The unit under test.
    pub unit: Identity,
    /// The rule.
    pub rule: String,
    /// The seed, if the bench was simulated.
    pub simulated: Option<u64>,
    /// When it began.
    pub started: Timestamp,
    /// When it ended; `None` while it runs, or if its process died.
    pub ended: Option<Timestamp>,
    /// Where it stands.
    pub state: RunState,
    /// What it came to; `None` before its end, or if it has no readings.
    pub outcome: Option<Outcome>,
    /// How many readings hold: without those that were set aside when it went on.
    pub readings: u32,
    /// How many of them have no limit.
    pub without_limit: u32,
}

impl Store {
    /// All runs, the newest first.
    ///
    /// # Errors
    ///
    /// If the record cannot be read.
    pub fn runs(&self) -> Result<Vec<RunSummary>, StoreError> {
        self.newest_runs(u32::MAX)
    }

    /// The newest runs, the newest first, and not more than so many.
    ///
    /// # Errors
    ///
    /// If the record cannot be read.
    pub fn newest_runs(&self, most: u32) -> Result<Vec<RunSummary>, StoreError> {
        let readings =
            if self.schema < 4 { "(SELECT count(*) FROM reading WHERE run = run.id)" } else { "readings" };
        // Those that were set aside when the run went on do not count.
        const ASIDE: &str = "FROM event, json_each(
                 CASE WHEN json_valid(event.detail) THEN event.detail END, '$.resumed.set_aside') AS aside
             WHERE event.run = run.id AND event.kind = 'resumed'";
        let readings = format!("max(0, {readings} - (SELECT count(DISTINCT aside.value) {ASIDE}))");
        let without_limit = format!(
            "(SELECT count(*) FROM reading WHERE run = run.id AND outcome = 'no limit'
                 AND ordinal NOT IN (SELECT aside.value {ASIDE}))"
        );
        let query = format!(
            "SELECT id, plan, bench, unit_maker, unit_model, unit_serial, unit_firmware, rule, simulated_seed, started,
                    ended, state, outcome, {readings}, {without_limit}
             FROM run ORDER BY started DESC, id DESC LIMIT ?1"
        );
        let read = || {
            self.connection
                .turn()
                .prepare_cached(&query)?
                .query_map([most], summary)?
                .collect::<rusqlite::Result<Vec<_>>>()
        };
        read().map_err(self.unread("the list of runs"))
    }

    /// The newest runs on a bench that went to their end, on the bench itself or on the one that a seed simulates; the
    /// newest first, and not more than so many.
    ///
    /// # Errors
    ///
    /// If the record cannot be read.
    pub fn newest_finished_on(
        &self,
        bench: &str,
        simulated: Option<u64>,
        most: u32,
    ) -> Result<Vec<RunId>, StoreError> {
        let seed = simulated.map(|seed| seed.to_string());
        let read = || {
            self.connection
                .turn()
                .prepare_cached(
                    "SELECT id FROM run WHERE bench = ?1 AND simulated_seed IS ?2 AND state = ?3
                     ORDER BY started DESC, id DESC LIMIT ?4",
                )?
                .query_map(params![bench, seed, RunState::Finished.word(), most], |row| {
                    row.get(0).map(RunId::from_record)
                })?
                .collect::<rusqlite::Result<Vec<_>>>()
        };
        read().map_err(self.unread(format!("the newest runs on `{bench}`")))
    }

    /// Whether the record has a run of this name.
    ///
    /// # Errors
    ///
    /// If the record cannot be read.
    pub fn has(&self, run: &RunId) -> Result<bool, StoreError> {
        self.connection
            .turn()
            .query_row("SELECT count(*) FROM run WHERE id = ?1", [run.as_str()], |row| row.get::<_, i64>(0))
            .map(|count| count > 0)
            .map_err(self.unread(format!("whether there is a run `{run}`")))
    }

    /// How many runs there are.
    ///
    /// # Errors
    ///
    /// If the record cannot be read.
    pub fn count_runs(&self) -> Result<u64, StoreError> {
        self.connection
            .turn()
            .query_row("SELECT count(*) FROM run", [], |row| row.get::<_, i64>(0).map(i64::unsigned_abs))
            .map_err(self.unread("the number of runs"))
    }
}

fn summary(row: &rusqlite::Row<'_>) -> rusqlite::Result<RunSummary> {
    let unit =
        Identity { maker: row.get(3)?, model: row.get(4)?, serial: row.get(5)?, firmware: row.get(6)? };
    let seed = |row: &rusqlite::Row<'_>, column| {
        let text: String = row.get(column)?;
        text.parse().map_err(|e| crate::column::broken(column, rusqlite::types::Type::Text, e))
    };
    Ok(RunSummary {
        id: RunId::from_record(row.get(0)?),
        plan: row.get(1)?,
        bench: row.get(2)?,
        unit,
        rule: row.get(7)?,
        simulated: optional(row, 8, seed)?,
        started: get_stamp(row, 9)?,
        ended: optional(row, 10, get_stamp)?,
        state: get_word(row, 11)?,
        outcome: optional(row, 12, get_word)?,
        readings: row.get(13)?,
        without_limit: row.get(14)?,
    })
}

#[cfg(test)]
mod tests {
    use spurline_record::EventKind;

    use super::*;
    use crate::specimen::events;

    #[test]
    fn the_newest_finished_runs_of_a_bench_are_found_among_others() {
        let folder = tempfile::tempdir().unwrap();
        let keep = |run: &str, bench: Option<&str>, seed: Option<u64>, whole: bool| {
            let mut all = events(run);
            if let EventKind::RunStarted(header) = &mut all[0].kind {
                header.simulated = seed;
                if let Some(bench) = bench {
                    bench.clone_into(&mut header.bench);
                }
            }
            // The specimen ends with a failure.
            if whole
                && let Some(EventKind::RunEnded { state, .. }) = all.last_mut().map(|last| &mut last.kind)
            {
                *state = RunState::Finished;
            }
            Store::open(folder.path()).unwrap().into_recorder().record(&all).unwrap();
        };
        keep("a", None, Some(7), true);
        keep("b", None, Some(7), true);
        keep("c", None, Some(7), true);
        keep("d", Some("another"), Some(7), true);
        keep("e", None, None, true);
        keep("f", None, Some(7), false);
        let store = Store::open_read_only(folder.path()).unwrap();
        let bench = store.runs().unwrap().into_iter().find(|run| run.id.as_str() == "a").unwrap().bench;
        let found = |bench: &str, seed, most| {
            let found = store.newest_finished_on(bench, seed, most).unwrap();
            found.iter().map(|run| run.as_str().to_owned()).collect::<Vec<_>>()
        };
        assert_eq!(found(&bench, Some(7), 2), ["c", "b"]);
        assert_eq!(found(&bench, Some(7), 9), ["c", "b", "a"]);
        assert_eq!(found("another", Some(7), 9), ["d"]);
        assert_eq!(found(&bench, None, 9), ["e"]);
        assert_eq!(found(&bench, Some(8), 9), Vec::<String>::new());
    }
}
