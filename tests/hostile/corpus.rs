//! Every seed of every fuzz target goes through the same functions here, on any toolchain.

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

use spurline_tests::hostile::BODIES;

fn fuzz(folder: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../fuzz").join(folder)
}

fn names(folder: &Path) -> BTreeSet<String> {
    let stem = |path: &Path| path.file_stem().unwrap().to_string_lossy().into_owned();
    fs::read_dir(folder).unwrap().map(|entry| stem(&entry.unwrap().path())).collect()
}

#[test]
fn every_seed_is_borne() {
    for (name, body) in BODIES {
        let folder = fuzz("corpus").join(name);
        let mut seeds = 0;
        for entry in fs::read_dir(&folder).unwrap() {
            let path = entry.unwrap().path();
            // The name is printed with a panic only.
            eprintln!("{}", path.display());
            body(&fs::read(&path).unwrap());
            seeds += 1;
        }
        assert!(seeds >= 5, "`{name}` has {seeds} seeds");
        body(b"");
    }
}

#[test]
fn bodies_targets_and_seeds_have_the_same_names() {
    let bodies: BTreeSet<String> = BODIES.iter().map(|(name, _)| (*name).to_owned()).collect();
    assert_eq!(names(&fuzz("fuzz_targets")), bodies);
    assert_eq!(names(&fuzz("corpus")), bodies);
}
