//! A run judged again from its raw looks: the same where nothing is replaced, and no more than what is replaced changes
//! where something is.

use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::Stdio;

use rusqlite::Connection;
use serde_json::Value;
use spurline_plan::Job;
use spurline_record::{JudgedFrom, Outcome, Quantity, VerdictReading};
use spurline_runner::Files;
use spurline_sequencer::judge_again;
use spurline_store::Store;
use spurline_tests::search::{Planted, job, searched};

use crate::bench::{Called, Workshop, plan, root, simulated_bench};

/// A run of the test bench, with a carrier and a harmonic that comply.
fn recorded() -> Workshop {
    let workshop = Workshop::with(&plan("146 MHz", 2), &simulated_bench(2, ""));
    let called = workshop.call(&["run", "plan.yaml"]);
    assert_eq!(called.exit, 0, "{called:?}");
    workshop
}

/// A run of a shipped plan.
fn shipped(name: &str) -> Workshop {
    let workshop = Workshop::new();
    let plan = root().join(format!("config/plans/{name}.yaml"));
    let called = workshop.call(&["run", plan.to_str().unwrap()]);
    assert!([0, 1].contains(&called.exit), "{name}: {called:?}");
    workshop
}

#[track_caller]
fn judged(workshop: &Workshop, more: &[&str]) -> Value {
    let called = workshop.call(&[&["judge", "last", "--json"], more].concat());
    assert!([0, 1, 3].contains(&called.exit), "{called:?}");
    called.json()
}

fn record(workshop: &Workshop) -> Connection {
    Connection::open(workshop.path("data/record.sqlite")).unwrap()
}

/// A table as text, row by row.
fn rows(workshop: &Workshop, query: &str) -> Vec<String> {
    let record = record(workshop);
    let mut statement = record.prepare(query).unwrap();
    let columns = statement.column_count();
    let row = |row: &rusqlite::Row<'_>| {
        let values = (0..columns).map(|column| format!("{:?}", row.get_ref(column).unwrap()));
        Ok(values.collect::<Vec<_>>().join(" "))
    };
    statement.query_map([], row).unwrap().map(Result::unwrap).collect()
}

/// Each reading of the only verdict beside the run's: ordinal, how it was made, and both details without their looks.
fn pairs(workshop: &Workshop) -> Vec<(u32, String, Value, Value)> {
    let record = record(workshop);
    let mut statement = record
        .prepare(
            "SELECT v.ordinal, v.made, v.detail, r.detail FROM verdict_reading AS v
             JOIN reading AS r ON r.run = v.run AND r.ordinal = v.ordinal ORDER BY v.ordinal",
        )
        .unwrap();
    let bare = |text: String| {
        let mut detail: Value = serde_json::from_str(&text).unwrap();
        detail["acquisitions"] = Value::Null;
        detail
    };
    let row = |row: &rusqlite::Row<'_>| Ok((row.get(0)?, row.get(1)?, bare(row.get(2)?), bare(row.get(3)?)));
    statement.query_map([], row).unwrap().map(Result::unwrap).collect()
}

/// Quantities that are worked out from raw looks; the others are moved by their recorded figure.
const RAW: [&str; 13] = [
    "spurious",
    "carrier_power",
    "occupied_bandwidth",
    "x_db_bandwidth",
    "channel_power",
    "frequency_error",
    "band",
    "emission_mask",
    "adjacent_channel_power",
    "deviation",
    "modulation_depth",
    "power_over_time",
    "harmonic",
];

