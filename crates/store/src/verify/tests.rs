//! Whatever is done to a record by other means shows, and is called by its name.

use proptest::prelude::*;
use rusqlite::Connection;
use spurline_record::RunId;

use super::*;
use crate::chain::rows;
use crate::open::RECORD_FILE;
use crate::specimen::{at, events};
use crate::{Direction, TranscriptEntry};

fn entry(second: i64, bytes: &[u8]) -> TranscriptEntry {
    let step = "line".into();
    TranscriptEntry {
        at: at(second),
        link: "analyser".into(),
        direction: Direction::From,
        step,
        bytes: bytes.to_owned(),
    }
}

fn run() -> RunId {
    RunId::from_record("r".to_owned())
}

/// A record with the specimen run and two parts of transcript, another run beside it, and a connection of its own that
/// holds nobody to the rules.
fn record() -> (tempfile::TempDir, Connection) {
    let folder = tempfile::tempdir().unwrap();
    for id in ["other", "r"] {
        let mut recorder = Store::open(folder.path()).unwrap().into_recorder();
        recorder.record(&events(id)[..8]).unwrap();
        recorder.transcript(&[entry(1, b"#14abcd"), entry(2, &[0xff; 400])]).unwrap();
        recorder.record(&events(id)[8..]).unwrap();
        recorder.transcript(&[entry(3, b"1.5")]).unwrap();
    }
    let raw = Connection::open(folder.path().join(RECORD_FILE)).unwrap();
    raw.pragma_update(None, "foreign_keys", false).unwrap();
    (folder, raw)
}

fn found(folder: &tempfile::TempDir) -> Verification {
    Store::open_read_only(folder.path()).unwrap().verify(&run()).unwrap()
}

/// What a change of the record by other means comes to: its first break.
fn after(change: &str) -> (Place, BreakKind, String) {
    let (folder, raw) = record();
    raw.execute_batch(change).unwrap();
    let found = found(&folder);
    assert_eq!(found.standing, Standing::Broken, "{change}");
    let other = Store::open_read_only(folder.path())
        .unwrap()
        .verify(&RunId::from_record("other".to_owned()))
        .unwrap();
    assert_eq!(other.standing, Standing::Whole, "{change}: {:?}", other.breaks);
    let first = found.breaks.into_iter().next().unwrap();
    (first.place, first.kind, first.what)
}

#[test]
fn a_run_is_whole_while_it_goes_on_and_after() {
    let folder = tempfile::tempdir().unwrap();
    let mut recorder = Store::open(folder.path()).unwrap().into_recorder();
    let mut heads = Vec::new();
    for (at, event) in events("r").into_iter().enumerate() {
        recorder.record(&[event]).unwrap();
        let found = found(&folder);
        assert_eq!((found.standing, found.links), (Standing::Whole, at as u64 + 1), "{:?}", found.breaks);
        heads.push(found.head.unwrap());
    }
    heads.dedup();
    assert_eq!(heads.len(), events("r").len());
}

#[test]
fn one_commit_or_several_make_the_same_chain() {
    let (one, several) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    Store::open(one.path()).unwrap().into_recorder().record(&events("r")).unwrap();
    let mut recorder = Store::open(several.path()).unwrap().into_recorder();
    events("r").chunks(3).for_each(|chunk| recorder.record(chunk).unwrap());
    assert_eq!(found(&one).head, found(&several).head);
}

