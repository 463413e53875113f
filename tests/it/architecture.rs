//! The house: imports go down a floor, the simulator shares nothing with what measures it, every room says what
//! it is for.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use cargo_metadata::{DependencyKind, MetadataCommand, Package};

const FLOORS: [(u8, &[&str]); 9] = [
    (1, &["units", "clock", "document"]),
    (2, &["limits", "judge", "scpi", "path", "wire"]),
    (3, &["record", "transport", "keyholder", "profile", "discovery"]),
    (4, &["instrument", "plan", "store", "report"]),
    (5, &["sequencer", "sim", "replay"]),
    (6, &["runner"]),
    (7, &["walkin"]),
    (8, &["daemon"]),
    (9, &["spurline"]),
];

/// What the simulator must not reach by any way, so that its errors cannot cancel those of the measurement.
const NOT_FOR_SIM: [&str; 9] =
    ["path", "judge", "limits", "plan", "profile", "instrument", "transport", "record", "sequencer"];

fn packages() -> Vec<Package> {
    let manifest = Path::new(env!("CARGO_MANIFEST_DIR")).join("../Cargo.toml");
    MetadataCommand::new().manifest_path(manifest).no_deps().exec().unwrap().packages
}

fn room(package: &str) -> &str {
    package.strip_prefix("spurline-").unwrap_or(package)
}

fn floor(name: &str) -> Option<u8> {
    FLOORS.iter().find(|(_, rooms)| rooms.contains(&name)).map(|(floor, _)| *floor)
}

/// Rooms and the rooms that they import, tests aside.
fn edges() -> BTreeMap<String, BTreeSet<String>> {
    let rooms = packages();
    let of = |package: &Package| {
        let inner = |name: &str| name.starts_with("spurline");
        let imports =
            package.dependencies.iter().filter(|d| d.kind == DependencyKind::Normal && inner(&d.name));
        imports.map(|dependency| room(&dependency.name).to_owned()).collect()
    };
    rooms
        .iter()
        .filter(|package| *package.name != "spurline-tests")
        .map(|package| (room(&package.name).to_owned(), of(package)))
        .collect()
}

#[test]
fn imports_go_down_a_floor() {
    let edges = edges();
    assert_eq!(edges.len(), FLOORS.iter().map(|(_, rooms)| rooms.len()).sum::<usize>());
    for (room, imports) in &edges {
        let here = floor(room).unwrap_or_else(|| panic!("`{room}` has no floor"));
        for import in imports {
            let below = floor(import).unwrap_or_else(|| panic!("`{import}` has no floor"));
            assert!(below < here, "`{room}` on floor {here} imports `{import}` on floor {below}");
        }
    }
}

#[test]
fn the_simulator_shares_nothing_with_what_measures_it() {
    let edges = edges();
    let mut reached = BTreeSet::new();
    let mut open = vec!["sim".to_owned()];
    while let Some(room) = open.pop() {
        for import in &edges[&room] {
            if reached.insert(import.clone()) {
                open.push(import.clone());
            }
        }
    }
    assert!(!edges["sequencer"].contains("sim"), "they meet on the wire");
    for forbidden in NOT_FOR_SIM {
        assert!(!reached.contains(forbidden), "the simulator reaches `{forbidden}`");
    }
}

#[test]
fn every_file_says_what_its_room_is_for() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("..");
    let mut open = vec![root.join("crates"), root.join("tests")];
    let mut seen = 0;
    while let Some(folder) = open.pop() {
        for entry in std::fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                open.push(path);
            } else if path.extension().is_some_and(|ending| ending == "rs") {
                let text = std::fs::read_to_string(&path).unwrap();
                assert!(text.starts_with("//!"), "{} does not begin with `//!`", path.display());
                let lines = text.lines().count();
                assert!(lines < 800, "{} has {lines} lines", path.display());
                seen += 1;
            }
        }
    }
    assert!(seen > 100, "only {seen} files found");
}

#[test]
fn every_room_takes_the_shared_lints() {
    for package in packages() {
        let manifest = std::fs::read_to_string(&package.manifest_path).unwrap();
        assert!(manifest.contains("[lints]\nworkspace = true"), "{}", package.name);
    }
}
