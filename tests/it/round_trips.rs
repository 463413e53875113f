//! Few round trips: settings, all sweeps, traces, status and errors of one acquisition in two.

use serde_json::Value;

use crate::bench::{Workshop, plan, root, simulated_bench};

fn to_the_analyser(workshop: &Workshop) -> Vec<Value> {
    let shown = workshop.call(&["show", "last", "--transcript", "--link", "analyser", "--json"]);
    let connecting = ["connect", "prepare"];
    let mut entries = shown.json()["entries"].as_array().unwrap().clone();
    entries.retain(|entry| !connecting.contains(&entry["step"].as_str().unwrap()));
    entries
}

/// Every exchange with the analyser, once it is prepared, is the first or the second of an acquisition, in turn.
#[test]
fn an_acquisition_takes_two_round_trips() {
    let workshop = Workshop::with(&plan("146 MHz", 10), &simulated_bench(2, ""));
    let called = workshop.call(&["run", "plan.yaml"]);
    assert_eq!(called.exit, 1, "{called:?}");
    let mut entries = to_the_analyser(&workshop);
    // Whether the link is alive is asked once a channel, before anything is acquired.
    assert!(entries[0]["text"].as_str().unwrap().starts_with("*OPC?"));
    entries.drain(..2);
    // And once more if the unit had to rest after the glimpse.
    let alive = |entry: &Value| entry["text"].as_str().unwrap_or_default().starts_with("*OPC?");
    if let Some(rested) = entries.iter().position(alive) {
        entries.drain(rested..rested + 2);
    }
    // A look for a carrier, the glimpse, two looks for a carrier, nine unkeyed, zero span, the carrier and its width, nine
    // harmonics, zero span again; and once more without the key what exceeds its limit.
    assert_eq!(entries.len(), 4 * 27);
    for exchanges in entries.chunks(4) {
        let directions: Vec<&str> = exchanges.iter().map(|e| e["direction"].as_str().unwrap()).collect();
        assert_eq!(directions, ["to", "from", "to", "from"]);
        let asked = |at: usize| exchanges[at]["text"].as_str().unwrap();
        assert!(asked(0).starts_with("INP:ATT") && asked(0).contains("SWE:TIME?"), "{}", asked(0));
        assert!(
            asked(2).starts_with("ABOR;:INIT;*WAI;:TRAC?") && asked(2).ends_with("SYST:ERR?"),
            "{}",
            asked(2)
        );
    }
}

/// An instrument that takes one command a message costs more, and reads the same.
#[test]
fn without_compound_messages_the_readings_are_the_same() {
    let compound = Workshop::with(&plan("146 MHz", 3), &simulated_bench(2, ""));
    let wanted = compound.call(&["run", "plan.yaml", "--json"]).json();
    let single = Workshop::with(
        &plan("146 MHz", 3),
        &simulated_bench(2, "").replace("profile: analyser-generic", "profile: own.yaml"),
    );
    let profile = std::fs::read_to_string(root().join("config/profiles/analyser-generic.yaml")).unwrap();
    single.write("own.yaml", &profile.replace("compound: true", "compound: false"));
    let found = single.call(&["run", "plan.yaml", "--json"]).json();
    assert_eq!(found["readings"], wanted["readings"]);
    assert!(to_the_analyser(&single).len() > 4 * to_the_analyser(&compound).len());
}
