//! `new`: from nothing to a run with two commands, with and without a terminal.

use std::io::Write;
use std::process::{Command, Stdio};

use crate::bench::{Workshop, program};

#[test]
fn a_plan_is_checked_and_run_as_it_was_written() {
    let workshop = Workshop::new();
    let called = workshop.call(&["new", "plan", "--yes"]);
    assert_eq!((called.exit, called.out.as_str()), (0, ""), "{called:?}");
    assert!(called.talk.contains("spurline check plan.yaml"), "{called:?}");
    let checked = workshop.call(&["check", "plan.yaml"]);
    assert!(checked.exit == 0 && !checked.out.contains("cannot be shown"), "{checked:?}");
    let run = workshop.call(&["run", "plan.yaml"]);
    assert_eq!(run.exit, 0, "{run:?}");
}

#[test]
fn every_kind_is_taken_by_the_command_that_comes_next() {
    let workshop = Workshop::new();
    let bench = workshop.call(&["new", "bench", "--yes", "--json", "--answer", "opens_by_itself=1 s"]).json();
    assert_eq!(bench["files"][0], "bench.yaml");
    assert_eq!(workshop.call(&["new", "plan", "my-plan.yaml", "--yes"]).exit, 0);
    let checked = workshop.call(&["check", "my-plan.yaml"]);
    assert!(checked.exit == 0 && checked.out.contains("My bench"), "{checked:?}");
    let rule =
        ["new", "rule", "my-rule.yaml", "--yes", "--answer", "source=Order 5", "--answer", "paragraph=3"];
    let more = ["--answer", "edition=2024", "--answer", "band1=9 kHz..6 GHz", "--answer", "limit1=-36 dBm"];
    assert_eq!(workshop.call(&[&rule[..], &more].concat()).exit, 0);
    let limit =
        ["limit", "--rule", "./my-rule.yaml", "--carrier", "146 MHz", "--power", "5 W", "--at", "292 MHz"];
    let limit = workshop.call(&limit);
    assert!(limit.exit == 0 && limit.out.contains("-36"), "{limit:?}");
    assert_eq!(workshop.call(&["limit", "--lint", "--rule", "./my-rule.yaml"]).exit, 0);
    assert_eq!(workshop.call(&["new", "profile", "--yes", "--answer", "kind=supply"]).exit, 0);
    // Nobody listens there, but the profile was read.
    let tried = ["identify", "TCPIP::127.0.0.1::1::SOCKET", "--profile", "./profile.yaml"];
    assert_eq!(workshop.call(&tried).exit, 4);
}

#[test]
fn nothing_is_written_over_and_nothing_is_guessed() {
    let workshop = Workshop::new();
    let nobody = workshop.call(&["new", "bench"]);
    assert_eq!(nobody.exit, 2, "{nobody:?}");
    assert!(nobody.talk.contains("--answer kind=") || nobody.talk.contains("--yes"), "{nobody:?}");
    workshop.write("bench.yaml", "mine");
    let again = workshop.call(&["new", "bench", "--yes"]);
    assert!(again.exit == 2 && again.talk.contains("is there already"), "{again:?}");
    assert_eq!(std::fs::read_to_string(workshop.path("bench.yaml")).unwrap(), "mine");
    for file in ["bench", "gone/bench.yaml"] {
        assert_eq!(workshop.call(&["new", "bench", file, "--yes"]).exit, 2);
    }
}

/// At a terminal, by what `script` of util-linux makes one of a pipe.
#[test]
fn a_person_is_asked() {
    let workshop = Workshop::new();
    let command = format!("{} new bench", program().display());
    let mut child = Command::new("script")
        .args(["-qefc", &command, "/dev/null"])
        .current_dir(workshop.folder.path())
        .env("NO_COLOR", "1")
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    // The second kind, the usual title and model, a range without a unit, a right one, and Enter to the end.
    child.stdin.take().unwrap().write_all(b"2\n\n\n136..174\n144 MHz..148 MHz\n\n\n\n\n").unwrap();
    let output = child.wait_with_output().unwrap();
    let said = String::from_utf8(output.stdout).unwrap();
    assert_eq!(output.status.code(), Some(0), "{said}");
    for told in
        ["1  real", "which kind of bench [real]: ", "expected a range with its unit", "written bench.yaml"]
    {
        assert!(said.contains(told), "`{told}` is not in:\n{said}");
    }
    let written = std::fs::read_to_string(workshop.path("bench.yaml")).unwrap();
    assert!(written.contains("range: 144..148 MHz"), "{written}");
}