/// With nothing replaced every reading comes out as it was, to the last bit of every figure, sum and word.
#[test]
fn every_shipped_plan_judged_again_is_the_same() {
    let mut plans: Vec<String> = std::fs::read_dir(root().join("config/plans"))
        .unwrap()
        .map(|entry| entry.unwrap().path().file_stem().unwrap().to_string_lossy().into_owned())
        .collect();
    plans.sort();
    for name in plans {
        let workshop = shipped(&name);
        let document = judged(&workshop, &[]);
        assert_eq!(document["changed"], Value::Array(Vec::new()), "{name}");
        let pairs = pairs(&workshop);
        assert_eq!(pairs.len(), document["readings"].as_array().unwrap().len(), "{name}");
        for (ordinal, made, again, recorded) in pairs {
            assert_eq!(again, recorded, "{name}, reading {ordinal}");
            let quantity = recorded["quantity"].as_str().unwrap();
            // Between the voltages of a series, and where a level is searched for, nothing is judged from raw looks.
            let of_a_series =
                recorded["scope"]["supply"].as_str().is_some_and(|supply| supply.ends_with(" V"));
            let set_up = recorded["name"] == "set-up";
            let raw = RAW.contains(&quantity) && !of_a_series && !set_up;
            assert_eq!(made, if raw { "raw" } else { "recorded" }, "{name}, reading {ordinal}: {quantity}");
        }
    }
}

#[test]
fn another_rule_moves_limits_and_no_level() {
    let workshop = shipped("demo");
    let before = workshop.call(&["show", "last", "--json"]).json();
    let document = judged(&workshop, &["--rule", "itu-category-a"]);
    assert_eq!(document["rule"], "itu-category-a");
    assert_eq!(document["of_run"], before["run"]);
    assert_eq!(document["verdict"], format!("{}.1", before["run"].as_str().unwrap()));
    let pairs = before["readings"].as_array().unwrap().iter().zip(document["readings"].as_array().unwrap());
    for (was, now) in pairs {
        assert_eq!((&was["level_dbm"], &now["from"]), (&now["level_dbm"], &"raw".into()));
        if now["quantity"] == "harmonic" {
            // ITU-R SM.329-12, category A: 43 + 10 log P below the carrier, which is -13 dBm, at most 70 dB below.
            let limit = now["limit_dbm"].as_f64().unwrap();
            assert!((limit + 13.0).abs() < 0.02, "{now}");
        }
    }
    assert_eq!(document["changed"].as_array().unwrap().len(), 27);
}

/// The carrier at 4.6 W within 4 to 4.75 W is undecided with its uncertainty and complies without.
#[test]
fn a_simple_decision_has_no_regard_to_uncertainty() {
    let text = plan("146 MHz", 2).replace("4..5.5 W", "4..4.75 W");
    let workshop = Workshop::with(&text, &simulated_bench(2, ""));
    assert_eq!(workshop.call(&["run", "plan.yaml"]).exit, 3);
    let document = judged(&workshop, &["--decision", "simple"]);
    let changed = &document["changed"][0];
    assert_eq!(
        (&changed["number"], &changed["outcome"]),
        (&1.into(), &serde_json::json!(["undecided", "complies"]))
    );
    assert_eq!(document["decision"], "simple");
    // A guard band of no width is the same.
    let document = judged(&workshop, &["--guard-factor", "0"]);
    assert_eq!(document["changed"][0]["outcome"][1], "complies");
}

/// What was invalid only for being outside its window is held against it again, by its figure where nothing else is left.
#[test]
fn a_carrier_outside_its_window_is_judged_again_by_its_figure() {
    // 4.6 W, and 9.2 W by a pad of 3 dB more.
    for (watts, outcome) in [("7..12 W", Outcome::Complies), ("15..20 W", Outcome::Invalid)] {
        let text = plan("146 MHz", 2).replace("4..5.5 W", watts);
        let text = text.replacen("rule:", "outside_window: invalid\nrule:", 1);
        let bench = simulated_bench(2, "");
        let workshop = Workshop::with(&text, &bench);
        let named = |name: &str| workshop.path(name).display().to_string();
        assert_eq!(workshop.call(&["run", &named("plan.yaml")]).exit, 3);
        let with_more = bench.replace("attenuator: 30 dB", "attenuator: 33 dB");
        workshop.write("more.yaml", &with_more);
        workshop.write("with-more.yaml", &text.replace("bench.yaml", "more.yaml"));
        let job = |name| Job::load(&named(name), None, &Files::from_environment()).unwrap();
        let store = Store::open_read_only(&workshop.path("data")).unwrap();
        let mut readings = store.load(&store.resolve("last").unwrap()).unwrap().readings;
        readings.iter_mut().for_each(|reading| reading.acquisitions.clear());
        assert_eq!(readings[0].outcome, Outcome::Invalid);
        let judged = judge_again(&job("with-more.yaml"), &job("plan.yaml"), &readings).unwrap();
        let VerdictReading { reading, from } = &judged[0];
        assert_eq!(
            (*from, reading.outcome),
            (JudgedFrom::Corrected, outcome),
            "{:?} {:?}",
            reading.reason,
            reading.figure
        );
    }
}

