//! Whatever answers are taken, the file that comes of them is accepted; whatever is wrong is asked for again.

use std::cell::Cell;
use std::collections::VecDeque;

use proptest::prelude::*;
use proptest::test_runner::{Config, TestRunner};
use spurline_document::Document;
use spurline_plan::Job;
use tempfile::TempDir;

use super::*;

/// A person with answers in the hand, who then presses Enter, and at last says something that most questions take.
#[derive(Default)]
struct Script {
    lines: VecDeque<String>,
    said: Vec<String>,
    asked: usize,
}

/// Nobody answers more.
const PATIENCE: usize = 400;

impl Desk for Script {
    fn say(&mut self, text: &str) {
        self.said.push(text.to_owned());
    }

    fn ask(&mut self, prompt: &str) -> Heard {
        const AT_LAST: [&str; 6] =
            ["", "Some text", "/dev/serial/by-id/usb-some_port", "9 kHz..1 GHz", "-36 dBm", "60 s"];
        self.said.push(prompt.to_owned());
        self.asked += 1;
        let last = || AT_LAST[self.asked % AT_LAST.len()].to_owned();
        let line = (self.asked < PATIENCE).then(|| self.lines.pop_front().unwrap_or_else(last));
        line.map_or(Heard::Ended, Heard::Line)
    }
}

fn drafted(
    kind: Kind,
    file: &str,
    given: &[(&str, &str)],
    others: Others,
    desk: &mut Script,
) -> Result<Draft, Failure> {
    let given = given.iter().map(|(name, value)| ((*name).to_owned(), (*value).to_owned())).collect();
    kind.draft(&mut Answers::new(given, others, desk), &Files::from_environment(), file)
}

/// What was drafted is written, and read as a person's files are.
#[track_caller]
fn holds(kind: Kind, draft: &Draft) {
    draft.files.iter().for_each(|made| write_new(made).unwrap());
    let file = draft.files[0].file.as_str();
    let files = Files::from_environment();
    let read = match kind {
        Kind::Plan => plan::accepted(&files, file),
        Kind::Bench => bench::accepted(&files, file),
        Kind::Profile => profile::accepted(&files, file),
        Kind::Rule => rule::accepted(&files, file),
    };
    read.unwrap_or_else(|error| panic!("{error}:\n{}", draft.files[0].text));
    for made in &draft.files {
        assert!(made.text.starts_with("# ") && !made.text.contains("\n\n\n"), "{}", made.text);
        assert!(!made.text.lines().any(|line| line.ends_with(' ')), "{}", made.text);
        assert!(write_new(made).is_err(), "nothing is written over");
    }
}

#[track_caller]
fn usual(kind: Kind, given: &[(&str, &str)]) -> (TempDir, Draft) {
    let folder = TempDir::new().unwrap();
    let file = folder.path().join(format!("my-{}.yaml", kind.word()));
    let draft = drafted(kind, file.to_str().unwrap(), given, Others::Usual, &mut Script::default());
    let draft = draft.unwrap_or_else(|error| panic!("{given:?}: {}", talk::as_json(&error)));
    holds(kind, &draft);
    (folder, draft)
}

fn refused(kind: Kind, given: &[(&str, &str)]) -> String {
    let folder = TempDir::new().unwrap();
    let file = folder.path().join(format!("my-{}.yaml", kind.word()));
    let draft = drafted(kind, file.to_str().unwrap(), given, Others::Usual, &mut Script::default());
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 0);
    talk::as_json(&draft.unwrap_err()).to_string()
}

const SOME_RULE: [(&str, &str); 5] = [
    ("source", "Order 5 of 2024"),
    ("paragraph", "3 (a)"),
    ("edition", "2024"),
    ("band1", "9 kHz..1 GHz"),
    ("limit1", "-36 dBm"),
];

