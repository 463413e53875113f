//! Writes every kind of report to a folder, for looking at. Run with `--ignored` and `REPORT_FOLDER` set.

use std::path::PathBuf;

use spurline_report::{Paper, csv, html, json, junit, markdown, pdf};

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
            ("md", markdown(&view)),
        ] {
            std::fs::write(folder.join(name).with_extension(kind), text).unwrap();
        }
        std::fs::write(folder.join(name).with_extension("pdf"), pdf(&view, Paper::A4).unwrap()).unwrap();
    }
}

/// Two thousand readings in 200 states, for measuring what a large run costs.
#[test]
#[ignore = "takes its time and writes a file: set REPORT_FOLDER"]
fn write_a_large_run() {
    let folder = PathBuf::from(std::env::var_os("REPORT_FOLDER").expect("REPORT_FOLDER names a folder"));
    let mut run = specimen::run();
    let some = std::mem::take(&mut run.readings);
    run.readings = (0..2000_u32)
        .map(|place| {
            let mut reading = some[place as usize % some.len()].clone();
            reading.ordinal = place + 1;
            reading.scope.channel = format!("channel {}", place / 10);
            reading
        })
        .collect();
    let bytes = pdf(&run.view(), Paper::A4).unwrap();
    std::fs::write(folder.join("large.pdf"), bytes).unwrap();
}
