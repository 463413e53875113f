//! What a file or an option says reaches no instrument as a command: whatever a plan can be made to say, nothing of it
//! stands on a wire outside quotes.

use crate::bench::{Workshop, plan, simulated_bench};

/// Names as somebody might write them who wants to be heard by an instrument.
const WANTING: [&str; 6] = [
    "high;:INJECTED ON",
    "x\\n:INJECTED ON",
    "x\\r:INJECTED ON",
    "x\\\" ;:INJECTED ON",
    "*RST;INJECTED",
    "#0INJECTED",
];

/// The places of a plan and a bench where a person names something, with the name of before.
const PLACES: [(&str, &str); 7] = [
    ("plan.yaml", "plan: test"),
    ("plan.yaml", "name: one"),
    ("plan.yaml", "model: FH-2"),
    ("plan.yaml", "high:"),
    ("bench.yaml", "bench: "),
    ("bench.yaml", "profile: analyser-generic, serial: A-0001"),
    ("bench.yaml", "serial: U-1"),
];

#[test]
fn no_name_becomes_a_command() {
    let (mut ran, mut refused) = (0, 0);
    for (file, place) in PLACES {
        for name in WANTING {
            let workshop = Workshop::with(&plan("146 MHz", 2), &simulated_bench(2, ""));
            let text = std::fs::read_to_string(workshop.path(file)).unwrap();
            assert!(text.contains(place), "{place} in {text}");
            let (key, _) = place.rsplit_once(": ").unwrap_or((place, ""));
            let named = match place {
                "high:" => text.replace("high:", &format!("\"{name}\":")),
                "bench: " => text.replacen("bench: ", &format!("bench: \"{name}\" #"), 1),
                _ => text.replace(place, &format!("{key}: \"{name}\"")),
            };
            workshop.write(file, &named);
            let called = workshop.call(&["run", "plan.yaml"]);
            match called.exit {
                2 => refused += 1,
                _ => ran += 1,
            }
            assert!(!called.talk.contains('\r') && !called.out.contains('\r'), "{called:?}");
            nothing_was_said(&workshop, place, name);
        }
    }
    assert!(ran > 10 && refused > 10, "{ran} ran, {refused} were refused");
}

#[test]
fn no_option_becomes_a_command() {
    for name in WANTING.map(|name| name.replace("\\n", "\n").replace("\\r", "\r").replace("\\\"", "\"")) {
        let workshop = Workshop::with(&plan("146 MHz", 2), &simulated_bench(2, ""));
        workshop.call(&["run", "plan.yaml", "--firmware", &name]);
        nothing_was_said(&workshop, "--firmware", &name);
        workshop.call(&["run", "plan.yaml", "--unit", &name]);
        nothing_was_said(&workshop, "--unit", &name);
    }
}

/// Looks through everything that was sent: what stands in quotes is text, everything else is a command.
fn nothing_was_said(workshop: &Workshop, place: &str, name: &str) {
    let shown = workshop.call(&["show", "last", "--transcript", "--json"]);
    if shown.exit != 0 {
        // No run was begun: nothing was sent to anything that keys.
        return;
    }
    let document = shown.json();
    let entries = document["entries"].as_array().unwrap();
    assert!(entries.len() > 10, "{place}: {}", entries.len());
    for entry in entries.iter().filter(|entry| entry["direction"] == "to") {
        let text = entry["text"].as_str().unwrap_or_default();
        let outside: String = text.split('"').step_by(2).collect();
        assert!(!outside.contains("INJECTED"), "{place} named {name:?}: {text}");
    }
}
