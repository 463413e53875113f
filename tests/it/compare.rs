//! Comparisons of runs and batches of units, by the built program; and a small draw of the test of comparisons.
//! `scripts/compare-pairs` runs large ones.

use serde_json::Value;
use spurline_tests::pairs::{counted, page};

use crate::bench::{Called, Workshop, shipped};

/// Of so few pairs, shares say little: only what is far off would show.
#[test]
fn a_small_draw_of_pairs() {
    let count = counted(1..11, 2);
    assert_eq!((count.broken.len(), count.false_alarms.of), (0, 10), "{}", page(&count));
    assert!(count.false_alarms.hits <= 2 && count.at_detectable.of >= 5, "{}", page(&count));
    assert!(count.at_detectable.hits * 10 >= count.at_detectable.of * 7, "{}", page(&count));
    assert!(count.keeps_all(), "{}", page(&count));
}

/// A workshop in which the demonstration's bench was measured.
fn measured() -> Workshop {
    let workshop = shipped(("demo", "demo"), &[("up_to: 10", "up_to: 3")], &[]);
    run(&workshop);
    workshop
}

fn run(workshop: &Workshop) {
    let called = workshop.call(&["run", "plan.yaml", "--json"]);
    assert!(called.exit <= 1, "{called:?}");
}

/// Measures again after something of the bench was replaced.
fn again(workshop: &Workshop, replaced: &[(&str, &str)]) {
    let text = std::fs::read_to_string(workshop.path("bench.yaml")).unwrap();
    let text = replaced.iter().fold(text, |text, (from, to)| {
        assert!(text.contains(from), "`{from}` is not in:\n{text}");
        text.replace(from, to)
    });
    workshop.write("bench.yaml", &text);
    run(workshop);
}

/// The names of all runs, the oldest first.
fn runs(workshop: &Workshop) -> Vec<String> {
    let document = workshop.call(&["runs", "--json"]).json();
    let runs = document["runs"].as_array().unwrap();
    runs.iter().rev().map(|run| run["run"].as_str().unwrap().to_owned()).collect()
}

fn compare(workshop: &Workshop, more: &[&str]) -> Called {
    let runs = runs(workshop);
    let mut arguments = vec!["compare", &runs[0], "last"];
    arguments.extend(more);
    workshop.call(&arguments)
}

const NEW_FIRMWARE: [(&str, &str); 2] = [("visit: 0", "visit: 1"), ("firmware: 1.0.3", "firmware: 1.1.0")];

#[test]
fn an_update_that_changes_nothing_is_not_worse() {
    let workshop = measured();
    again(&workshop, &NEW_FIRMWARE);
    let called = compare(&workshop, &["--json"]);
    assert_eq!(called.exit, 0, "{called:?}");
    let document = called.json();
    assert_eq!(
        (&document["verdict"], &document["after"]["firmware"]),
        (&"nothing worse".into(), &"1.1.0".into())
    );
    for change in document["changes"].as_array().unwrap() {
        assert_eq!(change["real"], false);
        let says = change["statement"].as_str().unwrap();
        assert!(says.starts_with("no change larger than") && !says.contains("no change detected"), "{says}");
    }
    let text = compare(&workshop, &[]).out;
    assert!(text.lines().all(|line| line.chars().count() <= 80), "{text}");
    assert!(text.contains("firmware 1.0.3 -> 1.1.0") && text.contains("assumed"), "{text}");
}

/// The second harmonic of one channel comes 3 dB nearer to its limit and keeps it; the third of the other goes beyond it.
#[test]
fn an_update_that_lets_harmonics_rise_is_worse() {
    let workshop = measured();
    let risen = (
        "exceptions: [ { carrier: 147.8 MHz, power: high, order: 3, below: 49 dB } ]",
        "exceptions: [ { carrier: 147.8 MHz, power: high, order: 3, below: 49 dB }, { carrier: 144.2 MHz, power: high, order: 2, below: 50 dB } ]",
    );
    again(&workshop, &[NEW_FIRMWARE[0], NEW_FIRMWARE[1], risen]);
    let called = compare(&workshop, &["--json", "--html", "page.html"]);
    assert_eq!(called.exit, 1, "{called:?}");
    let document = called.json();
    let worse: Vec<&Value> =
        document["changes"].as_array().unwrap().iter().filter(|change| change["worse"] == true).collect();
    assert_eq!(worse.len(), 1, "{document:#}");
    // What the analyser makes itself there weighs less beside the stronger line and does not cancel.
    let [low, high] = ["low", "high"].map(|end| worse[0][end].as_f64().unwrap());
    assert!(low <= 12.0 && 12.0 <= high && high - low < 6.0, "{low} to {high}");
    assert_eq!(worse[0]["after"]["outcome"], "exceeds");
    let page = std::fs::read_to_string(workshop.path("page.html")).unwrap();
    assert!(page.contains("shifted by +1") && !page.contains("src=") && !page.contains("http"), "{page}");
    let text = compare(&workshop, &[]).out;
    assert!(text.contains("outcomes that differ") && text.contains("complies -> exceeds"), "{text}");
}

