//! What a person sees when a rule file is wrong, and that no file makes reading or judging panic.

use insta::assert_snapshot;
use proptest::prelude::*;
use spurline_document::{Document, Mistakes};
use spurline_units::{Hertz, Watts};

use crate::{Facts, Question, Rule, Verdict};

const HEAD: &str = "rule: demo\ntitle: Demo\nsource: Nowhere 1\nedition: none\nstatus: from-memory\nreference_bandwidth: 1 kHz\n";

fn read(text: &str) -> Result<Rule, Mistakes> {
    Document::parse("demo.yaml", text).and_then(|document| Rule::read(&document))
}

fn refused(body: &str) -> Mistakes {
    read(&format!("{HEAD}{body}")).unwrap_err()
}

fn question(mhz: f64, watts: f64) -> Question {
    Question::new(Hertz::from_mhz(mhz), Watts::new(watts)).unwrap()
}

#[test]
fn a_head_with_mistakes_tells_them_all() {
    assert_snapshot!(
        read("rule: Demo Rule\ntitle: Demo\nsorce: x\nstatus: sure\nreference_bandwidth: 5\nparagraphs: []\n")
            .unwrap_err(),
        @"
    error: the key `edition` is missing in a rule
     --> demo.yaml:1:1
      |
    1 | rule: Demo Rule
      | ^^^^
      |
      = help: keys of a rule: rule, title, source, edition, status, paragraphs, reference_bandwidth, reference_power, facts, tolerances, expected

    error: expected a name of small letters, digits and `-`, found `Demo Rule`
     --> demo.yaml:1:7
      |
    1 | rule: Demo Rule
      |       ^^^^^^^^^
      |
      = help: the name is also that of the file, without `.yaml`

    error: `sorce` is not a key of a rule
     --> demo.yaml:3:1
      |
    3 | sorce: x
      | ^^^^^
      |
      = help: did you mean `source`?

    error: expected a status, found `sure`
     --> demo.yaml:4:9
      |
    4 | status: sure
      |         ^^^^
      |
      = help: known here: verified, second-hand, from-memory

    error: expected a frequency with its unit, found the bare number `5`
     --> demo.yaml:5:22
      |
    5 | reference_bandwidth: 5
      |                      ^
      |
      = help: write the unit, for example `145.5 MHz`

    error: expected the paragraphs, found an empty list
     --> demo.yaml:6:13
      |
    6 | paragraphs: []
      |             ^
    "
    );
}

#[test]
fn conditions_with_mistakes() {
    assert_snapshot!(
        refused(
            "facts: { installed: { kind: date, meaning: day } }
paragraphs:
  - paragraph: one
    source: Nowhere 1(a)
    applies: { carier: { below: 30 MHz }, carrier: { before: 30 MHz } }
    limits:
      - { when: { installed: { after: 2003 } }, says: x, limit: { below: 43 dB } }
      - { when: { installed: { above: 2003-01-01 } }, says: x, limit: { below: 43 dB } }
      - { when: {}, says: x, limit: { below: 43 dB } }
"
        ),
        @"
    error: `carier` is nothing that a condition can look at
      --> demo.yaml:11:16
       |
    11 |     applies: { carier: { below: 30 MHz }, carrier: { before: 30 MHz } }
       |                ^^^^^^
       |
       = help: known here: carrier, power, emission, offset, offset_share, harmonic, any, installed; other facts are declared under `facts`

    error: a frequency is not compared by `before`
      --> demo.yaml:11:54
       |
    11 |     applies: { carier: { below: 30 MHz }, carrier: { before: 30 MHz } }
       |                                                      ^^^^^^
       |
       = help: known here: below, at_most, above, at_least, is

    error: expected a day as `YYYY-MM-DD`, found `2003`
      --> demo.yaml:13:39
       |
    13 |       - { when: { installed: { after: 2003 } }, says: x, limit: { below: 43 dB } }
       |                                       ^^^^

    error: a date is not compared by `above`
      --> demo.yaml:14:32
       |
    14 |       - { when: { installed: { above: 2003-01-01 } }, says: x, limit: { below: 43 dB } }
       |                                ^^^^^
       |
       = help: known here: before, on_or_before, after, on_or_after

    error: expected at least one test, found none
      --> demo.yaml:15:17
       |
    15 |       - { when: {}, says: x, limit: { below: 43 dB } }
       |                 ^
       |
       = help: leave the key out if it always holds
    "
    );
}

#[test]
fn limits_with_mistakes() {
    assert_snapshot!(
        refused(
            "facts: { pep: { kind: date, meaning: power } }
paragraphs:
  - paragraph: one
    source: Nowhere 1(a)
    limits:
      - { says: x, limit: { below: 43 } }
      - { says: x, limit: { below: 43 dB + 10 log pepp } }
      - { says: x, limit: { absolute: 0 W, below: 40 dB } }
      - { says: x, limit: { strictest: [] } }
      - { says: x, limit: { absolute: 0 W } }
"
        ),
        @"
    error: `pep` is a power in every rule, found date
     --> demo.yaml:7:23
      |
    7 | facts: { pep: { kind: date, meaning: power } }
      |                       ^^^^

    error: expected a ratio in dB with its unit, found the bare number `43`
      --> demo.yaml:12:36
       |
    12 |       - { says: x, limit: { below: 43 } }
       |                                    ^^
       |
       = help: write the unit, for example `30 dB`

    error: `pepp` is no power that a formula can use
      --> demo.yaml:13:36
       |
    13 |       - { says: x, limit: { below: 43 dB + 10 log pepp } }
       |                                    ^^^^^^^^^^^^^^^^^^^
       |
       = help: write `power`, or a fact of kind power that has `default: power`

    error: expected one of the keys `absolute`, `below`, `strictest`, `loosest` in a limit, found more than one
      --> demo.yaml:14:29
       |
    14 |       - { says: x, limit: { absolute: 0 W, below: 40 dB } }
       |                             ^^^^^^^^
       |
       = help: write just one of them: absolute, below, strictest, loosest

    error: expected the limits to choose from, found an empty list
      --> demo.yaml:15:40
       |
    15 |       - { says: x, limit: { strictest: [] } }
       |                                        ^

    error: expected a power from -300 dBm to 150 dBm, found `0 W`
      --> demo.yaml:16:39
       |
    16 |       - { says: x, limit: { absolute: 0 W } }
       |                                       ^^^
    "
    );
}

