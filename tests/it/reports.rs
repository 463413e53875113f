//! Reports by the built program: every format, the schema of the document for programs, and what a plan states for reports.

use std::path::Path;

use serde_json::Value;

use crate::bench::{Workshop, root, shipped};

/// A workshop in which the demonstration's bench was measured with what the plan states for reports replaced.
fn measured(stated: &[(&str, &str)]) -> Workshop {
    let shorter = [("up_to: 10", "up_to: 3")];
    let replaced: Vec<(&str, &str)> = shorter.into_iter().chain(stated.iter().copied()).collect();
    let workshop = shipped(("demo", "demo"), &replaced, &[]);
    let called = workshop.call(&["run", "plan.yaml", "--json"]);
    assert_eq!(called.exit, 1, "{called:?}");
    workshop
}

/// A workshop with such a run, its document for programs, and the schema of that.
fn documented() -> (Workshop, Value, Value) {
    let workshop = measured(&[]);
    let document = workshop.call(&["report", "last", "--format", "json"]).json();
    let text = std::fs::read_to_string(root().join("config/schemas/report.json")).unwrap();
    (workshop, document, serde_json::from_str(&text).unwrap())
}

fn validator(schema: &Value) -> jsonschema::Validator {
    jsonschema::draft202012::meta::validate(schema).unwrap();
    jsonschema::draft202012::new(schema).unwrap()
}

fn assert_valid(schema: &jsonschema::Validator, document: &Value) {
    let wrong: Vec<String> =
        schema.iter_errors(document).map(|error| format!("{}: {error}", error.instance_path())).collect();
    assert!(wrong.is_empty(), "{wrong:#?}");
}

#[test]
fn the_document_is_as_its_schema_says() {
    let (workshop, document, schema) = documented();
    let schema = validator(&schema);
    assert_valid(&schema, &document);
    assert_valid(&schema, &workshop.call(&["show", "last", "--json"]).json());
    let stated = &document["report"]["issue"];
    assert_eq!((&stated["laboratory"], &stated["received"]), (&"Example Laboratory".into(), &Value::Null));
    assert_eq!(document["report"]["head"].as_str().unwrap().len(), 64);
    // It does tell a document that is not one.
    for (place, wrong) in [("/outcome", "fine"), ("/readings/0/bound", "no"), ("/report/head", "x")] {
        let mut other = document.clone();
        *other.pointer_mut(place).unwrap() = wrong.into();
        assert!(!schema.is_valid(&other), "{place}");
    }
    let mut short = document.clone();
    short["readings"][0].as_object_mut().unwrap().remove("margin_db").unwrap();
    assert!(!schema.is_valid(&short));
    let printed = workshop.call(&["schema", "report"]);
    assert_eq!((printed.exit, &printed.json()["title"]), (0, &"Report".into()));
}

/// Every key of the document is explained by the schema, at every place.
#[test]
fn the_schema_knows_every_key() {
    let (_workshop, document, schema) = documented();
    let known = |place: &str, keys: &Value| {
        let properties = schema.pointer(&format!("{place}/properties")).unwrap().as_object().unwrap();
        for key in keys.as_object().unwrap().keys() {
            assert!(properties.contains_key(key), "{place}: {key}");
            let explained = properties[key].get("description").is_some();
            assert!(explained || properties[key].get("$ref").is_some(), "{place}: {key} is not explained");
        }
    };
    known("", &document);
    for reading in document["readings"].as_array().unwrap() {
        known("/$defs/reading", reading);
    }
    known("/properties/report/oneOf/1", &document["report"]);
    known("/properties/report/oneOf/1/properties/issue", &document["report"]["issue"]);
}