#[test]
fn the_usual_answers_will_do() {
    usual(Kind::Plan, &[]);
    usual(Kind::Bench, &[]);
    usual(Kind::Bench, &[("kind", "simulated")]);
    usual(Kind::Rule, &SOME_RULE);
}

#[test]
fn every_rule_with_limits_can_be_planned_by() {
    for (name, text) in spurline_runner::RULES {
        let rule =
            Document::parse(name, text).and_then(|document| spurline_limits::Rule::read(&document)).unwrap();
        if rule.has_limits() {
            usual(Kind::Plan, &[("rule", name), ("carriers", "146 MHz, 155.1 MHz"), ("decision", "simple")]);
        } else {
            assert!(refused(Kind::Plan, &[("rule", name)]).contains("no limits of emissions"), "{name}");
        }
    }
}

#[test]
fn every_way_to_key_makes_a_bench() {
    let port = ("port", "/dev/serial/by-id/usb-some_port");
    let meter = ("power_meter", "TCPIP::192.0.2.21::inst0::INSTR");
    let supply = ("supply", "ASRL/dev/serial/by-id/usb-supply::INSTR");
    let all: [&[(&str, &str)]; 5] = [
        &[("key", "relay"), ("contact", "3"), ("opens_by_itself", "1 s"), meter, supply],
        &[("key", "serial-line"), port, ("line", "dtr"), ("two_lines", "true")],
        &[("key", "supply-output"), ("key_voltage", "12 V"), meter],
        &[("key", "by-hand"), ("power", "50 W"), ("range", "1 MHz..6 GHz")],
        &[("key", "2"), port, ("title", "a: \"b\" # c"), ("power", "10 mW")],
    ];
    for given in all {
        usual(Kind::Bench, given);
    }
}

#[test]
fn every_kind_of_instrument_has_a_profile() {
    for (name, _) in spurline_runner::PROFILES {
        let kind = name.strip_suffix("-generic").unwrap();
        let (_folder, draft) = usual(Kind::Profile, &[("kind", kind)]);
        assert!(draft.next[0].contains("spurline identify ADDRESS --profile /"), "{:?}", draft.next);
        usual(Kind::Profile, &[("kind", kind), ("title", "ours: 5"), ("answer_within", "7.5 s")]);
    }
    let (_folder, draft) = usual(Kind::Profile, &[("frequency", "100 Hz..26.5 GHz"), ("damage", "27 dBm")]);
    assert!(draft.files[0].text.contains("frequency: 100 Hz..26.5 GHz"), "{}", draft.files[0].text);
}

/// The last of the rules that are listed, by its number.
#[test]
fn a_rule_may_be_chosen_by_its_number() {
    let folder = TempDir::new().unwrap();
    let file = folder.path().join("my-plan.yaml");
    let lines = ["", "", "", "murs", "22"].map(str::to_owned);
    let mut script = Script { lines: lines.into(), ..Script::default() };
    let draft = drafted(Kind::Plan, file.to_str().unwrap(), &[], Others::Person, &mut script).unwrap();
    let listed = script.said.iter().find(|line| line.contains("  22  ")).unwrap();
    let name = listed.split("  22  ").nth(1).unwrap().split_whitespace().next().unwrap();
    let found = script.said.iter().find(|line| line.contains("no rule is called `murs`")).unwrap();
    assert!(found.contains("us-part-95-murs: "), "{found}");
    let list: Vec<&String> = script.said.iter().filter(|line| line.contains("  us-part-")).collect();
    assert!(list.len() < 15 && list.iter().all(|line| line.contains(':') || line.len() < 80), "{list:?}");
    assert!(draft.files[0].text.contains(&format!("\nrule: {name}\n")), "{listed}: {}", draft.files[0].text);
}