#[test]
fn bandwidths_must_rise() {
    let text = HEAD.replace(
        "1 kHz",
        "[ { emission_up_to: 30 MHz, bandwidth: 1 kHz }, { emission_up_to: 1 MHz, bandwidth: 1 kHz } ]",
    );
    assert_snapshot!(read(&format!("{text}paragraphs: [ {{ paragraph: a, source: a, no_limit: none }} ]")).unwrap_err(), @"
    error: expected ranges that rise, the last of them without an end
     --> demo.yaml:6:22
      |
    6 | reference_bandwidth: [ { emission_up_to: 30 MHz, bandwidth: 1 kHz }, { emission_up_to: 1 MHz, bandwidth: 1 kHz } ]
      |                      ^
      |
      = help: give each range but the last its `emission_up_to`
    ");
}

/// A limit that depends on the frequency of the emission is undetermined until that is known.
#[test]
fn an_emission_may_be_missing_like_a_fact() {
    let rule = read(&format!(
        "{HEAD}paragraphs:
  - paragraph: one
    source: Nowhere 1(a)
    limits:
      - {{ when: {{ emission: {{ at_most: 1 GHz }} }}, says: x, limit: {{ absolute: -36 dBm }} }}
      - {{ says: x, limit: {{ absolute: -30 dBm }} }}
"
    ))
    .unwrap();
    let finding = rule.limit(&question(146.0, 5.0), &Facts::default());
    let Verdict::Undetermined { missing, possible } = &finding.verdict else { panic!("{finding:?}") };
    assert_eq!(missing, &["at"]);
    let levels: Vec<_> = possible.iter().map(|finding| finding.level().unwrap().get()).collect();
    assert_eq!(levels, [-36.0, -30.0]);
    for (emission, level) in [(1000.0, -36.0), (1000.001, -30.0)] {
        let finding = rule.limit(&question(146.0, 5.0).at(Hertz::from_mhz(emission)), &Facts::default());
        assert_eq!(finding.level().unwrap().get(), level, "{emission} MHz");
    }
}

/// A date that a row needs is missing even where the exemption also asks for it.
#[test]
fn a_fact_of_both_exemption_and_row_is_missing() {
    let rule = read(&format!(
        "{HEAD}facts: {{ built: {{ kind: date, meaning: day }} }}
paragraphs:
  - paragraph: one
    source: Nowhere 1(a)
    exempt: {{ built: {{ before: 1970-01-01 }} }}
    limits:
      - {{ when: {{ built: {{ before: 1980-01-01 }} }}, says: x, limit: {{ below: 30 dB }} }}
      - {{ says: x, limit: {{ below: 40 dB }} }}
"
    ))
    .unwrap();
    let finding = rule.limit(&question(146.0, 5.0), &Facts::default());
    assert_eq!(finding.branches().len(), 3, "exempt, 30 dB, 40 dB: {finding:?}");
    assert!(finding.branches().iter().any(|branch| branch.verdict == Verdict::Exempt));
}

/// Facts were checked against one rule, and another may draw its line within a year that was given.
#[test]
fn a_year_that_another_rule_divides_is_missing_there() {
    let rule = |day: &str| {
        read(&format!(
            "{HEAD}facts: {{ built: {{ kind: date, meaning: day }} }}
paragraphs:
  - paragraph: one
    source: Nowhere 1(a)
    limits:
      - {{ when: {{ built: {{ before: {day} }} }}, says: x, limit: {{ below: 30 dB }} }}
      - {{ says: x, limit: {{ below: 40 dB }} }}
"
        ))
        .unwrap()
    };
    let mut facts = Facts::default();
    facts.set(&rule("1980-01-01"), "built", "1975").unwrap();
    assert!(rule("1980-01-01").limit(&question(7.0, 1.0), &facts).level().is_some());
    assert_eq!(rule("1975-06-01").limit(&question(7.0, 1.0), &facts).branches().len(), 2);
}

const SHIPPED: &str = include_str!("../../../../config/rules/us-part-97.yaml");

proptest! {
    #[test]
    fn reading_never_panics(body in "[-a-z0-9:,{}\\[\\] \n]{0,80}") {
        drop(read(&body));
        drop(read(&format!("{HEAD}paragraphs: {body}")));
    }

    /// A shipped file with one stretch replaced: whatever still reads must also judge.
    #[test]
    fn a_damaged_rule_reads_or_not_but_never_panics(
        at in 0..SHIPPED.len(),
        length in 0..40usize,
        patch in prop::sample::select(vec!["", "-", "0", "9", "e9", " W", " dB", "any: ", "[]", "{}", "\n", "below", "2003"]),
        mhz in prop::sample::select(vec![7.0, 146.0, 446.0]),
    ) {
        let end = (at + length).min(SHIPPED.len());
        if let Ok(rule) = read(&format!("{}{patch}{}", &SHIPPED[..at], &SHIPPED[end..])) {
            drop(rule.limit(&question(mhz, 5.0), &Facts::default()));
        }
    }
}