/// The table of the pad with so much more loss in every line.
fn with_more_loss(table: &Path, more: f64) -> String {
    let text = std::fs::read_to_string(table).unwrap();
    let lines = text.lines().map(|line| {
        let mut figures: Vec<String> = line.split_whitespace().map(str::to_owned).collect();
        if figures.len() != 9 || line.starts_with(['!', '#']) {
            return line.to_owned();
        }
        for place in [3, 5] {
            figures[place] = format!("{:.4}", figures[place].parse::<f64>().unwrap() - more);
        }
        figures.join(" ")
    });
    lines.collect::<Vec<_>>().join("\n") + "\n"
}

/// What is wrong is the file that was named now, not the one of the run whose place it takes.
#[test]
fn a_table_that_does_not_fit_is_told_by_its_own_name() {
    let workshop = shipped("demo");
    workshop.write("broken.s2p", "# GHz S DB R 50\nabc def\n");
    workshop.write(
        "short.s2p",
        "# MHz S MA R 50\n400 0.1 0 0.03 0 0.03 0 0.1 0\n500 0.1 0 0.03 0 0.03 0 0.1 0\n",
    );
    for (argument, words) in [
        ("pad-30.s2p=gone.s2p", "--path: cannot read `gone.s2p`: No such file"),
        (
            "pad-30.s2p=broken.s2p",
            "`broken.s2p` does not read: line 2: expected a finite number, found `abc`",
        ),
        ("pad-30.s2p=short.s2p", "the loss of `short.s2p` is not known at 144.2 MHz, only over 400..500 MHz"),
    ] {
        let called = workshop.call(&["judge", "last", "--path", argument]);
        assert!(called.exit == 2 && called.talk.contains(words), "{called:?}");
        assert!(called.talk.contains("help: ") && !called.talk.contains("of `pad-30.s2p`"), "{called:?}");
        assert!(called.talk.contains("nothing was judged"), "{called:?}");
    }
}

#[test]
fn another_table_moves_every_level_by_what_it_differs() {
    let workshop = shipped("demo");
    let before = workshop.call(&["show", "last", "--json"]).json();
    workshop.write("pad.s2p", &with_more_loss(&root().join("config/paths/pad-30.s2p"), 0.5));
    let name = text_of(&workshop);
    let document = judged(&workshop, &["--path", &format!("{name}=pad.s2p")]);
    let pairs = before["readings"].as_array().unwrap().iter().zip(document["readings"].as_array().unwrap());
    for (was, now) in pairs {
        let by = now["level_dbm"].as_f64().unwrap() - was["level_dbm"].as_f64().unwrap();
        // A bound may move by a little more or less: the products of a stronger carrier are part of it.
        let within = if was["bound"] == true || now["bound"] == true { 0.2 } else { 2e-3 };
        assert!((by - 0.5).abs() < within, "{by} in {now}");
    }
}

/// The recorded name of the pad's table.
fn text_of(workshop: &Workshop) -> String {
    record(workshop)
        .query_row("SELECT name FROM text WHERE name LIKE '%pad-30.s2p'", [], |row| row.get(0))
        .unwrap()
}

