//! The JUnit document: what does not comply must stop a pipeline.

mod specimen;

use roxmltree::{Document, Node};
use spurline_record::{Outcome, RunState};
use spurline_report::junit;

fn named<'a>(read: &'a Document<'a>, name: &str) -> Vec<Node<'a, 'a>> {
    read.descendants().filter(|node| node.has_tag_name(name)).collect()
}

fn kinds(node: Node<'_, '_>) -> Vec<String> {
    let children = node.children().filter(|child| child.is_element() && !child.has_tag_name("system-out"));
    children.map(|child| child.tag_name().name().to_owned()).collect()
}

#[test]
fn the_document_is_as_it_was() {
    insta::assert_snapshot!(junit(&specimen::run().view()).unwrap());
}

#[test]
fn every_outcome_has_its_place() {
    let run = specimen::run();
    let text = junit(&run.view()).unwrap();
    let read = Document::parse(&text).unwrap();
    assert_eq!(named(&read, "testsuite").len(), 2);
    let cases = named(&read, "testcase");
    assert_eq!(cases.len(), run.readings.len());
    for (case, reading) in cases.into_iter().zip(&run.readings) {
        let expected: &[&str] = match reading.outcome {
            Outcome::Complies => &[],
            Outcome::Exceeds | Outcome::Undecided => &["failure"],
            Outcome::Invalid => &["error"],
            Outcome::NoLimit => &["skipped"],
        };
        assert_eq!(kinds(case), expected, "reading {}", reading.ordinal);
        for told in case.children().filter(|child| child.has_attribute("message")) {
            assert_eq!(told.attribute("type"), Some(reading.outcome.word()));
            if let Some(reason) = &reading.reason {
                assert!(told.attribute("message").unwrap().contains(&reason.text));
            }
        }
    }
    let root = read.root_element();
    let counts = ["tests", "failures", "errors", "skipped"].map(|name| root.attribute(name).unwrap());
    assert_eq!(counts, ["12", "5", "1", "1"]);
}

#[test]
fn a_message_carries_the_figures() {
    let text = junit(&specimen::run().view()).unwrap();
    let read = Document::parse(&text).unwrap();
    assert_eq!(
        named(&read, "failure")[0].attribute("message"),
        Some("level -12.24 dBm, limit -16.02 dBm, margin -3.78 dB, U 0.61 dB")
    );
    assert!(text.contains("level at most -14.00 dBm"));
    assert!(text.contains("not evidence about a real transmitter"));
}

#[test]
fn no_time_is_made_up() {
    let text = junit(&specimen::run().view()).unwrap();
    let read = Document::parse(&text).unwrap();
    for node in read.descendants() {
        assert!(!node.has_attribute("time") && !node.has_attribute("timestamp"), "{node:?}");
    }
}

#[test]
fn a_run_that_did_not_finish_is_an_error_of_its_own() {
    let mut run = specimen::run();
    run.readings.retain(|reading| reading.outcome == Outcome::Complies);
    let errors = |run: &specimen::Specimen| {
        let text = junit(&run.view()).unwrap();
        let read = Document::parse(&text).unwrap();
        let errors = named(&read, "error").into_iter();
        errors.map(|error| error.attribute("message").unwrap().to_owned()).collect::<Vec<_>>()
    };
    assert_eq!(errors(&run), [""; 0]);
    for state in [RunState::Failed, RunState::Interrupted, RunState::Running] {
        run.state = state;
        let found = errors(&run);
        assert_eq!(found.len(), 1);
        assert!(found[0].starts_with("the run did not go to its end: "), "{}", found[0]);
        assert!(found[0].contains("failed at the supply: no answer within 2 s"), "{}", found[0]);
    }
    run.state = RunState::Finished;
    run.readings.clear();
    assert!(errors(&run)[0].starts_with("nothing was read"));
}

#[test]
fn what_instruments_and_files_say_stays_text() {
    let hostile = junit(&specimen::saying(&specimen::hostile()).view()).unwrap();
    let plain = junit(&specimen::saying("plain").view()).unwrap();
    let [hostile, plain] = [&hostile, &plain].map(|text| Document::parse(text).unwrap());
    let shape = |read: &Document<'_>| {
        let elements = read.descendants().filter(Node::is_element);
        elements.map(|node| (node.tag_name().name().to_owned(), node.attributes().len())).collect::<Vec<_>>()
    };
    assert_eq!(shape(&hostile), shape(&plain));
    // Nothing that stands behind a control character is lost.
    let said = named(&hostile, "failure")[1].attribute("message").unwrap().to_owned();
    assert!(said.contains("<script>") && said.contains(&"W".repeat(300)), "{said}");
}
