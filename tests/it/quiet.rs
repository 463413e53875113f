//! `--quiet`, colours, and times: what a script is told, and what a person sees where they are.

use crate::bench::{Workshop, plan, root, simulated_bench};

fn workshop() -> Workshop {
    Workshop::with(&plan("146 MHz", 3), &simulated_bench(2, ""))
}

#[test]
fn a_quiet_run_says_its_name_and_its_outcome() {
    let workshop = workshop();
    let loud = workshop.call(&["run", "plan.yaml"]);
    let called = workshop.call(&["run", "plan.yaml", "--quiet"]);
    assert_eq!((called.exit, called.talk.as_str()), (loud.exit, ""), "{called:?}");
    let [line] = called.out.lines().collect::<Vec<_>>()[..] else { panic!("{called:?}") };
    let (run, outcome) = line.split_once(' ').unwrap();
    let shown = workshop.call(&["show", run, "--json"]).json();
    assert_eq!(shown["outcome"], outcome);
    // Before the command as well, and of what is judged again.
    let judged = workshop.call(&["--quiet", "judge", "last", "--rule", "itu-category-a"]);
    assert_eq!(judged.talk, "");
    assert!(judged.out.starts_with(&format!("{run}.1 ")) && judged.out.lines().count() == 1, "{judged:?}");
}

#[test]
fn a_quiet_check_says_nothing_unless_something_is_wrong() {
    let workshop = workshop();
    let called = workshop.call(&["check", "plan.yaml", "--quiet"]);
    assert_eq!((called.exit, called.out.as_str(), called.talk.as_str()), (0, "", ""));
    let wrong =
        Workshop::with(&plan("146 mHz", 3), &simulated_bench(2, "")).call(&["check", "plan.yaml", "--quiet"]);
    assert!(wrong.exit == 2 && wrong.talk.contains("plan.yaml:5"), "{wrong:?}");
}

#[test]
fn a_quiet_proof_is_one_line() {
    let bench = root().join("config/benches/with-generator.yaml");
    let workshop = Workshop::new();
    let called = workshop.call(&["prove", bench.to_str().unwrap(), "--quiet"]);
    assert_eq!((called.exit, called.talk.as_str(), called.out.lines().count()), (0, "", 1), "{called:?}");
    assert!(called.out.trim_end().ends_with(" proven"), "{called:?}");
}

/// Words are the same with and without colour, and colour is left out where it is not wanted.
#[test]
fn colour_is_never_alone() {
    let workshop = workshop();
    workshop.call(&["run", "plan.yaml"]);
    let shown = |environment: &[(&str, &str)]| {
        let mut command = workshop.command(&["show", "last"]);
        command.env_remove("NO_COLOR").envs(environment.iter().copied());
        String::from_utf8(command.output().unwrap().stdout).unwrap()
    };
    let (plain, forced) = (shown(&[]), shown(&[("CLICOLOR_FORCE", "1")]));
    assert!(!plain.contains('\x1b') && forced.contains("\x1b["), "{forced}");
    assert!(!shown(&[("CLICOLOR_FORCE", "1"), ("NO_COLOR", "1")]).contains('\x1b'));
    let mut bare = String::new();
    let mut rest = forced.as_str();
    while let Some((before, after)) = rest.split_once('\x1b') {
        bare.push_str(before);
        rest = after.split_once('m').unwrap().1;
    }
    assert_eq!(bare + rest, plain);
}

#[test]
fn times_are_those_of_the_wall_and_of_the_record() {
    let workshop = workshop();
    workshop.call(&["run", "plan.yaml"]);
    let call = |arguments: &[&str], zone: &str| {
        let output = workshop.command(arguments).env("TZ", zone).output().unwrap();
        String::from_utf8(output.stdout).unwrap()
    };
    let utc = call(&["show", "last"], "UTC");
    let began = utc.lines().find(|line| line.starts_with("began ")).unwrap_or_else(|| panic!("{utc}"));
    assert!(began.ends_with(" UTC") && !began.contains('(') && utc.contains("\nended "), "{utc}");
    let there = call(&["show", "last"], "Asia/Kolkata");
    assert!(there.contains(" +05:30 (") && there.contains(" UTC)"), "{there}");
    let report = call(&["report", "last"], "Asia/Kolkata");
    assert!(report.contains("+05:30 (") && call(&["report", "last"], "UTC").contains(" UTC</dd>"));
    let listed = call(&["runs"], "Asia/Kolkata");
    assert!(listed.contains("began here") && listed.contains("+05:30"), "{listed}");
    assert!(listed.lines().all(|line| line.chars().count() <= 80), "{listed}");
    assert!(!call(&["runs"], "UTC").contains("began here"));
}