/// 47 CFR 97.307(e) exempts transmitters built before 1977-04-15.
#[test]
fn another_fact_is_another_branch_of_the_rule() {
    let workshop = recorded();
    let called = workshop.call(&["judge", "last", "--json", "--fact", "built=1976-05-01"]);
    assert_eq!(called.exit, 3, "{called:?}");
    for reading in &called.json()["readings"].as_array().unwrap()[1..] {
        assert_eq!((&reading["outcome"], &reading["reason_code"]), (&"no limit".into(), &"exempt".into()));
    }
    let called = workshop.call(&["judge", "last", "--fact", "colour=red"]);
    assert_eq!(called.exit, 2, "{called:?}");
    assert!(called.talk.contains("`colour` is not a fact of `us-part-97`"), "{called:?}");
}

#[test]
fn the_run_stays_as_it_was_to_the_last_byte() {
    let workshop = recorded();
    let all = |workshop: &Workshop| {
        ["run", "text", "instrument", "reading", "acquisition", "sweep", "event", "transcript_batch"]
            .map(|table| rows(workshop, &format!("SELECT * FROM {table} ORDER BY rowid")))
    };
    let before = all(&workshop);
    judged(&workshop, &["--rule", "itu-category-a"]);
    judged(&workshop, &[]);
    assert!(all(&workshop) == before);
    assert_eq!(rows(&workshop, "SELECT number FROM verdict").len(), 2);
}

/// A run that was stopped in the midst of a piece, is judged, and goes on: what was half done then is not in the verdict
/// any more, and no reading has the looks of another one.
#[test]
fn a_verdict_on_a_run_that_went_on_leaves_out_what_was_set_aside() {
    let Some(workshop) = (0..8).find_map(|_| stopped_within_a_piece()) else {
        panic!("eight runs stopped between two pieces");
    };
    let verdict = judged(&workshop, &["--decision", "simple"]);
    let then = numbers(&verdict);
    assert!(workshop.call(&["resume", "last"]).exit <= 1);
    let now = numbers(&workshop.call(&["show", "last", "--json"]).json());
    let kept: Vec<u64> = then.iter().copied().filter(|number| now.contains(number)).collect();
    assert!(kept.len() < then.len() && kept.len() < now.len(), "{then:?} {now:?}");

    let shown = workshop.call(&["show", "last", "--verdict", "1", "--json"]).json();
    assert_eq!(numbers(&shown), kept);
    assert_ne!(shown["state"], "finished");
    let run = workshop.call(&["show", "last", "--json"]).json();
    for reading in shown["readings"].as_array().unwrap() {
        let of_run =
            run["readings"].as_array().unwrap().iter().find(|one| one["number"] == reading["number"]);
        let of_run = of_run.unwrap();
        assert_eq!(reading["frequency_hz"], of_run["frequency_hz"]);
        assert_eq!(reading["acquisitions"], of_run["acquisitions"], "{}", reading["number"]);
    }
    let text = workshop.call(&["show", "last", "--verdict", "1"]).out;
    let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(text.contains("the run went on after it was judged"), "{text}");
}

fn numbers(document: &Value) -> Vec<u64> {
    let readings = document["readings"].as_array().unwrap();
    readings.iter().map(|reading| reading["number"].as_u64().unwrap()).collect()
}

/// A run with a search that was stopped at its third key-down: its carrier and harmonics were read on the one before.
fn stopped_within_a_piece() -> Option<Workshop> {
    let workshop = crate::bench::shipped(("search", "search"), &[], &[]);
    let mut command = workshop.command(&["run", "plan.yaml"]);
    let mut child = command.stderr(Stdio::piped()).stdout(Stdio::null()).spawn().unwrap();
    let talk = BufReader::new(child.stderr.take().unwrap()).lines();
    let keyed = talk.map(Result::unwrap).filter(|line| line.contains("KEY DOWN"));
    assert_eq!(keyed.take(3).count(), 3, "the run ended before that");
    crate::processes::signal("-TERM", &child);
    (child.wait().unwrap().code() == Some(130)).then_some(())?;
    let count = numbers(&workshop.call(&["show", "last", "--json"]).json()).len();
    (1..17).contains(&count).then_some(workshop)
}

