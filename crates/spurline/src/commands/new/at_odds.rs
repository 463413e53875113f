//! Answers that are good one by one and do not go together: what is wrong is told of the answer that it comes from. The file
//! that shows it was never written, so that nobody is sent to a line of it.

use spurline_document::{Mistake, Mistakes, Style};

use super::Made;
use super::answers::{Answers, Taken};
use crate::talk::Failure;

/// What is at odds in files that were not written, as a failure that says which answer to change.
pub(super) fn failure(answers: &Answers<'_>, files: &[Made], mistakes: &Mistakes) -> Failure {
    let ordered = mistakes.in_order();
    let told: Option<Vec<String>> = ordered.iter().map(|mistake| told(answers, files, mistake)).collect();
    let advice = ordered.iter().find_map(|mistake| mistake.advice());
    let advice = advice.map_or_else(
        || "say it otherwise. Nothing was written".to_owned(),
        |advice| format!("{advice}. Nothing was written"),
    );
    let message = match told {
        Some(told) => told.join("\n"),
        // A file that is there is told with its own line.
        None => format!("these answers do not go together\n{}", mistakes.render(Style::Plain)),
    };
    Failure::Usage { message, advice }
}

/// A mistake with the answer that stands at its place, and the line that it would have been; `None` of a file that is there.
fn told(answers: &Answers<'_>, files: &[Made], mistake: &Mistake) -> Option<String> {
    let made = files.iter().find(|made| made.file == mistake.file())?;
    let (line, column) = mistake.line_and_column();
    let text = made.text.lines().nth(line.checked_sub(1)?)?;
    let at: String = text.chars().skip(column.saturating_sub(1)).collect();
    let whose = match answer_at(answers, &at, text) {
        Some((name, Taken { given: true, .. })) => format!("--answer {name}"),
        Some((name, Taken { raw, .. })) => format!("the usual answer to `{name}`, `{raw}`"),
        None => "these answers do not go together".to_owned(),
    };
    Some(format!(
        "{whose}: {}\n  `{}` would have to hold:\n  | {}",
        mistake.message(),
        made.file,
        text.trim()
    ))
}

/// The answer that a place begins with; else one of the command line that stands in its line.
fn answer_at<'a>(answers: &'a Answers<'_>, at: &str, line: &str) -> Option<(&'a str, &'a Taken)> {
    /// What is shorter stands in any line.
    const TELLING: usize = 3;
    let longest = |fits: &dyn Fn(&str, &Taken) -> bool| {
        let all = answers.taken().flat_map(|(name, taken)| {
            let parts =
                taken.raw.split(',').map(str::trim).chain([taken.raw.as_str(), taken.written.as_str()]);
            parts
                .filter(|part| !part.is_empty() && fits(part, taken))
                .map(move |part| (part.len(), name, taken))
        });
        // Of two that stand there the one of the command line is the one that somebody chose.
        all.max_by_key(|(length, _, taken)| (taken.given, *length)).map(|(_, name, taken)| (name, taken))
    };
    longest(&|part, _| at.starts_with(part))
        .or_else(|| longest(&|part, taken| taken.given && part.len() >= TELLING && line.contains(part)))
}
