//! Reading faults: what is usual, what is stated, and what means nothing.

use std::collections::BTreeSet;

use super::super::tests::{WHOLE, read};
use super::*;

fn faults(list: &str) -> Result<Vec<Fault>, String> {
    let (before, _) = WHOLE.split_once("  faults:").unwrap();
    read(&format!("{before}  faults:\n    - {list}\n")).map(|bench| bench.faults)
}

#[test]
fn every_fault_needs_its_word_only() {
    for (word, does) in Does::ALL {
        let read = faults(&format!("{{ instrument: relay, does: {word} }}"));
        assert_eq!(read, Ok(vec![Fault::new(Role::Relay, *does)]), "{word}");
        assert_eq!(does.word(), *word);
    }
    let words: BTreeSet<_> = Does::ALL.iter().map(|(word, _)| word).collect();
    assert_eq!(words.len(), Does::ALL.len());
    assert!(words.iter().all(|word| word.bytes().all(|b| b.is_ascii_lowercase() || b == b'-')));
}

#[test]
fn an_instrument_may_have_several_faults_and_each_may_be_told_apart() {
    let read = faults(
        "{ instrument: analyser, does: late-answer, on: \"trac?\", by: 8 s, times: 3, after_messages: 4 }\n    \
         - { instrument: analyser, does: short-input, bytes: 64, chance: 5 %, lasts: 2 min }\n    \
         - { instrument: analyser, does: slow-sweep, count: 7 }",
    );
    let usual = |does| Fault::new(Role::Analyser, does);
    let expected = vec![
        Fault {
            on: Some("TRAC?".to_owned()),
            by: Duration::from_secs(8),
            times: Some(3),
            after_messages: 4,
            ..usual(Does::LateAnswer)
        },
        Fault { bytes: 64, chance: 0.05, lasts: Some(Duration::from_secs(120)), ..usual(Does::ShortInput) },
        Fault { count: 7, ..usual(Does::SlowSweep) },
    ];
    assert_eq!(read, Ok(expected));
}

#[test]
fn what_means_nothing_is_a_mistake() {
    for (fault, told) in [
        ("does: nul-byte", "did you mean `nul-bytes`?"),
        ("does: zap", "known here: late-answer, late-answers,"),
        ("does: nul-bytes, by: 2 s", "`by` means nothing to the fault `nul-bytes`"),
        ("does: nul-bytes, count: 2", "the fault takes on, times, chance"),
        ("does: busy-mute, on: X", "`on` means nothing to the fault `busy-mute`"),
        ("does: wants-cr-lf, times: 2", "nothing but `after_messages` and `lasts`"),
        ("does: trickle, bytes: 0", "expected a number of bytes from 1 to 1048576, found `0`"),
        ("does: nul-bytes, chance: 101 %", "expected a chance from 0 % to 100 %, found 101 %"),
        ("does: nul-bytes, chance: 0.5", "expected a share with its unit"),
        ("does: nul-bytes, times: 0", "expected a number from 1"),
    ] {
        let mistakes = faults(&format!("{{ instrument: relay, {fault} }}")).unwrap_err();
        assert!(mistakes.contains(told), "{told}\n{mistakes}");
    }
}

/// The table in the book says of every fault what it is unless stated otherwise.
#[test]
fn the_book_explains_every_fault() {
    let book = include_str!("../../../../../docs/src/faults.md");
    for (word, does) in Does::ALL {
        let start =
            |line: &&str| line.split('|').nth(2).is_some_and(|cell| cell.contains(&format!("`{word}`")));
        let rows: Vec<&str> = book.lines().filter(start).collect();
        let [row] = rows[..] else { panic!("`{word}` has {} rows", rows.len()) };
        let usual = row.split('|').nth(4).unwrap();
        let nature = does.nature();
        let time = |key: &str, time: Option<Duration>| time.map(|t| format!("`{key}: {}`", Seconds::from(t)));
        let number = |key: &str, number: Option<u32>| number.map(|number| format!("`{key}: {number}`"));
        let stated = [
            time("by", nature.by),
            time("lasts", nature.lasts),
            number("bytes", nature.bytes),
            number("count", nature.count),
            nature.times.map(|times| if times == 1 { "once".to_owned() } else { format!("{times} times") }),
            (nature.befalls == Befalls::Instrument).then(|| "from the beginning".to_owned()),
        ];
        let stated: BTreeSet<String> = stated.into_iter().flatten().collect();
        let said: BTreeSet<String> =
            usual.split(',').map(str::trim).filter(|part| !part.is_empty()).map(str::to_owned).collect();
        assert_eq!(said, stated, "{word}");
    }
}