#[test]
fn what_is_changed_is_called_altered() {
    for (change, place) in [
        ("UPDATE reading SET level_dbm = -40 WHERE run = 'r' AND ordinal = 2", Place::Event(8)),
        (
            "UPDATE reading SET detail = replace(detail, '-30.1', '-40.1') WHERE run = 'r' AND ordinal = 2",
            Place::Event(8),
        ),
        ("UPDATE reading SET outcome = 'no limit' WHERE run = 'r' AND ordinal = 3", Place::Event(11)),
        (
            "UPDATE acquisition SET attenuation_db = 0 WHERE run = 'r' AND reading = 1 AND ordinal = 1",
            Place::Event(7),
        ),
        (
            "UPDATE acquisition SET overload = 1 WHERE run = 'r' AND reading = 1 AND ordinal = 1",
            Place::Event(7),
        ),
        (
            "DELETE FROM sweep WHERE run = 'r' AND reading = 2 AND acquisition = 1 AND ordinal = 3",
            Place::Event(8),
        ),
        (
            "DELETE FROM sweep WHERE run = 'r' AND reading = 2; DELETE FROM acquisition WHERE run = 'r' AND reading = 2",
            Place::Event(8),
        ),
        (
            "UPDATE event SET at = '2026-11-25T10:30:15.000000000Z' WHERE run = 'r' AND sequence = 5",
            Place::Event(5),
        ),
        (
            "UPDATE event SET detail = '{\"note\":\"cold\"}' WHERE run = 'r' AND sequence = 12",
            Place::Event(12),
        ),
        ("UPDATE instrument SET serial = 'B-2' WHERE run = 'r' AND sequence = 2", Place::Event(2)),
        ("UPDATE instrument SET due = '2036-01-01' WHERE run = 'r' AND sequence = 2", Place::Event(2)),
        ("UPDATE text SET text = 'plan: y' WHERE run = 'r' AND ordinal = 1", Place::Event(1)),
        ("DELETE FROM text WHERE run = 'r' AND ordinal = 2", Place::Event(1)),
        ("INSERT INTO text VALUES ('r', 3, 'rule', 'mine', 'x')", Place::Event(1)),
        ("UPDATE run SET unit_serial = '0018' WHERE id = 'r'", Place::Event(1)),
        ("UPDATE run SET header = replace(header, '0017', '0018') WHERE id = 'r'", Place::Event(1)),
        ("UPDATE transcript_batch SET entries = 3 WHERE run = 'r' AND number = 9", Place::Transcript(1)),
        (
            "UPDATE sweep SET hash = zeroblob(32) WHERE run = 'r' AND reading = 2 AND ordinal = 1",
            Place::Event(8),
        ),
        ("UPDATE event SET digest = zeroblob(32) WHERE run = 'r' AND sequence = 4", Place::Event(4)),
        ("UPDATE event SET digest = x'00' WHERE run = 'r' AND sequence = 4", Place::Event(4)),
    ] {
        let (at, kind, what) = after(change);
        assert_eq!((at, kind), (place, BreakKind::Altered), "{change}: {what}");
    }
    assert_eq!(
        after("UPDATE reading SET level_dbm = -40 WHERE run = 'r' AND ordinal = 2").2,
        "event 8 (reading 2 with its looks and sweeps) is not what was recorded"
    );
}

#[test]
fn what_is_behind_a_hash_is_looked_at_too() {
    let (place, kind, what) = after(
        "UPDATE sweep SET codec = 0, data = zeroblob(4 * n) WHERE run = 'r' AND reading = 2 AND acquisition = 1 AND ordinal = 3",
    );
    assert_eq!((place, kind), (Place::Event(8), BreakKind::Altered));
    assert_eq!(what, "the levels of sweep 3 of look 1 of reading 2 are not what was recorded");
    let swapped = "UPDATE sweep SET data = (SELECT data FROM sweep WHERE run = 'r' AND reading = 2 AND acquisition = 1 AND ordinal = 2)
                   WHERE run = 'r' AND reading = 2 AND acquisition = 1 AND ordinal = 3";
    assert_eq!(after(swapped).1, BreakKind::Altered);
    let broken =
        "UPDATE sweep SET data = x'00' WHERE run = 'r' AND reading = 2 AND acquisition = 1 AND ordinal = 3";
    assert!(after(broken).2.contains("cannot be read"));
    let huge =
        "UPDATE sweep SET n = 4000000000 WHERE run = 'r' AND reading = 2 AND acquisition = 1 AND ordinal = 3";
    assert_eq!(after(huge).1, BreakKind::Altered);
    for emptied in [
        "UPDATE sweep SET codec = 2, data = x'' WHERE run = 'r' AND reading = 2",
        "UPDATE transcript_batch SET codec = 2, data = x'' WHERE run = 'r'",
    ] {
        let (_, kind, what) = after(emptied);
        assert_eq!(kind, BreakKind::Missing);
        assert!(what.ends_with("are gone, and nothing says who took them out"), "{what}");
    }
    let (place, kind, _) =
        after("UPDATE transcript_batch SET codec = 0, data = x'0102' WHERE run = 'r' AND number = 9");
    assert_eq!((place, kind), (Place::Transcript(1), BreakKind::Altered));
}