/// Between two bands that touch each belongs to one; what the text leaves open stays open, and is told.
#[test]
fn bands_become_rows_of_a_rule() {
    let more = [
        ("band2", "1..12.75 GHz"),
        ("limit2", "43 dB + 10 log power"),
        ("band3", "13 GHz..14 GHz"),
        ("limit3", "2 nW"),
    ];
    let (_folder, draft) = usual(Kind::Rule, &[&SOME_RULE[..], &more].concat());
    let text = &draft.files[0].text;
    for row in [
        "at_least: 9 kHz, below: 1 GHz",
        "at_least: 1 GHz, at_most: 12.75 GHz",
        "{ below: 43 dB + 10 log power }",
        "{ absolute: 2 nW }",
    ] {
        assert!(text.contains(row), "`{row}` is not in:\n{text}");
    }
    let rule =
        Document::parse("a", text).and_then(|document| spurline_limits::Rule::read(&document)).unwrap();
    let remarks = rule.lint();
    let open: Vec<_> = remarks.iter().filter(|remark| remark.because.is_none()).collect();
    assert!(open.len() == 1 && open[0].flaw == spurline_limits::Flaw::Gap, "{open:?}");
}

#[test]
fn a_wrong_answer_is_told_and_asked_again() {
    let folder = TempDir::new().unwrap();
    let file = folder.path().join("my-bench.yaml");
    let lines = ["3", "2", "", "", "137..174", "136 MHz..174 MHz", "very high", "high"];
    let mut script = Script { lines: lines.map(str::to_owned).into(), ..Script::default() };
    let draft = drafted(Kind::Bench, file.to_str().unwrap(), &[], Others::Person, &mut script).unwrap();
    let said = script.said.join("\n");
    for told in [
        "expected one of 2 answers, found `3`",
        "range of frequencies that the unit can be tuned to [136 MHz..174 MHz]: ",
        "expected a range with its unit, found `137..174`",
        "`very high` cannot be the name of a power setting",
    ] {
        assert!(said.contains(told), "`{told}` is not in:\n{said}");
    }
    holds(Kind::Bench, &draft);
}

/// What the command line has wrong costs a person who is there no answer.
#[test]
fn a_wrong_answer_of_the_command_line_is_asked_again() {
    let folder = TempDir::new().unwrap();
    let file = folder.path().join("my-plan.yaml");
    let mut script = Script::default();
    let given = [("carriers", "loud"), ("carier", "433 MHz")];
    let draft = drafted(Kind::Plan, file.to_str().unwrap(), &given, Others::Person, &mut script).unwrap();
    let said = script.said.join("\n");
    assert!(said.contains("--answer carriers: ") && script.asked > 3, "{said}");
    assert!(said.contains("--answer carier: there is no such question"), "{said}");
    holds(Kind::Plan, &draft);
}

/// Where every answer came from the command line and they do not go together, a person is asked for each.
#[test]
fn given_answers_that_do_not_go_together_are_asked_as_well() {
    let folder = TempDir::new().unwrap();
    let file = folder.path().join("my-plan.yaml");
    // As in the test below, with the carrier by the command line.
    let lines = [""; 12].into_iter().chain(["", "", "", "", "", "433 MHz"]).map(str::to_owned).collect();
    let given = [("carriers", "5.8 GHz")];
    let mut script = Script { lines, ..Script::default() };
    let draft = drafted(Kind::Plan, file.to_str().unwrap(), &given, Others::Person, &mut script).unwrap();
    let said = script.said.join("\n");
    assert!(said.contains("do not go together") && said.contains("commas between them [5.8 GHz]"), "{said}");
    holds(Kind::Plan, &draft);
}

