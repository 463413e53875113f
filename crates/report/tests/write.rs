//! Writes every kind of report to a folder, for looking at. Run with `--ignored` and `REPORT_FOLDER` set.

use std::path::PathBuf;

use spurline_report::{csv, html, json, junit};

mod specimen;

#[test]
#[ignore = "writes files: set REPORT_FOLDER"]
fn write_the_specimen() {
    let folder = PathBuf::from(std::env::var_os("REPORT_FOLDER").expect("REPORT_FOLDER names a folder"));
    for (name, run) in [("run", specimen::run()), ("hostile", specimen::saying(&specimen::hostile()))] {
        let view = run.view();
        for (kind, text) in [
            ("html", html(&view).unwrap()),
            ("json", json(&view).unwrap()),
            ("csv", csv(&view).unwrap()),
            ("xml", junit(&view).unwrap()),
        ] {
            std::fs::write(folder.join(name).with_extension(kind), text).unwrap();
        }
    }
}
