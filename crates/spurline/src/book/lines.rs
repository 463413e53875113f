//! Every command line that a page shows is one that the program takes.
//!
//! Lines in fenced blocks are read as a shell reads them and parsed in full. In running text only the name of the
//! command and of its options are looked at: there `PLAN` and `…` stand for something.

use clap::{Command, CommandFactory};

#[test]
fn every_command_line_in_a_block_is_one_that_the_program_takes() {
    let mut seen = 0;
    for (file, text) in super::pages() {
        for (line, words) in in_blocks(&text) {
            seen += 1;
            if let Err(error) = crate::Arguments::command().try_get_matches_from(&words) {
                panic!("{file}, line {line}: {words:?}\n{error}");
            }
        }
    }
    assert!(seen > 50, "only {seen} command lines found");
}

#[test]
fn every_command_in_a_sentence_is_there_with_its_options() {
    let mut seen = 0;
    for (file, text) in super::pages() {
        for (line, span) in in_sentences(&text) {
            seen += 1;
            if let Err(wrong) = exists(&span) {
                panic!("{file}, line {line}: `{span}`: {wrong}");
            }
        }
    }
    assert!(seen > 80, "only {seen} commands found");
}

#[test]
fn what_is_not_there_is_found() {
    let text = "```sh\nspurline run PLAN --nonsense   # a comment\nA=1 timeout 3 spurline \\\n  check 'a b' | cat\n```\n\
                ```text\n$ spurline runs --all\nspurline is not called here\n```\nSee `spurline run PLAN --nought`.\n";
    let words: Vec<Vec<String>> = in_blocks(text).into_iter().map(|(_, words)| words).collect();
    assert_eq!(words[0], ["spurline", "run", "PLAN", "--nonsense"]);
    assert_eq!(words[1], ["spurline", "check", "a b"]);
    assert_eq!(words[2], ["spurline", "runs", "--all"]);
    assert_eq!(words.len(), 3);
    assert!(crate::Arguments::command().try_get_matches_from(&words[0]).is_err());
    assert!(crate::Arguments::command().try_get_matches_from(&words[1]).is_ok());
    let spans = in_sentences(text);
    assert_eq!(spans, [(10, "spurline run PLAN --nought".to_owned())]);
    assert!(exists(&spans[0].1).unwrap_err().contains("--nought"));
    assert!(exists("spurline no-such-thing").is_err());
}

/// Lines of a page with their numbers.
type Lines<'a> = Vec<(usize, &'a str)>;

