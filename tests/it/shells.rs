//! What the program gives to shells and to `man`.

use std::process::Command;

use crate::bench::Workshop;

const SHELLS: [&str; 5] = ["bash", "zsh", "fish", "elvish", "powershell"];

/// The commands by their names, as the help lists them.
fn commands(workshop: &Workshop) -> Vec<String> {
    let called = workshop.call(&["--help"]);
    let listed = called.out.split("Commands:\n").nth(1).unwrap().split("\n\n").next().unwrap().to_owned();
    let names: Vec<String> = listed
        .lines()
        .filter(|line| line.starts_with("  ") && !line.starts_with("   "))
        .map(|line| line.split_whitespace().next().unwrap().to_owned())
        .filter(|name| name != "help")
        .collect();
    assert!(names.len() >= 10 && names.contains(&"run".to_owned()), "{names:?}");
    names
}

#[test]
fn every_shell_gets_every_command() {
    let workshop = Workshop::new();
    let commands = commands(&workshop);
    for shell in SHELLS {
        let called = workshop.call(&["completions", shell]);
        assert_eq!((called.exit, called.talk.as_str()), (0, ""), "{shell}");
        for command in &commands {
            assert!(called.out.contains(command.as_str()), "`{command}` is not in the script for {shell}");
        }
    }
    let called = workshop.call(&["completions", "dos"]);
    assert_eq!(called.exit, 2, "{called:?}");
}

#[test]
fn bash_takes_its_script_and_completes_with_it() {
    let workshop = Workshop::new();
    workshop.write("script", &workshop.call(&["completions", "bash"]).out);
    let checked = Command::new("bash").args(["-n"]).arg(workshop.path("script")).output().unwrap();
    assert!(checked.status.success() && checked.stderr.is_empty(), "{checked:?}");
    for (line, word, expected) in [
        ("spurline", "sche", &["schema"][..]),
        ("spurline schema", "", &["plan", "bench", "profile", "rule"]),
        ("spurline completions", "z", &["zsh"]),
        ("spurline man", "--o", &["--out"]),
    ] {
        let last = line.split(' ').next_back().unwrap();
        let asked = format!(
            "source \"$1\"; COMP_WORDS=({line} '{word}'); COMP_CWORD=$(({words} - 1)); \
             _spurline spurline '{word}' {last}; printf '%s\\n' \"${{COMPREPLY[@]}}\"",
            words = line.split(' ').count() + 1
        );
        let shell =
            Command::new("bash").args(["-c", &asked, "bash"]).arg(workshop.path("script")).output().unwrap();
        let offered = String::from_utf8(shell.stdout).unwrap();
        for word in expected {
            assert!(offered.lines().any(|line| line == *word), "{line} {word}: {offered}");
        }
    }
}

#[test]
fn the_main_page_goes_to_standard_output() {
    let workshop = Workshop::new();
    let called = workshop.call(&["man"]);
    assert_eq!((called.exit, called.talk.as_str()), (0, ""));
    let title = called.out.lines().find(|line| line.starts_with(".TH ")).unwrap();
    assert!(title.starts_with(".TH spurline 1") && title.contains(env!("CARGO_PKG_VERSION")), "{title}");
    for section in ["NAME", "SYNOPSIS", "DESCRIPTION", "OPTIONS", "SUBCOMMANDS", "VERSION"] {
        assert!(called.out.lines().any(|line| line == format!(".SH {section}")), "no section {section}");
    }
    for command in commands(&workshop) {
        let named = format!("spurline\\-{}(1)", command.replace('-', "\\-"));
        assert!(called.out.contains(&named), "`{command}` is not on the page");
    }
}

#[test]
fn a_page_per_command_goes_into_a_folder() {
    let workshop = Workshop::new();
    let called = workshop.call(&["man", "--out", "made/man1"]);
    assert_eq!((called.exit, called.out.as_str()), (0, ""), "{called:?}");
    let pages = ["spurline".to_owned()]
        .into_iter()
        .chain(commands(&workshop).into_iter().map(|command| format!("spurline-{command}")));
    let mut expected = 0;
    for page in pages {
        let path = format!("made/man1/{page}.1");
        assert!(called.talk.lines().any(|line| line == format!("manual page {path}")), "{}", called.talk);
        let text = std::fs::read_to_string(workshop.path(&path)).unwrap();
        assert!(text.lines().any(|line| line.starts_with(&format!(".TH {page} 1"))), "{path}:\n{text}");
        assert!(text.contains(".SH NAME") && text.contains(".SH SYNOPSIS"), "{path}");
        expected += 1;
    }
    let written = std::fs::read_dir(workshop.path("made/man1")).unwrap().count();
    assert_eq!(written, expected, "nothing else is written, and nothing half");
}

#[test]
fn a_folder_that_cannot_be_made_is_told() {
    let workshop = Workshop::new();
    workshop.write("file", "");
    let called = workshop.call(&["man", "--out", "file/man1"]);
    assert_eq!(called.exit, 5, "{called:?}");
    assert!(called.talk.starts_with("error: cannot make the folder file/man1\n  because: "), "{called:?}");
}
