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
