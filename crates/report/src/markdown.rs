//! A run, or a batch, in Markdown for a comment in a pipeline: what it came to, what does not comply, and where the rest is.
//! What files and instruments say is escaped, so that it stays text.

use spurline_record::{Outcome, Reading};

use crate::batch::Batch;
use crate::html::group::Row;
use crate::html::summary::Summary;
use crate::paragraph::counted;
use crate::text::plain;
use crate::view::RunView;
use crate::{figures, key};

/// The most readings that are listed.
const MOST: usize = 20;

/// The run in Markdown: its outcome, what exceeds, is invalid or undecided, and of what complies the smallest margins.
#[must_use]
pub fn markdown(run: &RunView<'_>) -> String {
    let header = run.header;
    let keyed = key::downs(run.events);
    let summary = Summary::of(run, &keyed);
    let unit = &header.unit;
    let mut text = format!("## {}: {}\n\n", escaped(&run.title()), summary.verdict.word);
    text.push_str(&format!(
        "**{} {}** {}\n\n",
        summary.verdict.sign, summary.verdict.word, summary.verdict.meaning
    ));
    if let Some(seed) = header.simulated {
        text.push_str(&format!("> Simulated bench, seed {seed}: not evidence about a real transmitter.\n\n"));
    }
    let counts: Vec<String> = summary
        .counts
        .iter()
        .map(|count| format!("{} {} {}", count.sign, count.number, count.word))
        .collect();
    let counts = if counts.is_empty() { "none".to_owned() } else { counts.join(", ") };
    text.push_str("| | |\n|---|---|\n");
    for (name, words) in [
        (
            "Unit",
            [&unit.maker, &unit.model, &unit.serial].map(|word| word.as_str()).join(" ").trim().to_owned(),
        ),
        ("Firmware", unit.firmware.clone()),
        ("Readings", counts),
        ("Rule", format!("{} ({})", header.rule, header.rule_status)),
        ("Decided by", header.decision_words()),
        ("Run", header.id.to_string()),
    ] {
        if !words.is_empty() {
            text.push_str(&format!("| {name} | {} |\n", escaped(&words)));
        }
    }
    text.push_str("\n### What exceeds, is invalid or is undecided\n\n");
    if summary.concerns.is_empty() {
        text.push_str(if run.readings.is_empty() { "Nothing was read.\n" } else { "Nothing.\n" });
    } else {
        text.push_str(&rows(&summary.concerns[..summary.concerns.len().min(MOST)], true));
        let more = summary.concerns.len().saturating_sub(MOST);
        if more > 0 {
            text.push_str(&format!("\nAnd {more} more.\n"));
        }
    }
    let nearest = nearest(run);
    if !nearest.is_empty() {
        text.push_str("\n### Smallest margins of what complies\n\n");
        text.push_str(&rows(&nearest, false));
    }
    for note in header
        .notes
        .iter()
        .cloned()
        .chain(crate::timeline::faults(run.events).into_iter().map(figures::fault))
    {
        text.push_str(&format!("\n> {}\n", with_code(&note)));
    }
    // As code nothing is escaped: only the name of a run that is one stands there.
    if header.id.is_well_formed() {
        text.push_str(&format!("\nThe whole report: `spurline report {}`\n", header.id));
    }
    text
}

/// The complying readings with the smallest margins.
fn nearest<'a>(run: &RunView<'a>) -> Vec<Row<'a>> {
    const FEW: usize = 5;
    let complying = run.readings.iter().filter(|reading| reading.outcome == Outcome::Complies);
    let mut with: Vec<(f64, &Reading)> =
        complying.filter_map(|reading| Some((reading.margin?.db()?.get(), reading))).collect();
    with.sort_by(|one, other| one.0.total_cmp(&other.0));
    with.into_iter().take(FEW).map(|(_, reading)| Row::of(reading)).collect()
}