#[test]
fn what_matters_can_be_stated() {
    let workshop = measured();
    again(&workshop, &NEW_FIRMWARE);
    let called = compare(&workshop, &["--worse", "0.01 dB"]);
    assert_eq!(called.exit, 3, "{called:?}");
    assert!(called.out.contains("may have come nearer to its limit by 0.01 dB"), "{called:?}");
    let called = compare(&workshop, &["--worse", "60 dB"]);
    assert_eq!(called.exit, 0, "{called:?}");
    let called = compare(&workshop, &["--worse", "3 dBm"]);
    assert_eq!(called.exit, 2, "{called:?}");
    assert!(called.talk.contains("`--worse`"), "{called:?}");
}

/// Early records say nothing of degrees of freedom: their sweeps are counted, and the comparison comes to the same.
#[test]
fn the_sweeps_of_early_records_are_counted() {
    let workshop = measured();
    again(&workshop, &NEW_FIRMWARE);
    let changes = |workshop: &Workshop| compare(workshop, &["--json"]).json()["changes"].clone();
    let before = changes(&workshop);
    let record = rusqlite::Connection::open(workshop.path("data/record.sqlite")).unwrap();
    let mut of_sweeps = 0;
    let all: Vec<(i64, String)> = record
        .prepare("SELECT rowid, detail FROM reading")
        .unwrap()
        .query_map([], |row| Ok((row.get(0)?, row.get(1)?)))
        .unwrap()
        .map(Result::unwrap)
        .collect();
    for (row, detail) in all {
        let mut detail: Value = serde_json::from_str(&detail).unwrap();
        let lines = detail["budget"]["lines"].as_array_mut();
        for line in lines.into_iter().flatten().filter(|line| line["name"] == "repeatability of the sweeps") {
            of_sweeps += 1;
            line["freedom"] = Value::Null;
        }
        record.execute("UPDATE reading SET detail = ?1 WHERE rowid = ?2", (detail.to_string(), row)).unwrap();
    }
    assert!(of_sweeps > 4);
    let after = changes(&workshop);
    for (one, other) in before.as_array().unwrap().iter().zip(after.as_array().unwrap()) {
        assert_eq!(one["parts"], other["parts"], "{one:#} {other:#}");
    }
}

/// Several runs before the change say how the bench repeats.
#[test]
fn several_runs_before_are_pooled() {
    let workshop = measured();
    again(&workshop, &[NEW_FIRMWARE[0]]);
    again(&workshop, &[("visit: 1", "visit: 2"), NEW_FIRMWARE[1]]);
    let runs = runs(&workshop);
    let both = format!("{},{}", runs[0], runs[1]);
    let called = workshop.call(&["compare", &both, "last", "--json"]);
    assert_eq!(called.exit, 0, "{called:?}");
    let document = called.json();
    assert_eq!(document["before"].as_array().unwrap().len(), 2);
    let repeats = document["repeats"][0].as_str().unwrap();
    assert!(repeats.contains("the runs before scatter by"), "{repeats}");
    let other = workshop.call(&["compare", &runs[0], "last", "--base", &runs[1], "--json"]);
    assert_eq!(other.json()["changes"], document["changes"]);
}