#[test]
fn a_dry_run_keeps_nothing() {
    let workshop = recorded();
    let document = judged(&workshop, &["--dry-run", "--decision", "simple"]);
    assert_eq!(document["verdict"], Value::Null);
    assert_eq!(rows(&workshop, "SELECT * FROM verdict").len(), 0);
}

#[test]
fn verdicts_are_listed_shown_and_reported_with_word_of_the_original() {
    let workshop = recorded();
    assert!(!workshop.call(&["show", "last"]).out.contains("judged again"));
    judged(&workshop, &["--rule", "itu-category-a"]);
    let says = "the original verdict stands in the record";
    let flat = |called: Called| called.out.split_whitespace().collect::<Vec<_>>().join(" ");
    let shown = flat(workshop.call(&["show", "last"]));
    assert!(shown.contains("judged again") && shown.contains("verdict 1, "), "{shown}");
    assert!(shown.contains("rule itu-category-a in place of us-part-97"), "{shown}");
    let shown = flat(workshop.call(&["show", "last", "--verdict", "1"]));
    assert!(shown.contains(says) && shown.contains("rule itu-category-a:"), "{shown}");
    let report = flat(workshop.call(&["report", "last", "--verdict", "1"]));
    assert!(report.contains(says), "{report}");
    let sheet = workshop.call(&["show", "last", "--verdict", "1", "--reading", "2"]);
    assert_eq!(sheet.exit, 0, "{sheet:?}");
    let missing = workshop.call(&["show", "last", "--verdict", "2"]);
    assert_eq!(missing.exit, 2, "{missing:?}");
    assert!(missing.talk.contains("has no verdict 2"), "{missing:?}");
}

#[test]
fn what_cannot_be_judged_is_refused_with_advice() {
    let workshop = recorded();
    let refused = |arguments: &[&str], says: &[&str]| {
        let called = workshop.call(&[&["judge", "last"], arguments].concat());
        assert_eq!(called.exit, 2, "{called:?}");
        says.iter().for_each(|text| assert!(called.talk.contains(text), "`{text}` is not in {called:?}"));
    };
    refused(&["--rule", "us-part-79"], &["there is no rule `us-part-79`", "did you mean"]);
    refused(&["--rule", "us-part-90-stability"], &["tolerances of the carrier only"]);
    refused(&["--decision", "maybe"], &["expected `guard-band` or `simple`, found `maybe`"]);
    refused(&["--guard-factor=-1"], &["expected a number from 0 to 10"]);
    refused(&["--path", "pad.s2p=other.s2p"], &["with no table `pad.s2p`", "replace the whole bench file"]);
    let pad = simulated_bench(2, "").replace("over: 1 MHz..3.2 GHz, rated", "over: 1 MHz..200 MHz, rated");
    workshop.write("short.yaml", &pad);
    refused(&["--bench", "short.yaml"], &["cannot be judged so", "must cover every frequency"]);
    record(&workshop).execute("UPDATE sweep SET n = 0, codec = 0, data = x''", []).unwrap();
    refused(&[], &["raw sweeps", "not in the record any more"]);
    record(&workshop).execute("UPDATE run SET state = 'running', ended = NULL", []).unwrap();
    refused(&[], &["has no end"]);
}

/// A pad that is stated with half a decibel more: carrier and harmonics of the test bench move by as much.
#[test]
fn another_bench_file_moves_levels() {
    let workshop = recorded();
    let before = workshop.call(&["show", "last", "--json"]).json();
    workshop.write("pad.yaml", &simulated_bench(2, "").replace("attenuator: 30 dB", "attenuator: 30.5 dB"));
    let document = judged(&workshop, &["--bench", "pad.yaml"]);
    for number in 0..2 {
        let level = |document: &Value| document["readings"][number]["level_dbm"].as_f64().unwrap();
        assert!((level(&document) - level(&before) - 0.5).abs() < 1e-9, "{document:#}");
    }
}

