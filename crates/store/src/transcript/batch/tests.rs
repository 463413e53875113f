//! Messages come back as they were, and no file makes this program panic or take memory without end.

use jiff::Timestamp;
use proptest::prelude::*;

use super::super::Direction;
use super::*;

fn entry() -> impl Strategy<Value = TranscriptEntry> {
    let direction = prop::sample::select(vec![
        Direction::To,
        Direction::From,
        Direction::Unreadable,
        Direction::Lost,
        Direction::Resumed,
    ]);
    let at = (any::<i32>(), 0..1_000_000_000i32).prop_map(|(s, n)| Timestamp::new(i64::from(s), n).unwrap());
    let bytes = prop_oneof![
        prop::collection::vec(any::<u8>(), 0..40),
        (any::<u8>(), 0usize..9000).prop_map(|(byte, count)| vec![byte; count]),
    ];
    (at, "[a-c]?µ?", direction, "[x-z]{0,2}", bytes).prop_map(|(at, link, direction, step, bytes)| {
        TranscriptEntry { at, link: link.into(), direction, step: step.into(), bytes }
    })
}

fn back(batch: &Batch) -> Result<Vec<TranscriptEntry>, Damage> {
    let mut into = Vec::new();
    let Batch { entries, size, codec, data, .. } = batch;
    Stored { entries: *entries, size: *size, codec: *codec, data }.unpack(&mut into).map(|()| into)
}

proptest! {
    #[test]
    fn messages_come_back(entries in prop::collection::vec(entry(), 0..60)) {
        let mut found = Vec::new();
        for batch in all(&entries) {
            found.extend(back(&batch).unwrap());
        }
        prop_assert_eq!(found, entries);
    }

    #[test]
    fn any_bytes_are_messages_or_an_error(
        data in prop::collection::vec(any::<u8>(), 0..400), entries in -2i64..40, size in -2i64..500, codec in 0i64..3,
    ) {
        drop(back(&Batch { entries, size, codec, data, hash: Hash::default() }));
    }

    /// Compressed soundly, so that the bytes reach the unpacking.
    #[test]
    fn any_packed_bytes_are_messages_or_an_error(
        data in prop::collection::vec(prop_oneof![0u8..4, any::<u8>()], 0..400), entries in 0i64..60,
    ) {
        let (size, data) = (data.len() as i64, deflate(&data).unwrap());
        drop(back(&Batch { entries, size, codec: ZLIB, data, hash: Hash::default() }));
    }

    #[test]
    fn a_damaged_batch_is_an_error(
        entries in prop::collection::vec(entry(), 1..20), at: prop::sample::Index, flip in 1u8..,
    ) {
        let mut batch = all(&entries).next().unwrap();
        prop_assume!(batch.codec == ZLIB);
        let at = at.index(batch.data.len());
        // The two bytes of the header (RFC 1950, 2.2) may be other ones that mean the same.
        prop_assume!(at >= 2);
        batch.data[at] ^= flip;
        // Adler-32 (RFC 1950, 9) finds every single changed byte of the content; a flip in the compressed form may
        // also lie in bits that no one reads.
        prop_assert!(back(&batch).is_err() || back(&batch).is_ok_and(|same| same == entries));
    }
}

fn plain(bytes: usize) -> TranscriptEntry {
    TranscriptEntry {
        at: Timestamp::UNIX_EPOCH,
        link: "analyser".into(),
        direction: Direction::From,
        step: "line".into(),
        bytes: vec![b'0'; bytes],
    }
}

#[test]
fn batches_are_bounded_and_nothing_is_lost_between_them() {
    let many = vec![plain(0); ENTRIES + 1];
    let counts: Vec<i64> = all(&many).map(|batch| batch.entries).collect();
    assert_eq!(counts, [ENTRIES as i64, 1]);
    let large = [plain(3), plain(BYTES + 1), plain(3), plain(3)];
    let counts: Vec<i64> = all(&large).map(|batch| batch.entries).collect();
    assert_eq!(counts, [1, 1, 2]);
    assert_eq!(all(&[]).count(), 0);
}

/// A few kilobytes that inflate to more than a batch may be, told as what they are and told as little.
#[test]
fn a_bomb_is_refused_before_it_goes_off() {
    let mut encoder = ZlibEncoder::new(Vec::new(), Compression::best());
    for _ in 0..25 {
        encoder.write_all(&vec![0; 4 << 20]).unwrap();
    }
    let data = encoder.finish().unwrap();
    assert!(data.len() < 1 << 20);
    for (size, says) in
        [(100 << 20, "claims more bytes"), (i64::MAX, "claims more bytes"), (100, "another size")]
    {
        let error = back(&Batch { entries: 1, size, codec: ZLIB, data: data.clone(), hash: Hash::default() })
            .unwrap_err();
        assert!(error.to_string().contains(says), "{error}");
    }
}

#[test]
fn hostile_counts_and_lengths_are_refused() {
    let good = all(&[plain(7)]).next().unwrap();
    for entries in [-1, 0, 2, ENTRIES as i64 + 1, i64::MAX] {
        assert!(back(&Batch { entries, data: good.data.clone(), ..good }).is_err(), "{entries}");
    }
    // Direction, the names `a` and `b`, the time, and a message of 2^63 bytes that are not there.
    let mut data = vec![0, 0, 1, b'a', 1, 1, b'b', 0];
    super::super::wire::put_number(&mut data, 1 << 63);
    let error =
        back(&Batch { entries: 1, size: data.len() as i64, codec: AS_IT_IS, data, hash: Hash::default() })
            .unwrap_err();
    assert!(error.to_string().contains("in the middle of a message"), "{error}");
}