/// Answers that are good one by one and do not go together are told with their place, and asked for once more.
#[test]
fn answers_that_do_not_go_together_are_asked_for_again() {
    let folder = TempDir::new().unwrap();
    let file = folder.path().join("my-plan.yaml");
    // A carrier that the simulated analyser cannot see; in the second round another one.
    let first = ["", "", "", "", "", "5.8 GHz", "", "", "", "", "", "", ""];
    let second = ["", "", "", "", "", "433 MHz"];
    let lines: VecDeque<String> = first.into_iter().chain(second).map(str::to_owned).collect();
    let mut script = Script { lines, ..Script::default() };
    let draft = drafted(Kind::Plan, file.to_str().unwrap(), &[], Others::Person, &mut script).unwrap();
    let said = script.said.join("\n");
    assert!(said.contains("do not go together") && said.contains("my-plan.yaml:"), "{said}");
    assert!(said.contains("commas between them [5.8 GHz]"), "{said}");
    holds(Kind::Plan, &draft);
}

/// All at once, and whatever else is wrong with them.
#[test]
fn everything_that_is_missing_is_told_at_once() {
    let told = refused(Kind::Rule, &[("title", "Ours"), ("limit1", "loud"), ("sorce", "Order 5")]);
    for words in [
        "6 answers are missing or wrong",
        "- source: ",
        "- paragraph: ",
        "- edition: ",
        "- band1: ",
        "--answer limit1: ",
    ] {
        assert!(told.contains(words), "`{words}` is not in {told}");
    }
    let told = refused(
        Kind::Rule,
        &[
            ("sorce", "Order 5"),
            ("paragraph", "3"),
            ("edition", "2024"),
            ("band1", "9 kHz..1 GHz"),
            ("limit1", "-36 dBm"),
        ],
    );
    assert!(told.contains("- source: ") && told.contains("did you mean `source`?"), "{told}");
    // What follows a wrong answer is not held against what took its place.
    let told = refused(
        Kind::Rule,
        &[
            &SOME_RULE[..3],
            &[("band1", "9..30"), ("limit1", "-36 dBm"), ("band2", "30 MHz..1 GHz"), ("limit2", "-36 dBm")],
        ]
        .concat(),
    );
    assert!(told.contains("--answer band1: ") && !told.contains("band2: "), "{told}");
    let nobody = drafted(Kind::Rule, "r.yaml", &[], Others::Nobody, &mut Script::default()).unwrap_err();
    let nobody = talk::as_json(&nobody).to_string();
    assert!(
        nobody.contains("- title: ") && nobody.contains("- limit1: ") && nobody.contains("--yes"),
        "{nobody}"
    );
}

/// A simulated bench that is there is taken if it can stand in for the unit; otherwise another is made beside it.
#[test]
fn a_simulated_bench_that_does_not_fit_is_not_taken() {
    let (folder, first) = usual(Kind::Plan, &[]);
    let beside = folder.path().join("simulated-bench.yaml");
    let kept = std::fs::read_to_string(&beside).unwrap();
    let again = |name: &str, given: &[(&str, &str)]| {
        let file = folder.path().join(name);
        let mut script = Script::default();
        let draft = drafted(Kind::Plan, file.to_str().unwrap(), given, Others::Usual, &mut script).unwrap();
        holds(Kind::Plan, &draft);
        (draft, script.said.join("\n"))
    };
    assert_eq!(first.files.len(), 2);
    let (same, said) = again("same.yaml", &[]);
    assert!(same.files.len() == 1 && said.contains("fits this plan"), "{said}");
    let others: [(&[(&str, &str)], &str); 4] = [
        (&[("carriers", "433 MHz")], "its unit reaches"),
        (&[("model", "Other")], "its unit is a `Handheld`"),
        (&[("setting", "low")], "no power setting `low`"),
        (&[("rated_power", "1 W")], "and not 600 mW..1.4 W"),
    ];
    for (place, (given, why)) in others.into_iter().enumerate() {
        let (other, said) = again(&format!("other-{place}.yaml"), given);
        assert!(said.contains(why), "{why}: {said}");
        let name = format!("simulated-bench-{}.yaml", place + 2);
        assert!(other.files[1].file.ends_with(&name) && said.contains(&name), "{:?} {said}", other.files);
    }
    assert_eq!(std::fs::read_to_string(&beside).unwrap(), kept);
}