/// Where looks say nothing of a nearer limit there is no verdict: what was found to comply does not exceed without another
/// look after key up.
#[test]
fn a_nearer_limit_that_asks_for_more_is_undecided() {
    let workshop = recorded();
    let rule = std::fs::read_to_string(root().join("config/rules/forty-three-plus-ten-log.yaml")).unwrap();
    let strict = rule
        .replace("rule: forty-three-plus-ten-log", "rule: strict")
        .replace("{ below: 43 dB", "{ below: 83 dB");
    assert!(strict.contains("83 dB"), "{strict}");
    workshop.write("strict.yaml", &strict);
    let document = judged(&workshop, &["--rule", "strict.yaml"]);
    for reading in &document["readings"].as_array().unwrap()[1..] {
        assert_eq!(reading["outcome"], "undecided", "{reading:#}");
        let open = ["not-looked-at", "own-distortion", "floor-too-high", "within-uncertainty"];
        assert!(open.contains(&reading["reason_code"].as_str().unwrap()), "{reading:#}");
    }
}

/// What is moved by its recorded figure says so, and moves by what the table differs.
#[test]
fn what_has_no_raw_way_is_corrected_and_says_so() {
    let workshop = shipped("standby");
    let before = workshop.call(&["show", "last", "--json"]).json();
    let bench = std::fs::read_to_string(root().join("config/benches/standby.yaml")).unwrap();
    workshop.write("bench.yaml", &bench.replace("attenuator: 30 dB", "attenuator: 30.5 dB"));
    let document = judged(&workshop, &["--bench", "bench.yaml"]);
    let pairs = before["readings"].as_array().unwrap().iter().zip(document["readings"].as_array().unwrap());
    let mut corrected = 0;
    for (was, now) in pairs.filter(|(was, _)| was["quantity"] == "standby") {
        let by = now["level_dbm"].as_f64().unwrap() - was["level_dbm"].as_f64().unwrap();
        assert!((by - 0.5).abs() < 2e-3, "{by} in {now:#}");
        assert_eq!(now["from"], "corrected");
        corrected += 1;
    }
    assert!(corrected > 0, "{document:#}");
}

/// The uncertainties of the readings of a run in standby, judged again with something replaced in its very bench file.
fn uncertainties(replaced: &[(&str, &str)], profile: Option<(&str, &str)>) -> Vec<(f64, f64)> {
    let workshop = crate::bench::shipped(("standby", "standby"), &[], &[]);
    let before = workshop.call(&["run", "plan.yaml", "--json"]).json();
    let bench = std::fs::read_to_string(workshop.path("bench.yaml")).unwrap();
    let bench = replaced.iter().fold(bench, |bench, (from, to)| {
        assert!(bench.contains(from), "`{from}` is not in:\n{bench}");
        bench.replacen(from, to, 1)
    });
    workshop.write("bench.yaml", &bench);
    if let Some((from, to)) = profile {
        let text = std::fs::read_to_string(root().join("config/profiles/analyser-generic.yaml")).unwrap();
        assert!(text.contains(from), "`{from}` is not in:\n{text}");
        workshop.write("analyser-generic.yaml", &text.replacen(from, to, 1));
    }
    let document = judged(&workshop, &["--bench", "bench.yaml"]);
    let pairs = before["readings"].as_array().unwrap().iter().zip(document["readings"].as_array().unwrap());
    let of = |reading: &Value| reading["expanded_uncertainty_db"].as_f64().unwrap();
    pairs.filter(|(was, _)| was["quantity"] == "standby").map(|(was, now)| (of(was), of(now))).collect()
}

/// A part that came to the path brings its uncertainty, though it takes no other line's place. Closed form: U² grows by the
/// square of what the certificate of the part states for k = 2.
#[test]
fn a_part_that_comes_to_the_path_makes_a_corrected_reading_less_certain() {
    let with_cable = "branches: { analyser: [ { attenuator: 1 dB, over: 5 kHz..3.2 GHz, uncertainty: 1.5 dB, name: cable } ] }";
    let pairs = uncertainties(&[("branches: { analyser: [] }", with_cable)], None);
    assert_eq!(pairs.len(), 3);
    for (was, now) in pairs {
        // A joint less is known by its reflections, which is a few hundredths.
        assert!((now - (was * was + 1.5 * 1.5).sqrt()).abs() < 0.05, "{was} to {now}");
    }
}

