//! Every exit status of the contract is reached.

use std::io::Read;
use std::process::Stdio;
use std::time::Duration;

use crate::bench::{Called, Workshop, plan, root, simulated_bench};
use crate::processes::running_keyed;

fn run(plan: &str, bench: &str) -> Called {
    Workshop::with(plan, bench).call(&["run", "plan.yaml"])
}

fn shipped(name: &str) -> Called {
    let path = root().join("config/plans").join(name);
    Workshop::new().call(&["run", path.to_str().unwrap()])
}

#[test]
fn status_0_everything_complies() {
    assert_eq!(shipped("analyser-alone.yaml").exit, 0);
}

#[test]
fn status_1_something_exceeds() {
    assert_eq!(shipped("demo.yaml").exit, 1);
}

#[test]
fn status_2_wrong_usage_or_file() {
    let workshop = Workshop::with(&plan("146 MHz", 3), &simulated_bench(1, ""));
    for arguments in [
        &["run"][..],
        &["run", "plan.yaml", "--nonsense"],
        &["run", "gone.yaml"],
        &["no-such-command"],
        &["check", "gone.yaml"],
        &["limit", "--rule", "us-part-97", "--carrier", "146", "--power", "5 W"],
        &["limit", "--rule", "nowhere", "--carrier", "146 MHz", "--power", "5 W"],
        &["show", "last"],
        &["runs"],
        &["report", "last"],
        &["sim", "plan.yaml"],
    ] {
        let called = workshop.call(arguments);
        assert_eq!(called.exit, 2, "{arguments:?}: {called:?}");
        assert!(called.talk.starts_with("error: "), "{arguments:?}: {called:?}");
    }
    // An overrated part: the plan would be refused.
    let refused = simulated_bench(1, "").replace("rated: 25 W", "rated: 1 W");
    let workshop = Workshop::with(&plan("146 MHz", 3), &refused);
    assert_eq!(workshop.call(&["check", "plan.yaml"]).exit, 2);
}

#[test]
fn status_3_undecided_invalid_or_without_limit() {
    // 43 dB + 10 log P is -13 dBm: a harmonic 49 dB below 4.7 W stands at -12.3 dBm, within U of it.
    let near = plan("146 MHz", 3).replace("us-part-97", "itu-category-a");
    let undecided = run(&near, &simulated_bench(2, ""));
    assert_eq!(undecided.exit, 3, "{undecided:?}");
    let no_limit = run(&plan("446 MHz", 3), &simulated_bench(2, ""));
    assert_eq!(no_limit.exit, 3, "{no_limit:?}");
    let apart = simulated_bench(4, "").replace("  power_meter: {}", "  power_meter: { level_error: 3 dB }");
    // Where the path is to be shown first, this would end the run.
    let invalid = run(&plan("146 MHz", 3), &(apart + "verify_path: false\n"));
    assert_eq!(invalid.exit, 3, "{invalid:?}");
}

#[test]
fn status_4_the_bench_failed() {
    let mute = "  faults: [ { instrument: analyser, does: cut-link, after_messages: 20 } ]\n";
    let called = run(&plan("146 MHz", 3), &simulated_bench(1, mute));
    assert_eq!(called.exit, 4, "{called:?}");
    assert!(called.talk.contains("  because: ") && called.talk.contains("  help: "), "{called:?}");
}

#[test]
fn status_5_the_record_failed() {
    let workshop = Workshop::with(&plan("146 MHz", 3), &simulated_bench(1, ""));
    // A folder cannot be made where a file stands; not even the superuser can.
    workshop.write("data", "not a folder");
    let called = workshop.call(&["run", "plan.yaml"]);
    assert_eq!(called.exit, 5, "{called:?}");
    assert!(called.talk.contains("  help: ") && !called.talk.contains("KEY DOWN"), "{called:?}");
}

/// A disk that fills up while the unit is keyed, by a limit on the size of files: the first thing that failed is told.
#[test]
fn status_5_the_disk_fills_up() {
    let workshop = Workshop::with(&plan("146 MHz", 10), &simulated_bench(1, ""));
    let script = r#"trap "" XFSZ; ulimit -f 460; exec "$0" run plan.yaml"#;
    let mut command = std::process::Command::new("bash");
    command.arg("-c").arg(script).arg(crate::bench::program()).current_dir(workshop.folder.path());
    let output = command.env("SPURLINE_DATA", workshop.path("data")).output().unwrap();
    let talk = String::from_utf8(output.stderr).unwrap();
    assert_eq!(output.status.code(), Some(5), "{talk}");
    assert!(talk.contains("KEY DOWN") && talk.contains("because: could not write"), "{talk}");
    assert!(!talk.contains("earlier write error"), "{talk}");
    // A glimpse at the path, and the one that failed.
    assert_eq!(talk.matches("KEY DOWN").count(), 2, "{talk}");
}

#[test]
fn status_130_someone_stopped_it() {
    for signal in ["INT", "TERM", "HUP"] {
        let real = simulated_bench(1, "  clock: real\n");
        let workshop = Workshop::with(&plan("146 MHz", 3), &real);
        let (mut child, mut talk) = running_keyed(&workshop);
        std::thread::sleep(Duration::from_millis(100));
        crate::processes::signal(&format!("-{signal}"), &child);
        let mut said = String::new();
        talk.read_to_string(&mut said).unwrap();
        assert_eq!(child.wait().unwrap().code(), Some(130), "{signal}: {said}");
        assert!(said.contains("key up after"), "{signal}: {said}");
        let shown = workshop.call(&["show", "last"]);
        assert!(shown.out.contains("interrupted"), "{signal}: {shown:?}");
    }
}

/// What could not be written is missing somewhere: that is no success. A reader that has had enough is one.
#[test]
fn output_that_is_lost_is_no_success() {
    let workshop = Workshop::new();
    let limit = ["limit", "--rule", "us-part-97", "--carrier", "146 MHz", "--power", "-5 dBm"];
    let full = std::fs::OpenOptions::new().write(true).open("/dev/full").unwrap();
    let output = workshop.command(&limit).stdout(full).stderr(Stdio::piped()).output().unwrap();
    let talk = String::from_utf8(output.stderr).unwrap();
    assert_eq!(output.status.code(), Some(5), "{talk}");
    assert!(talk.contains("cannot write standard output"), "{talk}");
    let mut child = workshop.command(&limit).stdout(Stdio::piped()).spawn().unwrap();
    drop(child.stdout.take());
    assert_eq!(child.wait().unwrap().code(), Some(0));
}

/// A file is written whole or not at all, and no folder is made for it.
#[test]
fn a_report_that_cannot_be_written_leaves_nothing_behind() {
    let workshop = Workshop::new();
    let plan = root().join("config/plans/analyser-alone.yaml");
    assert_eq!(workshop.call(&["run", plan.to_str().unwrap()]).exit, 0);
    std::fs::create_dir(workshop.path("folder")).unwrap();
    for out in ["folder", "nowhere/report.html"] {
        let called = workshop.call(&["report", "last", "--out", out]);
        assert_eq!(called.exit, 5, "{called:?}");
    }
    assert!(!workshop.path("folder.part").exists() && !workshop.path("nowhere").exists());
}