/// What stands between fences, with the language that it is said to be in, and the lines outside them.
fn blocks(text: &str) -> (Vec<(&str, Lines<'_>)>, Lines<'_>) {
    let (mut inside, mut outside) = (Vec::new(), Vec::new());
    let mut open: Option<(&str, Lines<'_>)> = None;
    for (number, line) in text.lines().enumerate().map(|(place, line)| (place + 1, line)) {
        match (line.trim_start().strip_prefix("```"), open.take()) {
            (Some(language), None) => open = Some((language, Vec::new())),
            (Some(_), Some(block)) => inside.push(block),
            (None, Some((language, mut lines))) => {
                lines.push((number, line));
                open = Some((language, lines));
            }
            (None, None) => outside.push((number, line)),
        }
    }
    assert!(open.is_none(), "a block has no end");
    (inside, outside)
}

/// The calls of the program in fenced blocks: where they begin, and their words.
fn in_blocks(text: &str) -> Vec<(usize, Vec<String>)> {
    let mut found = Vec::new();
    for (language, lines) in blocks(text).0 {
        let typed = language.is_empty() || language.starts_with("sh");
        let mut joined: Option<(usize, String)> = None;
        for (number, line) in lines {
            let line = match line.strip_prefix("$ ") {
                Some(line) => line,
                None if typed || joined.is_some() => line,
                None => continue,
            };
            let (at, mut whole) = joined.take().unwrap_or((number, String::new()));
            match line.strip_suffix('\\') {
                Some(part) => {
                    whole.push_str(part);
                    joined = Some((at, whole));
                }
                None => {
                    whole.push_str(line);
                    found.extend(calls(&whole).into_iter().map(|words| (at, words)));
                }
            }
        }
    }
    found
}

/// The commands of a line that call the program: from its name on.
fn calls(line: &str) -> Vec<Vec<String>> {
    let mut found = Vec::new();
    for words in commands(line) {
        let assigns = |word: &str| word.contains('=') && !word.starts_with('-');
        let first = words.iter().position(|word| !assigns(word)).unwrap_or(words.len());
        match words.get(first).map(String::as_str) {
            Some("spurline") => found.push(words[first..].to_vec()),
            Some("timeout" | "time") => {
                if let Some(place) = words.iter().position(|word| word == "spurline") {
                    found.push(words[place..].to_vec());
                }
            }
            Some("cargo") if words.get(first + 1).is_some_and(|word| word == "run") => {
                if let Some(place) = words.iter().position(|word| word == "--") {
                    found.push([&["spurline".to_owned()], &words[place + 1..]].concat());
                }
            }
            _ => {}
        }
    }
    found
}

/// The commands of a line as a shell splits them: at blanks outside quotes, at `|`, `;`, `&`, `>`, `<` and brackets, and
/// up to a comment.
fn commands(line: &str) -> Vec<Vec<String>> {
    let mut all = vec![Vec::new()];
    let mut word: Option<String> = None;
    let mut quote = None;
    for letter in line.chars() {
        match (quote, letter) {
            (Some(open), _) if letter == open => quote = None,
            (Some(_), _) => word.get_or_insert_default().push(letter),
            (None, '"' | '\'') => {
                quote = Some(letter);
                word.get_or_insert_default();
            }
            (None, '#') if word.is_none() => break,
            (None, '|' | ';' | '&' | '>' | '<' | '(' | ')' | '`') => {
                all.last_mut().unwrap().extend(word.take());
                all.push(Vec::new());
            }
            (None, _) if letter.is_whitespace() => all.last_mut().unwrap().extend(word.take()),
            (None, _) => word.get_or_insert_default().push(letter),
        }
    }
    all.last_mut().unwrap().extend(word);
    all
}

/// What stands between backticks in running text and begins with the program's name.
fn in_sentences(text: &str) -> Vec<(usize, String)> {
    let mut found = Vec::new();
    for (number, line) in blocks(text).1 {
        let spans = line.split('`').skip(1).step_by(2);
        found
            .extend(spans.filter(|span| span.starts_with("spurline ")).map(|span| (number, span.to_owned())));
    }
    found
}

fn exists(span: &str) -> Result<(), String> {
    let command = crate::Arguments::command();
    let mut words = span.split_whitespace().skip(1).map(|word| word.trim_matches(['[', ']', '\\', '|', '…']));
    let name = words.next().unwrap_or_default();
    // A command that stands for all of them, an option of the program itself, its version, and what hashes begin with.
    let hashed = matches!(span, "spurline event 1" | "spurline transcript 1" | "spurline link 1")
        || matches!(span, "spurline verdict 1" | "spurline signature 1");
    let version = name.starts_with(|letter: char| letter.is_ascii_digit());
    if hashed || version || matches!(name, "COMMAND" | "--help" | "--version") {
        return Ok(());
    }
    let Some(below) = command.find_subcommand(name) else {
        return Err(format!("there is no command `{name}`"));
    };
    for option in words.filter_map(|word| word.strip_prefix("--")) {
        let option = option.split(['=', '|', '\\']).next().unwrap_or_default();
        if !has(below, option) {
            return Err(format!("it has no option `--{option}`"));
        }
    }
    Ok(())
}

fn has(command: &Command, option: &str) -> bool {
    option == "help" || command.get_arguments().any(|argument| argument.get_long() == Some(option))
}