#[test]
fn what_is_taken_out_is_called_missing() {
    for (change, place, kind) in [
        ("DELETE FROM event WHERE run = 'r' AND sequence = 5", Place::Link(5), BreakKind::Missing),
        ("DELETE FROM event WHERE run = 'r' AND sequence IN (5, 6)", Place::Link(5), BreakKind::Missing),
        ("DELETE FROM event WHERE run = 'r' AND sequence = 14", Place::Link(15), BreakKind::Missing),
        ("DELETE FROM event WHERE run = 'r' AND sequence > 8; DELETE FROM transcript_batch WHERE run = 'r'",
         Place::Link(9), BreakKind::Missing),
        ("DELETE FROM transcript_batch WHERE run = 'r' AND number = 9", Place::Link(9), BreakKind::Missing),
        ("DELETE FROM event WHERE run = 'r'; DELETE FROM transcript_batch WHERE run = 'r'", Place::Link(1), BreakKind::Missing),
        // The places closed up behind it: the next one does not follow.
        ("DELETE FROM event WHERE run = 'r' AND sequence = 5;
          UPDATE event SET number = number - 1 WHERE run = 'r' AND number > 5;
          UPDATE transcript_batch SET number = number - 1 WHERE run = 'r'; UPDATE run SET links = links - 1 WHERE id = 'r'",
         Place::Event(6), BreakKind::Unlinked),
    ] {
        let (at, found, what) = after(change);
        assert_eq!((at, found), (place, kind), "{change}: {what}");
    }
}