#[test]
fn what_is_missing_or_too_much_is_told_with_the_way_out() {
    assert!(refused(Kind::Rule, &[]).contains("- source: the text"));
    assert!(refused(Kind::Bench, &[("kidn", "real")]).contains("did you mean `kind`?"));
    assert!(refused(Kind::Bench, &[("pad_rated", "1 W")]).contains("take a pad that bears it"));
    assert!(refused(Kind::Plan, &[("carriers", "146 MHz, 121.5 MHz")]).contains("distress and safety"));
    assert!(refused(Kind::Plan, &[("bench", "gone.yaml")]).contains("gone.yaml"));
    let nobody = drafted(Kind::Bench, "b.yaml", &[], Others::Nobody, &mut Script::default()).unwrap_err();
    assert!(talk::as_json(&nobody).to_string().contains("`--yes` takes the usual"), "{nobody}");
}

/// A plan for a real bench whose key stays down must know the unit's own timer.
#[test]
fn a_key_that_stays_down_asks_for_the_units_own_timer() {
    let (folder, draft) = usual(Kind::Bench, &[]);
    std::fs::rename(&draft.files[0].file, folder.path().join("bench.yaml")).unwrap();
    let file = folder.path().join("my-plan.yaml");
    let file = file.to_str().unwrap();
    let refused = drafted(Kind::Plan, file, &[], Others::Usual, &mut Script::default()).unwrap_err();
    assert!(refused.to_string().contains("`own_timer`"), "{refused}");
    let draft = drafted(Kind::Plan, file, &[("own_timer", "60 s")], Others::Usual, &mut Script::default());
    holds(Kind::Plan, &draft.unwrap());
    assert!(Job::load(file, None, &Files::from_environment()).unwrap().plan.key.own_timer.is_some());
}

/// Answers as people write them, good and bad, for whatever question they come to.
fn answer() -> impl Strategy<Value = String> {
    let frequency = (1u32..6000, prop::sample::select(vec!["kHz", "MHz", "GHz", "mHz", ""]))
        .prop_map(|(figure, unit)| format!("{figure} {unit}"));
    let range = (1u32..3000, 1u32..3000, prop::sample::select(vec!["MHz", "W", "GHz"]))
        .prop_map(|(low, width, unit)| format!("{low}..{} {unit}", low + width));
    let power = (1u32..2000, prop::sample::select(vec!["mW", "W", "dBm", "dB", "s", "V"]))
        .prop_map(|(figure, unit)| format!("{figure} {unit}"));
    let words = prop::sample::select(vec![
        "",
        "1",
        "2",
        "3",
        "none",
        "simulated",
        "real",
        "simple",
        "us-part-97",
        "itu-category-b",
        "-36 dBm",
        "43 dB",
        "true",
        "x: y",
        "# no",
        "\"",
        "a, b",
        "{ }",
        "| x",
        "high",
        "TCPIP::192.0.2.9::INSTR",
        "146 MHz, 433 MHz",
        "43 dB + 10 log power",
        "100 kHz",
        "at least 10 kHz",
        "- a",
        "\u{fffe}",
        "null",
        "1e3",
        "Größe 5 µ",
    ]);
    prop_oneof![frequency, range, power, words.prop_map(str::to_owned), "[ -~]{0,12}"]
}

