//! Slips in small rules, each found and named.

use spurline_document::Document;

use crate::Rule;

const HEAD: &str = "rule: demo\ntitle: Demo\nsource: Nowhere 1\nedition: '2020'\nstatus: from-memory\nreference_bandwidth: 1 kHz\n";

/// Everything that is found and not expected, as `kind place`.
fn slips(body: &str) -> Vec<String> {
    let document = Document::parse("demo.yaml", &format!("{HEAD}{body}")).unwrap();
    let rule = Rule::read(&document).unwrap_or_else(|mistakes| panic!("{mistakes}"));
    let open = rule.lint().into_iter().filter(|remark| remark.because.is_none());
    open.map(|remark| format!("{} {}", remark.flaw, remark.place)).collect()
}

fn rows(rows: &str) -> String {
    format!("paragraphs:\n  - paragraph: one\n    source: x\n    limits:\n{rows}")
}

#[test]
fn a_gap_between_rows_is_found_and_one_before_them_is_none() {
    let body = rows(
        "      - { when: { offset: { above: 5 kHz, below: 10 kHz } }, says: x, limit: { below: 25 dB } }
      - { when: { offset: { above: 10 kHz, at_most: 20 kHz } }, says: x, limit: { below: 25 dB } }
      - { when: { offset: { above: 30 kHz } }, says: x, limit: { below: 25 dB } }
",
    );
    assert_eq!(slips(&body), ["gap offset 10 kHz", "gap offset 20 kHz..30 kHz"]);
}

#[test]
fn a_step_is_found_until_it_is_expected() {
    let body = rows(
        "      - { when: { offset: { at_most: 10 kHz } }, says: x, limit: { below: 25 dB } }
      - { says: x, limit: { below: 35 dB } }
",
    );
    assert_eq!(slips(&body), ["jump offset 10 kHz"]);
    let expected = |at: &str| format!("{body}expected: [ {{ finding: jump, at: [ {at} ], because: x }} ]\n");
    assert!(slips(&expected("offset 10 kHz")).is_empty());
    assert_eq!(slips(&expected("offset 12 kHz")), ["jump offset 10 kHz", "stale offset 12 kHz"]);
}

#[test]
fn rows_that_never_answer_and_rows_that_disagree_are_found() {
    let body = rows(
        "      - { when: { power: { above: 5 W } }, says: x, limit: { absolute: -13 dBm } }
      - { when: { carrier: { below: 30 MHz } }, says: x, limit: { absolute: -13.05 dBm } }
      - { when: { carrier: { below: 20 MHz } }, says: x, limit: { absolute: -13.05 dBm } }
      - { when: { power: { below: 1 W, above: 2 W } }, says: x, limit: { absolute: -13 dBm } }
      - { says: x, limit: { absolute: -13 dBm } }
",
    );
    let found = slips(&body);
    for slip in ["never-answers row 3", "never-answers row 4", "overlap rows 1 and 2"] {
        assert!(found.iter().any(|found| found == slip), "{slip}: {found:?}");
    }
}

#[test]
fn what_nothing_reaches_or_uses_is_found() {
    let body = "facts: { built: { kind: date, meaning: day } }
paragraphs:
  - { paragraph: one, source: x, no_limit: none }
  - { paragraph: two, source: x, no_limit: none }
";
    assert_eq!(slips(body), ["unused-fact built", "unreachable paragraph"]);
}
