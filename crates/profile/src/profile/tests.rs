//! The shipped profiles read, and a wrong one says where and why.

use insta::assert_snapshot;

use super::*;

fn read(text: &str) -> Result<Profile, Mistakes> {
    Profile::read(&Document::parse("mine.yaml", text)?)
}

#[test]
fn every_shipped_profile_reads() {
    for (text, kind) in [
        (include_str!("../../../../config/profiles/analyser-generic.yaml"), "analyser"),
        (include_str!("../../../../config/profiles/power-meter-generic.yaml"), "power-meter"),
        (include_str!("../../../../config/profiles/supply-generic.yaml"), "supply"),
        (include_str!("../../../../config/profiles/relay-generic.yaml"), "relay"),
        (include_str!("../../../../config/profiles/unit-generic.yaml"), "unit"),
    ] {
        match read(text) {
            Ok(profile) => assert_eq!(profile.kind.word(), kind),
            Err(mistakes) => panic!("{mistakes}"),
        }
    }
}

#[test]
fn a_figure_knows_where_it_came_from() {
    let text = include_str!("../../../../config/profiles/analyser-generic.yaml");
    let Kind::Analyser(analyser) = read(text).unwrap().kind else { panic!("an analyser") };
    assert_eq!(analyser.accuracy[0].source, "mine.yaml: accuracy.absolute_level");
    assert_eq!(analyser.commands.spelling(crate::AnalyserCommand::Centre).with(1.5e8), "FREQ:CENT 150000000");
}

#[test]
fn a_wrong_profile_is_told_so() {
    let text = "profile: mine\nkind: relay\nmessages: { longest: 10, compound: yes, answer_within: 1 s }\n\
                commands: { close: CLOSE, open: \"OPEN {}\", state: \"?\" }\n";
    assert_snapshot!(read(text).unwrap_err(), @r#"
    error: expected a length in bytes from 40 to 60000, found `10`
     --> mine.yaml:3:22
      |
    3 | messages: { longest: 10, compound: yes, answer_within: 1 s }
      |                      ^^
      |
      = help: write a whole number from 40 to 60000, without a unit

    error: expected true or false, found `yes`
     --> mine.yaml:3:36
      |
    3 | messages: { longest: 10, compound: yes, answer_within: 1 s }
      |                                    ^^^
      |
      = help: known here: true, false

    error: the key `opens_after` is missing in the commands
     --> mine.yaml:4:13
      |
    4 | commands: { close: CLOSE, open: "OPEN {}", state: "?" }
      |             ^^^^^
      |
      = help: keys of the commands: close, open, state, opens_after, read_back

    error: the key `read_back` is missing in the commands
     --> mine.yaml:4:13
      |
    4 | commands: { close: CLOSE, open: "OPEN {}", state: "?" }
      |             ^^^^^
      |
      = help: keys of the commands: close, open, state, opens_after, read_back

    error: expected a command with one `{}` for its value, found `CLOSE`
     --> mine.yaml:4:20
      |
    4 | commands: { close: CLOSE, open: "OPEN {}", state: "?" }
      |                    ^^^^^

    error: expected a command with one `{}` for its value, found `?`
     --> mine.yaml:4:51
      |
    4 | commands: { close: CLOSE, open: "OPEN {}", state: "?" }
      |                                                   ^^^
    "#);
}