#[test]
fn a_pdf_is_written_and_is_the_same_again() {
    let workshop = measured(&[("customer: Example Radio Works", "customer: Somebody Else")]);
    let write = |name: &str, more: &[&str]| {
        let first = ["report", "last", "--format", "pdf", "--output", name];
        let called = workshop.call(&first.into_iter().chain(more.iter().copied()).collect::<Vec<_>>());
        assert_eq!(called.exit, 0, "{called:?}");
        std::fs::read(workshop.path(name)).unwrap()
    };
    let (once, again) = (write("once.pdf", &[]), write("again.pdf", &[]));
    assert!(once.starts_with(b"%PDF-1.") && once.ends_with(b"%%EOF"));
    assert!(once == again, "the same record gave other bytes");
    assert!(once != write("letter.pdf", &["--paper", "letter"]));
    assert!(once != write("issued.pdf", &["--issued", "2026-12-01"]));
    let refused = workshop.call(&["report", "last", "--issued", "tomorrow"]);
    assert_eq!(refused.exit, 2);
    assert!(refused.talk.contains("expected a day as year, month and day, found `tomorrow`"), "{refused:?}");
    let text = text_of(&workshop.path("issued.pdf"));
    assert!(
        text.contains("never proven: spurline prove reads") && !text.contains('`'),
        "code is set as code"
    );
    for words in ["Somebody Else", "Date of issue: 2026-12-01", "End of report", "page 1 of"] {
        assert!(text.contains(words), "{words}");
    }
}

/// What poppler reads in a PDF.
fn text_of(file: &Path) -> String {
    let told = std::process::Command::new("pdftotext")
        .args(["-layout".as_ref(), file.as_os_str()])
        .arg("-")
        .output();
    let told = told.expect("pdftotext is there: `scripts/test` installs poppler-utils");
    assert!(told.status.success(), "{told:?}");
    String::from_utf8_lossy(&told.stdout).into_owned()
}

#[test]
fn markdown_lists_what_does_not_comply() {
    let workshop = measured(&[("title: Conducted", "title: \"*Con* | <b>\" # ")]);
    let called = workshop.call(&["report", "last", "--format", "markdown"]);
    assert_eq!(called.exit, 0, "{called:?}");
    for words in [
        "## \\*Con\\* \\| &lt;b&gt;: exceeds",
        "| 9 | Harmonic 3 at 443.4 MHz, VHF high, 147.8 MHz, power high, supply battery |",
        "✗ exceeds",
        "### Smallest margins of what complies",
        "The whole report: `spurline report 2",
    ] {
        assert!(called.out.contains(words), "`{words}` is not in:\n{}", called.out);
    }
}

/// The worst of all comes first where no frequency orders the lines.
#[test]
fn a_summary_names_the_worst_first() {
    let workshop = measured(&[]);
    assert_eq!(workshop.call(&["report", "last", "--format", "pdf", "--out", "run.pdf"]).exit, 0);
    let text = text_of(&workshop.path("run.pdf"));
    let summary = text.split("What exceeds").next().unwrap();
    let place = |words: &str| summary.find(words).unwrap_or_else(|| panic!("`{words}` is not in {summary}"));
    assert!(place("Harmonic: ") < place("Carrier power: "), "{summary}");
    let full = text.split("Readings in full").last().unwrap();
    let first = full.split("Reading ").nth(1).unwrap();
    assert!(first.contains("exceeds"), "{first}");
}

