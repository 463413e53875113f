//! The first hour: one command, readings, a report.

use crate::bench::{Workshop, root};

#[test]
fn the_demonstration_runs_and_one_reading_exceeds() {
    let workshop = Workshop::new();
    let plan = root().join("config/plans/demo.yaml");
    let called = workshop.call(&["run", plan.to_str().unwrap(), "--json"]);
    assert_eq!(called.exit, 1, "{called:?}");
    let document = called.json();
    let readings = document["readings"].as_array().unwrap();
    let count = |outcome: &str| readings.iter().filter(|r| r["outcome"] == outcome).count();
    assert_eq!((readings.len(), count("complies"), count("exceeds")), (30, 29, 1));
    let bad = readings.iter().find(|r| r["outcome"] == "exceeds").unwrap();
    assert_eq!((&bad["channel"], bad["order"].as_u64()), (&"VHF high".into(), Some(3)));
    // 47 CFR 97.307(e): 25 uW for a transmitter of 25 W or less on VHF.
    assert!((bad["limit_dbm"].as_f64().unwrap() - -16.020_6).abs() < 1e-3);
    assert_eq!(document["outcome"], "exceeds");

    let run = document["run"].as_str().unwrap();
    let report = std::fs::read_to_string(workshop.path(&format!("data/reports/{run}.html"))).unwrap();
    assert!(report.contains("<svg") && report.contains("Simulated bench, seed 7"));
    for source in ["http://", "https://", "src="] {
        assert!(!report.contains(source), "the page loads `{source}`");
    }

    let runs = workshop.call(&["runs", "--json"]).json();
    assert_eq!(runs["runs"][0]["run"], run);
    let shown = workshop.call(&["show", "last", "--reading", "3"]);
    assert!(shown.exit == 0 && shown.out.contains("loss of pad-30.s2p"), "{shown:?}");
    let again = workshop.call(&["report", &run[..12], "--format", "json"]);
    assert_eq!(again.json(), document);
}

#[test]
fn the_same_seed_gives_the_same_figures() {
    let figures = || {
        let workshop = Workshop::new();
        let plan = root().join("config/plans/demo.yaml");
        workshop.call(&["run", plan.to_str().unwrap(), "--json"]).json()["readings"].clone()
    };
    assert_eq!(figures(), figures());
}

#[test]
fn check_says_what_is_needed_beforehand() {
    let workshop = Workshop::new();
    let plan = root().join("config/plans/demo.yaml");
    let called = workshop.call(&["check", plan.to_str().unwrap(), "--json"]);
    assert_eq!(called.exit, 0, "{called:?}");
    let document = called.json();
    let scopes = document["scopes"].as_array().unwrap();
    let scope = scopes.iter().find(|scope| scope["power_setting"] == "high").unwrap();
    // 5.5 W is 37.40 dBm; 30 dB, 6 dB and a little cable leave about +1.2 dBm.
    let down = &scope["key_downs"][0];
    assert!((down["analyser_input_dbm"].as_f64().unwrap() - 1.2).abs() < 0.3, "{scope}");
    let readings = scope["readings"].as_array().unwrap();
    assert!(readings.len() == 9 && readings.iter().all(|r| r["prospect"] == "able"), "{scope}");
}