/// Another unit is refused, and a plan that measures less leaves it open.
#[test]
fn what_cannot_be_compared_is_told() {
    let workshop = measured();
    again(&workshop, &[("serial: FH2-0001", "serial: FH2-0002"), NEW_FIRMWARE[0]]);
    let called = compare(&workshop, &[]);
    assert_eq!(called.exit, 2, "{called:?}");
    assert!(called.talk.contains("different units") && called.talk.contains("--across-units"), "{called:?}");
    let called = compare(&workshop, &["--across-units"]);
    assert_eq!(called.exit, 0, "{called:?}");
    assert!(called.out.contains("a comparison of units"), "{called:?}");
    let plan = std::fs::read_to_string(workshop.path("plan.yaml")).unwrap();
    workshop.write("plan.yaml", &plan.replace("up_to: 3", "up_to: 2"));
    again(&workshop, &[("serial: FH2-0002", "serial: FH2-0001")]);
    let called = compare(&workshop, &[]);
    assert_eq!(called.exit, 3, "{called:?}");
    assert!(called.out.contains("measured before and not now"), "{called:?}");
    let itself = workshop.call(&["compare", "last", "last"]);
    assert_eq!(itself.exit, 2, "{itself:?}");
}

/// A page that cannot be written is told before anything is printed, with what to do, and leaves nothing behind.
#[test]
fn a_page_in_no_folder_is_refused() {
    let workshop = measured();
    again(&workshop, &NEW_FIRMWARE);
    let runs = runs(&workshop);
    std::fs::create_dir(workshop.path("folder")).unwrap();
    for (arguments, says) in [
        (vec!["compare", &runs[0], "last", "--html", "nowhere/page.html"], "its folder is not there"),
        (vec!["batch", "last", "--html", "nowhere/page.html"], "its folder is not there"),
        (vec!["report", "last", "--out", "nowhere/page.html"], "its folder is not there"),
        (vec!["compare", &runs[0], "last", "--html", "folder"], "that is a folder"),
    ] {
        let called = workshop.call(&arguments);
        assert_eq!((called.exit, called.out.as_str()), (5, ""), "{called:?}");
        assert!(called.talk.contains("cannot write") && called.talk.contains(says), "{called:?}");
    }
    let called = workshop.call(&["compare", &runs[0], "last", "--json", "--html", "nowhere/page.html"]);
    // One document, and it says what is wrong.
    assert_eq!((called.exit, called.json()["error"]["exit_status"].as_u64()), (5, Some(5)), "{called:?}");
    assert!(!workshop.path("folder.part").exists() && !workshop.path("nowhere").exists());
}

/// A batch says whose margin is the smallest, and takes of each unit its newest run.
#[test]
fn a_batch_of_units() {
    let workshop = measured();
    again(&workshop, &[("serial: FH2-0001", "serial: FH2-0002"), ("visit: 0", "visit: 1")]);
    again(&workshop, &[("visit: 1", "visit: 2"), ("2: 62 dB", "2: 60 dB")]);
    let title = "FH-2 handheld, acceptance";
    let called =
        workshop.call(&["batch", "--plan", title, "--newest-per-unit", "--json", "--html", "page.html"]);
    assert_eq!(called.exit, 1, "{called:?}");
    let document = called.json();
    assert_eq!(document["serials"], serde_json::json!(["FH2-0001", "FH2-0002"]));
    let second =
        document["readings"].as_array().unwrap().iter().find(|row| row["title"] == "Harmonic 2").unwrap();
    assert_eq!(
        (second["units"].as_array().unwrap().len(), &second["least_margin"][1]),
        (2, &"FH2-0002".into())
    );
    let page = std::fs::read_to_string(workshop.path("page.html")).unwrap();
    assert!(page.contains("Batch of 2 units") && !page.contains("src="), "{page}");
    let all = runs(&workshop);
    let named: Vec<&str> = ["batch"].into_iter().chain(all.iter().map(String::as_str)).collect();
    let called = workshop.call(&named);
    assert!(called.out.contains("some units are in it more than once"), "{called:?}");
    assert!(called.out.lines().all(|line| line.chars().count() <= 80), "{}", called.out);
    assert_eq!(workshop.call(&["batch", "--plan", "another"]).exit, 2);
}

/// The bench of the search with these texts of its file replaced, so that another firmware, or another unit, is on it.
fn searched_again(workshop: &Workshop, replaced: &[(&str, &str)]) {
    let visit = ("seed: 3", "seed: 3\n  visit: 1");
    again(workshop, &[&[visit], replaced].concat());
}

fn searched() -> Workshop {
    let workshop = shipped(("search", "search"), &[("up_to: 10", "up_to: 2")], &[]);
    run(&workshop);
    workshop
}