#[test]
fn a_batch_comes_in_every_format() {
    let workshop = measured(&[]);
    let json = workshop.call(&["batch", "last", "--json"]);
    for (format, words) in [
        ("html", "<h1>Batch of 1 unit</h1>"),
        ("csv", "reading,state,frequency_hz,serial,run"),
        ("json", "\"outcome\": \"exceeds\""),
        ("markdown", "## Batch of 1 unit: exceeds"),
    ] {
        let called = workshop.call(&["batch", "last", "--format", format]);
        assert_eq!(called.exit, 1, "{called:?}");
        assert!(called.out.contains(words), "{format}: {}", called.out);
    }
    assert_eq!(workshop.call(&["batch", "last", "--format", "json"]).out, json.out);
    let table = workshop.call(&["batch", "last"]).out;
    let head: Vec<&str> = table.lines().skip_while(|line| !line.contains("median")).take(2).collect();
    let units: Vec<&str> = head[1].split_whitespace().collect();
    assert_eq!(units, ["dBm", "dB", "dB"], "{table}");
    let called = workshop.call(&["batch", "last", "--format", "pdf", "--out", "batch.pdf"]);
    assert_eq!(called.exit, 1, "{called:?}");
    assert!(std::fs::read(workshop.path("batch.pdf")).unwrap().starts_with(b"%PDF-1."));
    assert_eq!(workshop.call(&["batch", "last", "--format", "json", "--json"]).exit, 2);
}

/// Runs of another firmware are no other units: the batch says which there are, and takes those of one.
#[test]
fn a_batch_of_several_firmwares_says_so() {
    let workshop = measured(&[]);
    assert_eq!(workshop.call(&["run", "plan.yaml", "--firmware", "9.9", "--json"]).exit, 1);
    let title = workshop.call(&["show", "last", "--json"]).json()["plan"].as_str().unwrap().to_owned();
    let batch = |more: &[&str]| {
        let called = workshop.call(&[&["batch", "--plan", &title][..], more].concat());
        (
            called.exit,
            format!("{} {}", called.out, called.talk).split_whitespace().collect::<Vec<_>>().join(" "),
        )
    };
    let (_, both) = batch(&[]);
    assert!(both.contains("several firmwares, 1.0.3 (1 run), 9.9 (1 run)"), "{both}");
    let (exit, one) = batch(&["--firmware", "9.9"]);
    assert!(exit == 1 && !one.contains("firmwares"), "{one}");
    let (exit, none) = batch(&["--firmware", "8"]);
    assert!(exit == 2 && none.contains("with firmware `8`"), "{none}");
    let runs = workshop.call(&["runs", "--json"]).json();
    let [newer, older] = [0, 1].map(|place| runs["runs"][place]["run"].as_str().unwrap().to_owned());
    // What is asked of all runs of a plan is asked of those that are named as well.
    let named = |more: &[&str]| {
        let called = workshop.call(&[&["batch", &older, &newer][..], more].concat());
        let talk = called.talk.split_whitespace().collect::<Vec<_>>().join(" ");
        (called.exit, called.out, talk)
    };
    for (more, why) in [
        (&["--firmware", "9.9"][..], "its firmware is 1.0.3".to_owned()),
        (&["--newest-per-unit"][..], format!("run {newer} of this unit is newer")),
    ] {
        let (exit, out, talk) = named(&[more, &["--json"]].concat());
        let document: Value = serde_json::from_str(&out).unwrap();
        assert_eq!((exit, document["runs"].as_array().unwrap().len()), (1, 1), "{document:#}");
        assert_eq!(document["runs"][0]["run"], newer.as_str());
        assert!(talk.contains(&format!("left out: run {older}")) && talk.contains(&why), "{talk}");
    }
    let (exit, _, talk) = named(&["--firmware", "8"]);
    assert!(
        exit == 2 && talk.contains("none of the runs that were named is one with firmware `8`"),
        "{talk}"
    );
}

#[test]
fn mistakes_in_what_a_plan_states_are_told_with_their_places() {
    let stated = [("customer: Example Radio Works", "received: tomorrow\n  custumer: Example Radio Works")];
    let workshop = shipped(("demo", "demo"), &stated, &[]);
    let called = workshop.call(&["check", "plan.yaml"]);
    assert_eq!(called.exit, 2, "{called:?}");
    for words in [
        "expected a day, found `tomorrow`",
        "2026-01-10",
        "`custumer` is not a key",
        "did you mean `customer`?",
    ] {
        assert!(called.talk.contains(words), "`{words}` is not in:\n{}", called.talk);
    }
}