fn rows(rows: &[Row<'_>], with_why: bool) -> String {
    let mut text =
        "| no. | reading | level | limit | margin | U | outcome |\n|--:|---|--:|--:|--:|--:|---|\n"
            .to_owned();
    for row in rows {
        let why = row.reading.reason.as_ref().filter(|_| with_why);
        let why = why.map(|reason| format!(": {}", reason.text)).unwrap_or_default();
        let cells = [
            row.reading.ordinal.to_string(),
            format!("{} at {}, {}", row.title, row.reading.frequency, row.place),
            row.figure.clone(),
            row.limit.clone(),
            row.margin.clone(),
            row.expanded.clone(),
            format!("{} {}{why}", row.sign, row.reading.outcome.word()),
        ];
        let last = cells.len() - 1;
        // What the program says there names commands and keys.
        let shown =
            |(place, cell): (usize, &String)| if place == last { with_code(cell) } else { escaped(cell) };
        let cells: Vec<String> = cells.iter().enumerate().map(shown).collect();
        text.push_str(&format!("| {} |\n", cells.join(" | ")));
    }
    text
}

/// The batch in Markdown.
#[must_use]
pub fn batch_markdown(batch: &Batch) -> String {
    let seen = batch.outcome.map(|outcome| outcome.of_run_as_seen(batch.without_limit));
    let (word, sign) = (batch.word(), seen.map_or("–", figures::sign));
    let mut text = format!(
        "## Batch of {}: {word}\n\n**{sign} {word}** {}\n\n",
        counted(batch.serials.len(), "unit"),
        escaped(&batch.plans.join(", "))
    );
    for note in &batch.notes {
        text.push_str(&format!("> {}\n\n", escaped(note)));
    }
    for concern in batch.concerns() {
        text.push_str(&format!("### {}\n\n", concern.heading));
        for line in concern.lines.iter().take(MOST) {
            text.push_str(&format!("- {}\n", with_code(line)));
        }
        let more = concern.lines.len().saturating_sub(MOST);
        text.push_str(&if more > 0 { format!("\nAnd {more} more.\n\n") } else { "\n".to_owned() });
    }
    let mut place = None;
    for row in &batch.readings {
        if place != Some(&row.place) {
            place = Some(&row.place);
            text.push_str(&format!(
                "\n### {}\n\n| reading | units | median | spread | limit | smallest margin | units that |\n|---|--:|--:|--:|--:|---|---|\n",
                escaped(&row.place)
            ));
        }
        let cells = [
            format!("{} at {}", row.title, row.frequency()),
            row.units.len().to_string(),
            row.shown(row.median.as_ref(), row.unit),
            row.shown(row.deviation.as_ref(), row.unit_of_differences),
            row.limit.clone(),
            row.least(),
            row.counts(),
        ];
        let cells: Vec<String> = cells.iter().map(|cell| escaped(cell)).collect();
        text.push_str(&format!("| {} |\n", cells.join(" | ")));
    }
    text
}

/// What the program says: as [`escaped`], but names between backticks are code. Nothing that means something is let into
/// it.
fn with_code(text: &str) -> String {
    let is_plain = |c: char| c.is_ascii_alphanumeric() || " -_./=".contains(c);
    let mut out = String::with_capacity(text.len() + 8);
    let mut rest = text;
    while let Some((before, after)) = rest.split_once('`') {
        out.push_str(&escaped(before));
        match after.split_once('`') {
            Some((code, behind)) if !code.trim().is_empty() && code.chars().all(is_plain) => {
                out.push_str(&format!("`{code}`"));
                rest = behind;
            }
            _ => {
                out.push_str("\\`");
                rest = after;
            }
        }
    }
    out.push_str(&escaped(rest));
    out
}

/// Text that stays text in Markdown: on one line, with every sign that means something there taken at its face, and
/// nothing that becomes a link or calls somebody.
fn escaped(text: &str) -> String {
    let text = plain(text);
    let mut out = String::with_capacity(text.len() + 8);
    let mut rest = text.chars().peekable();
    while let Some(c) = rest.next() {
        match c {
            '\n' => out.push(' '),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '&' => out.push_str("&amp;"),
            // A name behind these is told of the comment, or becomes a link to something else.
            '@' => out.push_str("&#64;"),
            '#' => out.push_str("&#35;"),
            // What looks like an address becomes a link.
            ':' if rest.peek() == Some(&'/') => out.push_str("&#58;"),
            '.' if out.ends_with("www") || out.ends_with("WWW") => out.push_str("&#46;"),
            '\\' | '`' | '*' | '_' | '[' | ']' | '!' | '|' | '~' | '$' => {
                out.push('\\');
                out.push(c);
            }
            other => out.push(other),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_between_backticks_are_code() {
        assert_eq!(with_code("*see* `spurline prove`: b_c"), "\\*see\\* `spurline prove`: b\\_c");
        assert_eq!(with_code("a `b` `c@d` `e"), "a `b` \\`c&#64;d\\` \\`e");
        assert_eq!(with_code("``x|y``"), "\\`\\`x\\|y\\`\\`");
    }

    #[test]
    fn what_means_something_is_taken_at_its_face() {
        assert_eq!(
            escaped("a|b [x](http://y) *z* <b> @all\n# 1 `c` www.z\u{1b}\u{202e}"),
            "a\\|b \\[x\\](http&#58;//y) \\*z\\* &lt;b&gt; &#64;all &#35; 1 \\`c\\` www&#46;z\u{fffd}\u{fffd}"
        );
    }
}