/// What is said, under a key of a document, of the line that was found at a frequency on the first channel.
fn of_line<'d>(document: &'d Value, key: &str, mhz: f64) -> &'d Value {
    let mut lines = document[key].as_array().unwrap().iter();
    let is_it = |line: &&Value| {
        let off = line["frequency_hz"].as_f64().unwrap() - mhz * 1e6;
        // A look shows a line as well as this.
        off.abs() < 2e3 && line["place"].as_str().unwrap().starts_with("one")
    };
    lines.find(is_it).unwrap_or_else(|| panic!("nothing at {mhz} MHz in {document:#}"))
}

/// An update that lets a clock rise by 3 dB, brings one at 41 MHz and takes away half the carrier. What else a search found
/// is the same, each line at a frequency that is read a little otherwise.
#[test]
fn lines_that_a_search_found_are_compared() {
    let workshop = searched();
    let clock = ("{ frequency: 26 MHz, below: 58 dB }", "{ frequency: 26 MHz, below: 55 dB }");
    let other = ("{ share_of_carrier: 0.5, below: 60 dB }", "{ frequency: 41 MHz, below: 60 dB }");
    searched_again(&workshop, &[("firmware: 1.0, range", "firmware: 1.1, range"), clock, other]);
    let called = compare(&workshop, &["--json"]);
    assert_eq!(called.exit, 1, "{called:?}");
    let document = called.json();
    let risen = of_line(&document, "changes", 26.0);
    assert_eq!((&risen["kind"], &risen["worse"]), (&"shift".into(), &true.into()), "{risen:#}");
    let [low, high] = ["low", "high"].map(|end| risen[end].as_f64().unwrap());
    assert!(low <= 3.0 && 3.0 <= high, "{risen:#}");
    // It is 57 dB and a little below a carrier of 36.7 dBm, and the search before saw as much as it could.
    let new = of_line(&document, "changes", 41.0);
    assert_eq!(
        (&new["kind"], &new["worse"], &new["before"]["bound"]),
        (&"rise".into(), &true.into(), &true.into())
    );
    let (least, then) = (new["low"].as_f64().unwrap(), new["before"]["value"].as_f64().unwrap());
    let now = new["after"]["value"].as_f64().unwrap();
    assert!(least > 0.0 && then + least < now, "{new:#}");
    for spur in [132.2, 157.8] {
        let still = of_line(&document, "changes", spur);
        assert_eq!((&still["kind"], &still["real"]), (&"shift".into(), &false.into()), "{still:#}");
    }
    let gone: Vec<&str> =
        document["gone"].as_array().unwrap().iter().map(|one| one["title"].as_str().unwrap()).collect();
    assert_eq!(gone.len(), 2, "{gone:?}");
    assert!(gone.iter().all(|title| title.contains("sub-harmonic")), "{gone:?}");
    assert_eq!((&document["new"], &document["open"]), (&serde_json::json!([]), &serde_json::json!([])));
    let text = compare(&workshop, &[]).out;
    assert!(text.lines().all(|line| line.chars().count() <= 80), "{text}");
    let narrow = |line: &&str| line.trim().chars().count() == 1;
    assert_eq!(text.lines().filter(narrow).count(), 0, "letters stand below letters:\n{text}");
}

/// A line that only one of two units has is no reading that is missing of the other: its search looked there.
#[test]
fn lines_of_searches_over_a_batch() {
    let workshop = searched();
    let other = ("{ share_of_carrier: 0.5, below: 60 dB }", "{ frequency: 41 MHz, below: 60 dB }");
    searched_again(&workshop, &[("serial: U-1", "serial: U-2"), other]);
    let runs = runs(&workshop);
    let document = workshop.call(&["batch", &runs[0], &runs[1], "--json"]).json();
    assert_eq!(of_line(&document, "readings", 72.5)["unseen"], serde_json::json!(["U-2"]));
    assert_eq!(of_line(&document, "readings", 41.0)["unseen"], serde_json::json!(["U-1"]));
    assert_eq!(of_line(&document, "readings", 26.0)["units"].as_array().unwrap().len(), 2);
    let rows = document["readings"].as_array().unwrap();
    assert!(rows.iter().all(|row| row["missing"] == serde_json::json!([])), "{rows:#?}");
    let text = workshop.call(&["batch", &runs[0], &runs[1]]).out;
    assert!(text.contains("without this") && !text.contains("not measured"), "{text}");
    let across = workshop.call(&["compare", &runs[0], &runs[1], "--across-units", "--json"]);
    assert_eq!(of_line(&across.json(), "changes", 26.0)["kind"], "shift", "{across:?}");
}
