//! Proofs of benches: all of them are kept, and the newest of a bench and its analyser is asked for.

use jiff::Timestamp;
use rusqlite::{OptionalExtension, params};
use spurline_record::{BenchProof, RunId};

use crate::column::{get_json, json, stamp, word};
use crate::error::StoreError;
use crate::open::Store;

impl Store {
    /// Keeps a proof. `Ok` means that it is on the disk.
    ///
    /// # Errors
    ///
    /// If it cannot be written, or one of that name is there.
    pub fn keep_proof(&self, proof: &BenchProof) -> Result<(), StoreError> {
        let write = || {
            self.connection.turn().execute(
                "INSERT INTO proof (id, at, bench, analyser, outcome, simulated_seed, detail)
                 VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)",
                params![
                    proof.id.as_str(),
                    stamp(proof.at),
                    proof.bench,
                    proof.analyser(),
                    word(proof.outcome),
                    proof.simulated.map(|seed| seed.to_string()),
                    json(proof)?,
                ],
            )
        };
        write().map(drop).map_err(|source| StoreError::Write {
            what: "the proof".to_owned(),
            run: proof.id.clone(),
            file: self.file.clone(),
            source,
        })
    }

    /// The newest proof up to a moment of a bench with the analyser of a serial number, of the bench itself or of the one
    /// that a seed simulates; none in a record that is older than proofs.
    ///
    /// # Errors
    ///
    /// If the record cannot be read.
    pub fn newest_proof(
        &self,
        bench: &str,
        analyser: &str,
        simulated: Option<u64>,
        until: Timestamp,
    ) -> Result<Option<BenchProof>, StoreError> {
        let seed = simulated.map(|seed| seed.to_string());
        let read = || {
            if !self.has_proofs()? {
                return Ok(None);
            }
            self.connection
                .turn()
                .prepare_cached(
                    "SELECT detail FROM proof
                     WHERE bench = ?1 AND analyser = ?2 AND simulated_seed IS ?3 AND at <= ?4
                     ORDER BY at DESC, id DESC LIMIT 1",
                )?
                .query_row(params![bench, analyser, seed, stamp(until)], |row| get_json(row, 0))
                .optional()
        };
        read().map_err(self.unread("the newest proof"))
    }

    /// The names of all proofs, the newest first.
    ///
    /// # Errors
    ///
    /// If the record cannot be read.
    pub fn proofs(&self) -> Result<Vec<RunId>, StoreError> {
        let read = || {
            if !self.has_proofs()? {
                return Ok(Vec::new());
            }
            self.connection
                .turn()
                .prepare_cached("SELECT id FROM proof ORDER BY at DESC, id DESC")?
                .query_map([], |row| row.get(0).map(RunId::from_record))?
                .collect::<rusqlite::Result<Vec<_>>>()
        };
        read().map_err(self.unread("the names of proofs"))
    }

    fn has_proofs(&self) -> rusqlite::Result<bool> {
        self.connection.turn().query_row(
            "SELECT count(*) FROM sqlite_schema WHERE type = 'table' AND name = 'proof'",
            [],
            |row| row.get::<_, i64>(0).map(|count| count > 0),
        )
    }
}

#[cfg(test)]
mod tests {
    use spurline_record::{Identity, InstrumentUsed, ProofOutcome, Role};

    use super::*;
    use crate::specimen::at;

    fn proof(id: &str, second: i64, bench: &str, outcome: ProofOutcome) -> BenchProof {
        let identity = Identity { serial: "A-1".to_owned(), ..Identity::default() };
        let analyser = InstrumentUsed {
            role: Role::Analyser,
            address: "here".to_owned(),
            profile: "analyser-generic".to_owned(),
            identity,
        };
        BenchProof {
            id: RunId::from_record(id.to_owned()),
            at: at(second),
            bench: bench.to_owned(),
            software: "test".to_owned(),
            simulated: Some(u64::MAX),
            path: None,
            instruments: vec![analyser],
            lines: Vec::new(),
            notes: vec!["left out".to_owned()],
            outcome,
        }
    }

    #[test]
    fn the_newest_of_a_bench_and_its_analyser_comes_back() {
        let folder = tempfile::tempdir().unwrap();
        let store = Store::open(folder.path()).unwrap();
        let (old, new) =
            (proof("1", 1, "one", ProofOutcome::Proven), proof("2", 5, "one", ProofOutcome::NotProven));
        for kept in [&new, &old, &proof("3", 9, "two", ProofOutcome::Undecided)] {
            store.keep_proof(kept).unwrap();
        }
        drop(store);
        let store = Store::open_read_only(folder.path()).unwrap();
        let newest =
            |analyser, simulated, until| store.newest_proof("one", analyser, simulated, at(until)).unwrap();
        assert_eq!(newest("A-1", Some(u64::MAX), 5), Some(new));
        assert_eq!(newest("A-1", Some(u64::MAX), 4), Some(old), "one of the future is none yet");
        assert_eq!(newest("A-2", Some(u64::MAX), 9), None);
        assert_eq!(newest("A-1", Some(1), 9), None, "another simulated bench");
        assert_eq!(newest("A-1", None, 9), None, "the bench itself");
        let names: Vec<String> = store.proofs().unwrap().iter().map(ToString::to_string).collect();
        assert_eq!(names, ["3", "2", "1"]);
    }

    #[test]
    fn a_proof_of_the_same_name_is_refused() {
        let folder = tempfile::tempdir().unwrap();
        let store = Store::open(folder.path()).unwrap();
        let one = proof("1", 1, "one", ProofOutcome::Proven);
        store.keep_proof(&one).unwrap();
        assert!(matches!(store.keep_proof(&one), Err(StoreError::Write { .. })));
    }
}
