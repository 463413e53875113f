//! The page of every command and option, made from what `--help` is made of.
//!
//! To write it anew: `SPURLINE_WRITE_DOCS=1 cargo test -p spurline -- book`.

use std::fmt::Write as _;

use clap::{Arg, ArgAction, Command, CommandFactory};

const HEAD: &str = "\
# Commands

Made from what `spurline COMMAND --help` says; a test holds it up to date. `spurline man --out DIR` writes the same as
manual pages, `spurline completions SHELL` teaches a shell. What each file may say is [a page of its own](keys.md).

Standard output is data, standard error is talk. `--json` prints one JSON document on standard output and nothing else
there, also when something is wrong. `--data DIR`, else `SPURLINE_DATA`, else `spurline` in the user's data folder, is
where the record is. A run is named by its name, the beginning of it, or `last`.

## Exit status

| status | of `run`, `resume`, `judge` | of the others |
|---|---|---|
| 0 | everything complies | done, and nothing to object to |
| 1 | something exceeds its limit | what was looked for is there; each command says what |
| 2 | wrong usage or a wrong file: nothing was keyed | the same |
| 3 | nothing exceeds, but something is undecided, invalid or without limit | it cannot be said |
| 4 | the bench failed | the same |
| 5 | the record failed | the same |
| 130 | stopped: key up, kept, `resume` goes on | the same |

";

#[test]
fn the_page_of_commands_is_up_to_date() {
    let page = page();
    assert!(page.matches("\n## spurline ").count() >= 20, "{page}");
    let path = super::root().join("docs/src/commands.md");
    if std::env::var_os("SPURLINE_WRITE_DOCS").is_some() {
        std::fs::write(&path, &page).unwrap();
    }
    let kept = std::fs::read_to_string(&path).unwrap_or_default();
    let differs = page.lines().zip(kept.lines()).find(|(made, kept)| made != kept);
    assert!(page == kept, "docs/src/commands.md tells otherwise, first here: {differs:?}");
}

fn page() -> String {
    let mut command = crate::Arguments::command().disable_help_subcommand(true);
    // Names the subcommands in full, as in `spurline run`.
    command.build();
    let mut page = HEAD.to_owned();
    let shown = || command.get_subcommands().filter(|below| !below.is_hide_set());
    page.push_str("## All of them\n\n| command | does |\n|---|---|\n");
    for below in shown() {
        let about = below.get_about().map(ToString::to_string).unwrap_or_default();
        writeln!(page, "| [`{0}`](#spurline-{0}) | {1} |", below.get_name(), cell(&about)).unwrap();
    }
    shown().for_each(|below| section(&mut page, below));
    page
}

fn section(page: &mut String, command: &Command) {
    writeln!(page, "\n## spurline {}\n", command.get_name()).unwrap();
    let about = command.get_long_about().or_else(|| command.get_about());
    let about = about.map(ToString::to_string).unwrap_or_default();
    writeln!(page, "{}\n", plain(&about)).unwrap();
    let usage = command.clone().render_usage().to_string();
    writeln!(page, "```text\n{}\n```", usage.trim_start_matches("Usage: ")).unwrap();
    let mut told: Vec<&Arg> = command.get_arguments().filter(|argument| is_told(argument)).collect();
    if told.is_empty() {
        return;
    }
    told.sort_by_key(|argument| argument.get_index().unwrap_or(usize::MAX));
    page.push_str("\n| argument or option | says |\n|---|---|\n");
    for argument in told {
        writeln!(page, "| {} | {} |", name(argument), says(argument)).unwrap();
    }
}

fn is_told(argument: &Arg) -> bool {
    !argument.is_hide_set() && !matches!(argument.get_id().as_str(), "help" | "version")
}

fn name(argument: &Arg) -> String {
    let values = || {
        let names = argument.get_value_names().unwrap_or_default();
        names.iter().map(ToString::to_string).collect::<Vec<_>>().join(" ")
    };
    let takes = matches!(argument.get_action(), ArgAction::Set | ArgAction::Append);
    let mut word = match (argument.get_long(), argument.get_short()) {
        (Some(long), Some(short)) => format!("-{short}, --{long}"),
        (Some(long), None) => format!("--{long}"),
        (None, Some(short)) => format!("-{short}"),
        (None, None) => return format!("`{}`", values()),
    };
    if takes {
        write!(word, " {}", values()).unwrap();
    }
    format!("`{word}`")
}

fn says(argument: &Arg) -> String {
    let help = argument.get_long_help().or_else(|| argument.get_help());
    let mut text = cell(&help.map(ToString::to_string).unwrap_or_default());
    if !matches!(argument.get_action(), ArgAction::Set | ArgAction::Append) {
        return text;
    }
    let values: Vec<String> = argument
        .get_possible_values()
        .iter()
        .filter(|value| !value.is_hide_set())
        .map(|value| match value.get_help() {
            Some(help) => format!("`{}` ({})", value.get_name(), cell(&help.to_string())),
            None => format!("`{}`", value.get_name()),
        })
        .collect();
    if !values.is_empty() {
        write!(text, ". One of: {}", values.join(", ")).unwrap();
    }
    let defaults: Vec<String> =
        argument.get_default_values().iter().map(|value| format!("`{}`", value.to_string_lossy())).collect();
    if !defaults.is_empty() {
        write!(text, ". Unless stated: {}", defaults.join(", ")).unwrap();
    }
    text
}

/// A text in a cell of a table: in one line, and no bar ends it.
fn cell(text: &str) -> String {
    plain(text).split_whitespace().collect::<Vec<_>>().join(" ").replace('|', "\\|")
}

/// A text of the help as Markdown: nothing in it is a tag. What stands between backticks is shown as it is anyway.
fn plain(text: &str) -> String {
    let escaped = |(place, part): (usize, &str)| {
        if place % 2 == 0 { part.replace('<', "&lt;") } else { part.to_owned() }
    };
    text.split('`').enumerate().map(escaped).collect::<Vec<_>>().join("`")
}
