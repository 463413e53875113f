//! Colour as decoration: every painted word says the same without it. The streams take it off where it does not
//! belong: into files and pipes, and under `NO_COLOR`.

use anstyle::{AnsiColor, Style};
use spurline_record::{Outcome, VisitOutcome};

/// The word for an outcome.
pub(crate) fn outcome(outcome: Outcome) -> String {
    painted(style(outcome), outcome.word())
}

/// What a run came to.
pub(crate) fn outcome_of_run(outcome: Outcome, without_limit: usize) -> String {
    painted(style(outcome.of_run_as_seen(without_limit)), &outcome.of_run_in_words(without_limit))
}

/// That the unit is keyed must be seen across the room.
pub(crate) fn key_down(text: &str) -> String {
    painted(AnsiColor::Red.on_default().bold().invert(), text)
}

/// The same in large letters, line by line.
pub(crate) fn key_down_block(text: &str) -> String {
    block(AnsiColor::Red.on_default().bold(), text)
}

/// That somebody is to key, in large letters.
pub(crate) fn key_now(text: &str) -> String {
    block(AnsiColor::Cyan.on_default().bold(), text)
}

/// A verdict in large letters.
pub(crate) fn verdict(outcome: VisitOutcome, text: &str) -> String {
    let style = match outcome {
        VisitOutcome::Complies => AnsiColor::Green.on_default(),
        VisitOutcome::Exceeds => AnsiColor::Red.on_default().bold(),
        _ => AnsiColor::Yellow.on_default().bold(),
    };
    block(style, text)
}

fn block(style: Style, text: &str) -> String {
    text.lines().map(|line| painted(style, line)).collect::<Vec<_>>().join("\n")
}

/// The heading of a block.
pub(crate) fn heading(text: &str) -> String {
    painted(Style::new().bold(), text)
}

/// Lines that end with the word for an outcome get it painted.
pub(crate) fn outcomes_at_line_ends(text: &str) -> String {
    let lines = text.lines().map(|line| {
        let found = Outcome::ALL.into_iter().find(|known| line.ends_with(known.word()));
        found.map_or_else(
            || line.to_owned(),
            |found| format!("{}{}", &line[..line.len() - found.word().len()], outcome(found)),
        )
    });
    lines.collect::<Vec<_>>().join("\n")
}

fn style(outcome: Outcome) -> Style {
    match outcome {
        Outcome::Complies => AnsiColor::Green.on_default(),
        Outcome::Exceeds => AnsiColor::Red.on_default().bold(),
        Outcome::Undecided | Outcome::Invalid => AnsiColor::Yellow.on_default().bold(),
        Outcome::NoLimit => Style::new().dimmed(),
    }
}

fn painted(style: Style, text: &str) -> String {
    format!("{style}{text}{style:#}")
}