#[test]
fn what_is_put_in_or_moved_is_called_so() {
    for (change, place, kind) in [
        ("INSERT INTO event (run, sequence, at, kind, detail) VALUES ('r', 99, '2026', 'note', '{\"note\":\"x\"}')",
         Place::Event(99), BreakKind::Inserted),
        ("INSERT INTO reading SELECT run, 9, quantity, channel, power_setting, supply, path, harmonic_order, frequency_hz,
          value, unit, level_dbm, bound, limit_dbm, limit_low, limit_high, margin_db, expanded_uncertainty_db, outcome,
          reason_code, reason, at, detail FROM reading WHERE run = 'r' AND ordinal = 1", Place::Run, BreakKind::Inserted),
        ("INSERT INTO transcript (run, at, link, direction, step, bytes) VALUES ('r', '2026', 'a', 'to', 's', x'00')",
         Place::Run, BreakKind::Inserted),
        ("INSERT INTO transcript_batch (run, entries, size, codec, data) VALUES ('r', 0, 0, 0, x'')",
         Place::Transcript(3), BreakKind::Inserted),
        // Two events have changed places, hashes and all.
        ("UPDATE event SET number = CASE number WHEN 5 THEN 6 ELSE 5 END WHERE run = 'r' AND number IN (5, 6)",
         Place::Event(6), BreakKind::Reordered),
    ] {
        let (at, found, what) = after(change);
        assert_eq!((at, found), (place, kind), "{change}: {what}");
    }
}

/// An event put between two others with a link of its own that fits the one before: the next one gives it away.
#[test]
fn an_event_with_a_link_of_its_own_is_found_by_the_next() {
    let (folder, raw) = record();
    raw.execute_batch(
        "UPDATE event SET number = number + 1 WHERE run = 'r' AND number > 4;
         UPDATE transcript_batch SET number = number + 1 WHERE run = 'r';
         UPDATE run SET links = links + 1 WHERE id = 'r';
         UPDATE event SET sequence = sequence + 100 WHERE run = 'r' AND sequence > 4;
         INSERT INTO event (run, sequence, at, kind, detail, number) VALUES ('r', 50, '2026', 'note', '{\"note\":\"x\"}', 5)",
    ).unwrap();
    let digest = rows::event(&raw, &run(), 50).unwrap();
    let before: Hash =
        raw.query_row("SELECT link FROM event WHERE run = 'r' AND number = 4", [], |row| row.get(0)).unwrap();
    raw.execute(
        "UPDATE event SET digest = ?1, link = ?2 WHERE run = 'r' AND sequence = 50",
        rusqlite::params![digest, chain::link(before, digest)],
    )
    .unwrap();
    let breaks = found(&folder).breaks;
    assert!(
        breaks
            .iter()
            .any(|found| found.kind == BreakKind::Inserted && found.what.contains("right after link 4")),
        "{breaks:?}"
    );
}

#[test]
fn the_row_of_the_run_cannot_say_otherwise() {
    for change in [
        "UPDATE run SET outcome = 'complies' WHERE id = 'r'",
        "UPDATE run SET state = 'finished' WHERE id = 'r'",
        "UPDATE run SET ended = '2026-11-25T11:30:15.000000000Z' WHERE id = 'r'",
        "UPDATE run SET readings = 2 WHERE id = 'r'",
        "UPDATE run SET head = zeroblob(32) WHERE id = 'r'",
        "UPDATE run SET links = 3 WHERE id = 'r'",
        "UPDATE run SET chain = 7 WHERE id = 'r'",
    ] {
        let (place, kind, what) = after(change);
        assert_eq!((place, kind), (Place::Run, BreakKind::Altered), "{change}: {what}");
    }
}

/// Who makes the whole chain anew leaves it whole: the head that was written down elsewhere is another one.
#[test]
fn a_chain_that_was_made_anew_has_another_head() {
    let (folder, raw) = record();
    let before = found(&folder);
    raw.execute_batch("UPDATE event SET detail = '{\"note\":\"cold\"}' WHERE run = 'r' AND sequence = 12")
        .unwrap();
    let mut link = Hash::ORIGIN;
    let places: Vec<(i64, bool)> = raw
        .prepare(
            "SELECT sequence, 1, number FROM event WHERE run = 'r' UNION ALL
                  SELECT ordinal, 0, number FROM transcript_batch WHERE run = 'r' ORDER BY 3",
        )
        .unwrap()
        .query_map([], |row| Ok((row.get(0)?, row.get(1)?)))
        .unwrap()
        .map(Result::unwrap)
        .collect();
    for (place, is_event) in places {
        let digest =
            if is_event { rows::event(&raw, &run(), place) } else { rows::batch(&raw, place) }.unwrap();
        link = chain::link(link, digest);
        let (table, key) =
            if is_event { ("event", "run = 'r' AND sequence") } else { ("transcript_batch", "ordinal") };
        raw.execute(
            &format!("UPDATE {table} SET digest = ?1, link = ?2 WHERE {key} = ?3"),
            rusqlite::params![digest, link, place],
        )
        .unwrap();
    }
    raw.execute("UPDATE run SET head = ?1 WHERE id = 'r'", [link]).unwrap();
    let after = found(&folder);
    assert_eq!(after.standing, Standing::Whole, "{:?}", after.breaks);
    assert_ne!(after.head, before.head);
}

/// Every column of every table that a run has is either hashed or named here with what stands for it.
#[test]
fn no_column_is_left_out_by_oversight() {
    let (_folder, raw) = record();
    let others: [(&rows::Part, &[&str]); 8] = [
        (&rows::EVENT, &["number", "digest", "link"]),
        // The end by the event of the end, the rest by the chain itself.
        (&rows::RUN, &["ended", "state", "outcome", "readings", "chain", "links", "head"]),
        (&rows::TEXT, &[]),
        (&rows::INSTRUMENT, &[]),
        (&rows::READING, &[]),
        (&rows::ACQUISITION, &[]),
        // By their hash.
        (&rows::SWEEP, &["codec", "data"]),
        (&rows::BATCH, &["ordinal", "codec", "data", "number", "digest", "link"]),
    ];
    for (part, not_hashed) in others {
        let mut all: Vec<String> = raw
            .prepare("SELECT name FROM pragma_table_info(?1)")
            .unwrap()
            .query_map([part.table], |row| row.get(0))
            .unwrap()
            .map(Result::unwrap)
            .collect();
        let mut named: Vec<String> = part.columns.split(',').map(|name| name.trim().to_owned()).collect();
        named.extend(not_hashed.iter().map(|name| (*name).to_owned()));
        all.sort();
        named.sort();
        assert_eq!(named, all, "{}", part.table);
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    /// One byte of one hash, of one text, anywhere.
    #[test]
    fn a_flipped_byte_anywhere_shows(
        (table, column) in prop::sample::select(vec![
            ("event", "detail"), ("event", "at"), ("event", "kind"), ("event", "digest"), ("event", "link"), ("reading", "detail"),
            ("reading", "at"), ("reading", "channel"), ("acquisition", "at"), ("acquisition", "purpose"), ("sweep", "hash"),
            ("text", "text"), ("text", "name"), ("instrument", "serial"), ("transcript_batch", "hash"), ("transcript_batch", "link"),
        ]),
        row in any::<prop::sample::Index>(), byte in any::<prop::sample::Index>(),
    ) {
        let (folder, raw) = record();
        let all = format!("SELECT rowid, CAST({column} AS BLOB), typeof({column}) FROM {table} WHERE run = 'r' AND {column} IS NOT NULL");
        let all: Vec<(i64, Vec<u8>, String)> = raw.prepare(&all).unwrap()
            .query_map([], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?))).unwrap().map(Result::unwrap).collect();
        let (row, mut value, kind) = all[row.index(all.len())].clone();
        prop_assume!(!value.is_empty());
        let at = byte.index(value.len());
        value[at] ^= 1;
        let kind = if kind == "text" { "TEXT" } else { "BLOB" };
        raw.execute(&format!("UPDATE {table} SET {column} = CAST(?1 AS {kind}) WHERE rowid = ?2"), rusqlite::params![value, row]).unwrap();
        // It is told, or the row cannot be read any more: never is it whole.
        let found = Store::open_read_only(folder.path()).unwrap().verify(&run());
        prop_assert!(found.as_ref().map_or(true, |found| found.standing == Standing::Broken), "{:?}", found);
    }
}