/// Another data sheet changes no level, but what is known of it. Closed form: U² grows by what the square of
/// the one line for k = 2 does.
#[test]
fn another_profile_makes_a_corrected_reading_less_certain() {
    let level = ("absolute_level: { within: 0.6 dB", "absolute_level: { within: 1.6 dB");
    let pairs = uncertainties(&[], Some(level));
    assert_eq!(pairs.len(), 3);
    for (was, now) in pairs {
        assert!((now - (was * was + 1.6 * 1.6 - 0.6 * 0.6).sqrt()).abs() < 1e-6, "{was} to {now}");
    }
}

/// Where a unit must be silent it reflects as off its carrier, although that is the frequency it was told. The bench file
/// under another name says the same: no uncertainty changes, and none is missing.
#[test]
fn silence_moves_with_the_path() {
    let workshop = crate::bench::shipped(("silent", "silent"), &[], &[]);
    let before = workshop.call(&["run", "plan.yaml", "--json"]).json();
    let bench = std::fs::read_to_string(workshop.path("bench.yaml")).unwrap();
    let moved = bench.replacen("attenuator: 30 dB", "attenuator: 30.25 dB", 1).replacen(
        "uncertainty: 0.1 dB",
        "uncertainty: 0.9 dB",
        1,
    );
    workshop.write("other.yaml", &moved);
    let document = judged(&workshop, &["--bench", "other.yaml"]);
    let pairs = before["readings"].as_array().unwrap().iter().zip(document["readings"].as_array().unwrap());
    let silent: Vec<_> = pairs.filter(|(was, _)| was["quantity"] == "silence").collect();
    assert_eq!(silent.len(), 2);
    for (was, now) in silent {
        let [by, u, wider] = [
            now["level_dbm"].as_f64().unwrap() - was["level_dbm"].as_f64().unwrap(),
            was["expanded_uncertainty_db"].as_f64().unwrap(),
            now["expanded_uncertainty_db"].as_f64().unwrap(),
        ];
        assert!((by - 0.25).abs() < 1e-9, "{now:#}");
        // Closed form: U² grows by what the square of the one line for k = 2 does.
        assert!((wider - (u * u + 0.9 * 0.9 - 0.1 * 0.1).sqrt()).abs() < 1e-6, "{u} to {wider}: {now:#}");
        assert_ne!(now["reason_code"], "not-looked-at", "{now:#}");
    }
}

/// A carrier where the unit must be silent, 2.7 dB above the limit: behind a pad that turns out to hold 6 dB less it is below
/// it, and behind one that holds 1 dB more it is above it by as much more.
#[test]
fn what_exceeds_is_held_against_the_limit_again() {
    let leaking = ("\"50 MHz..54 MHz\", ", "{ range: 50 MHz..54 MHz, lets_through: 70 dB }, ");
    let workshop = crate::bench::shipped(("silent", "silent"), &[], &[leaking]);
    let before = workshop.call(&["run", "plan.yaml", "--json"]).json();
    let bench = std::fs::read_to_string(workshop.path("bench.yaml")).unwrap();
    let of = |document: &Value| {
        let readings = document["readings"].as_array().unwrap();
        readings.iter().find(|reading| reading["quantity"] == "silence").unwrap().clone()
    };
    let was = of(&before);
    assert_eq!((&was["outcome"], &was["reason_code"]), (&"exceeds".into(), &"transmits".into()), "{was:#}");
    for (pad, outcome) in [(24.0, "complies"), (31.0, "exceeds")] {
        workshop
            .write("other.yaml", &bench.replacen("attenuator: 30 dB", &format!("attenuator: {pad} dB"), 1));
        let now = of(&judged(&workshop, &["--bench", "other.yaml", "--dry-run"]));
        assert_eq!(now["outcome"], outcome, "{now:#}");
        let [margin, then] = [&now, &was].map(|reading| reading["margin_db"].as_f64().unwrap());
        assert!((margin - then - (30.0 - pad)).abs() < 1e-6, "{then} to {margin}");
    }
}

