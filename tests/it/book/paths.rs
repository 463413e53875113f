//! Every file of the repository that a page names is there.

use super::page::Page;
use crate::bench::root;

/// Folders whose files pages name from the root of the repository.
const FOLDERS: [&str; 8] =
    ["config/", "crates/", "docs/", "fuzz/", "packaging/", "scripts/", "tests/", ".github/"];

#[test]
fn every_file_that_a_page_names_is_there() {
    let (mut seen, mut missing) = (0, Vec::new());
    for page in Page::book().into_iter().chain(Page::beside()) {
        let made: Vec<String> = page.code.iter().flat_map(|code| made(code)).collect();
        for path in page.code.iter().flat_map(|code| named(code)) {
            seen += 1;
            if !root().join(&path).exists() && !made.contains(&path) {
                missing.push(format!("{}: `{path}`", page.file));
            }
        }
    }
    assert!(missing.is_empty(), "{}", missing.join("\n"));
    assert!(seen > 60, "only {seen} files named");
}

/// The paths in a piece of code that begin with one of the folders. Capitals and `…` stand for something.
fn named(code: &str) -> Vec<String> {
    code.split(|letter: char| letter.is_whitespace() || "\"'`,;()[]{}=|<>:".contains(letter))
        .map(|word| word.trim_start_matches("./").trim_end_matches('.'))
        .filter(|word| FOLDERS.iter().any(|folder| word.starts_with(folder)))
        .filter(|word| !word.contains(['…', '*', '$']) && !word.split('/').any(is_placeholder))
        .map(str::to_owned)
        .collect()
}

/// What a command line writes: the word behind `>` and behind `--out`.
fn made(code: &str) -> Vec<String> {
    let words: Vec<&str> = code.split_whitespace().collect();
    words.windows(2).filter(|pair| matches!(pair[0], ">" | "--out")).map(|pair| pair[1].to_owned()).collect()
}

/// `RUN`, `NAME.yaml`, but not `SUMMARY.md`, which is a file.
fn is_placeholder(part: &str) -> bool {
    let stem = part.split('.').next().unwrap_or_default();
    stem.len() > 1 && stem.chars().all(|letter| letter.is_ascii_uppercase()) && stem != "SUMMARY"
}

#[test]
fn names_are_found_and_placeholders_are_none() {
    let found =
        named("spurline run config/plans/demo.yaml --bench config/benches/NAME.yaml > docs/x.svg; `fuzz/…`");
    assert_eq!(found, ["config/plans/demo.yaml", "docs/x.svg"]);
    assert_eq!(
        made("sed s/a/b/ x > config/y.yaml && spurline report last --out z.html"),
        ["config/y.yaml", "z.html"]
    );
}
