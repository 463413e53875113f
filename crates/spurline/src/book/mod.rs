//! What the book says of commands, held against the commands themselves.
//!
//! It stands in the binary because nothing outside it can ask `clap` what it knows.

mod lines;
mod reference;

use std::path::{Path, PathBuf};

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../..")
}

/// Every page that tells people what to type, with its name from the root of the repository.
fn pages() -> Vec<(String, String)> {
    let mut files = vec!["README.md".to_owned(), "DEVELOPERS.md".to_owned()];
    for entry in std::fs::read_dir(root().join("docs/src")).unwrap() {
        let name = entry.unwrap().file_name().into_string().unwrap();
        if name.ends_with(".md") {
            files.push(format!("docs/src/{name}"));
        }
    }
    assert!(files.len() > 20, "only {} pages", files.len());
    files.sort();
    files
        .into_iter()
        .map(|file| {
            let text = std::fs::read_to_string(root().join(&file)).unwrap();
            (file, text)
        })
        .collect()
}
