//! The tables that shipped benches name are those that their truth gives when it is measured.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

use spurline_document::{Document, Reader};
use spurline_sim::{SimulatedBench, calibrate};
use spurline_units::Hertz;

fn config() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../config")
}

/// The others are tables that were measured with a generator; the end-to-end tests measure them anew.
fn is_touchstone(entry: &std::io::Result<std::fs::DirEntry>) -> bool {
    entry.as_ref().is_ok_and(|entry| entry.path().extension().is_some_and(|ending| ending == "s2p"))
}

#[test]
fn the_shipped_tables_are_up_to_date() {
    let mut compared = BTreeSet::new();
    for entry in std::fs::read_dir(config().join("benches")).unwrap() {
        let file = entry.unwrap().path();
        let text = std::fs::read_to_string(&file).unwrap();
        let document = Document::parse("bench.yaml", text.as_str()).unwrap();
        let mut reader = Reader::new(&document);
        let bench = SimulatedBench::read(&mut reader, document.root.get("simulated").unwrap());
        let bench = reader.finish(bench).unwrap();
        for table in calibrate(&bench, Hertz::new(3.2e9)) {
            // A part may also be written into the bench itself: then there is no table.
            let path = config().join("paths").join(format!("{}.s2p", table.name));
            if let Ok(shipped) = std::fs::read_to_string(&path) {
                assert_eq!(shipped, table.touchstone, "{}", path.display());
                compared.insert(path);
            }
        }
    }
    assert_eq!(
        compared.len(),
        std::fs::read_dir(config().join("paths")).unwrap().filter(is_touchstone).count(),
        "a table that no bench has made"
    );
}