/// A pad with half a decibel more: lines that a search found move by as much, worked out from their looks, and the search
/// itself says what it rests on.
#[test]
fn another_bench_moves_what_a_search_found() {
    let workshop = crate::bench::shipped(("search", "search"), &[("up_to: 10", "up_to: 2")], &[]);
    let before = workshop.call(&["run", "plan.yaml", "--json"]).json();
    let bench = std::fs::read_to_string(workshop.path("bench.yaml")).unwrap();
    workshop.write("bench.yaml", &bench.replace("attenuator: 30 dB", "attenuator: 30.5 dB"));
    let document = judged(&workshop, &["--bench", "bench.yaml", "--dry-run"]);
    let pairs = before["readings"].as_array().unwrap().iter().zip(document["readings"].as_array().unwrap());
    let found: Vec<_> = pairs.filter(|(was, _)| was["quantity"] == "spurious").collect();
    assert!(found.len() >= 8, "{before:#}");
    for (was, now) in found {
        let by = now["level_dbm"].as_f64().unwrap() - was["level_dbm"].as_f64().unwrap();
        // The loss of a flat pad is the same at every frequency.
        assert!((by - 0.5).abs() < 1e-9 && now["from"] == "raw", "{by} in {now:#}");
        assert_eq!(was["name"], now["name"]);
    }
    let text = workshop.call(&["judge", "last", "--dry-run", "--bench", "bench.yaml"]).out;
    let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(text.contains("what closer looks showed is as the run told it"), "{text}");
}

/// How deep a search looked is worked out from its sweeps to the same figure.
#[test]
fn the_depth_of_a_search_comes_from_its_sweeps() {
    let workshop = shipped("search");
    let before = workshop.call(&["show", "last", "--json"]).json();
    let document = judged(&workshop, &["--decision", "simple"]);
    let pairs = before["readings"].as_array().unwrap().iter().zip(document["readings"].as_array().unwrap());
    let searches: Vec<_> = pairs.filter(|(was, _)| was["quantity"] == "search").collect();
    assert_eq!(searches.len(), 2);
    for (was, now) in searches {
        assert_eq!(now["from"], "corrected");
        let by = now["level_dbm"].as_f64().unwrap() - was["level_dbm"].as_f64().unwrap();
        assert!(by.abs() < 1e-9, "{by} in {now:#}");
        assert_eq!((&was["frequency_hz"], &was["limit_dbm"]), (&now["frequency_hz"], &now["limit_dbm"]));
    }
}

/// Units with lines of every kind, of their own and of others: what a search found comes out of its looks as it did in the
/// run, with all that was said of it.
#[test]
fn what_searches_found_is_the_same_from_its_looks() {
    let (mut from_looks, mut in_doubt) = (0, 0);
    for seed in 2005..2009 {
        let planted = Planted::draw(seed);
        let (job, readings) = (job(&planted).unwrap(), searched(&planted).unwrap().readings);
        let judged = judge_again(&job, &job, &readings).unwrap();
        for (judged, recorded) in judged.iter().zip(&readings) {
            let what = format!("seed {seed}, reading {}: {:?}", recorded.ordinal, recorded.name);
            assert_eq!(judged.reading, *recorded, "{what}");
            if recorded.quantity == Quantity::Spurious {
                assert_eq!(judged.from, JudgedFrom::Raw, "{what}");
                from_looks += 1;
                in_doubt += usize::from(recorded.remarks.iter().any(|remark| remark.contains("image")));
            }
        }
    }
    assert!(from_looks > 20 && in_doubt > 0, "{from_looks} lines, {in_doubt} of them in doubt");
}