#[test]
fn whatever_is_answered_the_file_is_accepted() {
    let mut runner = TestRunner::new_with_rng(
        Config { cases: 160, failure_persistence: None, ..Config::default() },
        proptest::test_runner::TestRng::deterministic_rng(proptest::test_runner::RngAlgorithm::ChaCha),
    );
    let kinds = prop::sample::select(vec![Kind::Plan, Kind::Bench, Kind::Profile, Kind::Rule]);
    let written = Cell::new(0);
    runner
        .run(&(kinds, prop::collection::vec(answer(), 0..40)), |(kind, lines)| {
            let folder = TempDir::new().unwrap();
            let file = folder.path().join("my-file.yaml");
            let mut script = Script { lines: lines.into(), ..Script::default() };
            match drafted(kind, file.to_str().unwrap(), &[], Others::Person, &mut script) {
                Ok(draft) => {
                    holds(kind, &draft);
                    written.set(written.get() + 1);
                }
                // Nobody answered any more, and nothing was written.
                Err(Failure::Usage { message, .. }) if message.contains("the input has ended") => {
                    prop_assert!(!file.exists());
                }
                Err(other) => prop_assert!(false, "{}", talk::as_json(&other)),
            }
            Ok(())
        })
        .unwrap();
    assert!(written.get() > 100, "only {} of 160 files came about", written.get());
}

/// Nobody is sent to a line of a file that is not there: the answer is named, the line is shown.
#[test]
fn answers_at_odds_are_named() {
    for (answer, value, line, why) in [
        ("model", "日本", "model: \"日本\"", "expected plain text"),
        ("carriers", "146 MHz, 6 GHz", "carrier: 6 GHz", "the loss of `pad` is not known at 6 GHz"),
        ("longest", "1 h", "key: { longest: 1 h, ", "in a key-down of 1 h"),
    ] {
        let told = refused(Kind::Plan, &[(answer, value)]);
        let begins = format!("--answer {answer}: {why}");
        assert!(told.contains(&begins), "`{begins}` is not in {told}");
        assert!(told.replace("\\\"", "\"").contains(line), "`{line}` is not in {told}");
        assert!(told.contains("Nothing was written") && !told.contains("yaml:"), "{told}");
    }
    let told = refused(Kind::Plan, &[("title", "a\tb")]);
    assert!(told.contains("--answer title: expected a text on one line"), "{told}");
}

#[test]
fn what_cannot_be_is_not_taken() {
    let told = refused(Kind::Plan, &[("setting", "12")]);
    assert!(
        told.contains("--answer setting: `12` cannot be") && told.contains("begin with a letter"),
        "{told}"
    );
    let told = refused(Kind::Plan, &[("harmonics", "100")]);
    assert!(told.contains("name a whole one between 2 and 40"), "{told}");
    for noise in ["20 dBm", "-180 dBm"] {
        let told = refused(Kind::Profile, &[("in_1_hz", noise)]);
        assert!(
            told.contains("--answer in_1_hz: expected a noise floor") && told.contains("is usual"),
            "{told}"
        );
    }
    let told = refused(
        Kind::Rule,
        &[&SOME_RULE[..], &[("band2", "10..3"), ("limit2", "-36 dBm"), ("band3", "2 GHz..3 GHz")]].concat(),
    );
    assert!(told.contains("--answer band2: ") && !told.contains("no such question"), "{told}");
}

/// A bench that is not taken is not praised.
#[test]
fn a_bench_that_is_there_is_told_only_where_it_is_taken() {
    let (folder, _) = usual(Kind::Plan, &[]);
    let other = folder.path().join("other.yaml");
    std::fs::rename(folder.path().join("simulated-bench.yaml"), &other).unwrap();
    std::fs::copy(&other, folder.path().join("simulated-bench.yaml")).unwrap();
    let said = |given: &[(&str, &str)]| {
        let file = folder.path().join("second.yaml");
        let mut script = Script::default();
        let draft = drafted(Kind::Plan, file.to_str().unwrap(), given, Others::Usual, &mut script);
        (draft.is_ok(), script.said.join("\n"))
    };
    assert_eq!(said(&[("bench", "other.yaml")]), (true, String::new()));
    assert_eq!(said(&[("longest", "1 h")]), (false, String::new()));
    let (taken, told) = said(&[]);
    assert!(taken && told.contains("fits this plan"), "{told}");
}
