//! The slip that a visitor takes along: plain characters, since printers know little else.

use spurline_report::{Label, ReportError, label_pdf};

use crate::day::{Day, SlipWidth};
use crate::ledger::Visit;
use crate::now::local;
use crate::wording::{self, megahertz};

/// What every slip says: who reads it may not know what it is.
const INDICATIVE: &str = "INDICATIVE, NOT A CERTIFICATION";

/// The slip of a visit that has ended; empty for one that has not.
#[must_use]
pub fn slip(day: &Day, visit: &Visit, width: SlipWidth) -> String {
    let columns = width.columns();
    let Some((at, result)) = &visit.ended else { return String::new() };
    let mut sheet = Sheet { columns, text: String::new() };
    sheet.centred(&day.title);
    if !day.place.is_empty() {
        sheet.centred(&day.place);
    }
    let wall = local(*at);
    sheet.ends(&format!("{} {} {}", wall.date, wall.time, wall.zone), &format!("no. {}", visit.number));
    if let Some((date, time)) = &wall.utc {
        sheet.line(&format!("{date} {time} UTC"));
    }
    if !visit.label.is_empty() {
        sheet.wrapped(&visit.label.to_string());
    }
    sheet.rule();
    sheet.centred(&format!("* {} *", wording::verdict(result.outcome)));
    sheet.rule();
    if let Some(carrier) = result.carrier {
        sheet.row("carrier", &megahertz(carrier));
    }
    if let Some(power) = result.carrier_line().and_then(wording::power) {
        sheet.row("", &power);
    }
    if let Some(worst) = result.worst() {
        sheet.row("worst", &format!("{}, {}", wording::name(worst), short(worst.frequency)));
        let figures = [
            ("level", wording::level(worst)),
            ("limit", wording::limit(worst)),
            ("margin", wording::margin(worst)),
        ];
        for (name, text) in figures {
            text.into_iter().for_each(|text| sheet.row(name, &text));
        }
    }
    if let Some(why) = &result.why {
        sheet.wrapped(why);
    }
    if let Some(highest) = result.highest_read() {
        sheet.wrapped(&format!("looked up to {}, order {}", short(highest.frequency), highest.order));
    }
    sheet.wrapped(&format!("by {}", day.rule));
    if visit.is_after_drift() {
        sheet.wrapped(wording::AFTER_DRIFT);
    } else if visit.is_overdue() {
        sheet.wrapped("reference overdue: the bench was not shown to be as it was");
    }
    sheet.rule();
    sheet.centred(INDICATIVE);
    if let Some(run) = &visit.run {
        sheet.centred(&format!("run {run}"));
    }
    sheet.text
}

/// A frequency in no more digits than such a line needs.
fn short(hertz: spurline_units::Hertz) -> String {
    format!("{:.1} MHz", hertz.mhz())
}

/// The same in few words for a label of 62 mm by 29 mm, as PDF; `None` for a visit that has not ended.
///
/// # Errors
///
/// [`ReportError`], if it cannot be written.
pub fn label_slip(day: &Day, visit: &Visit) -> Result<Option<Vec<u8>>, ReportError> {
    let Some((at, result)) = &visit.ended else { return Ok(None) };
    let wall = local(*at);
    let mut lines = vec![format!("{} {}  {}", wall.date, wall.both(), visit.label)];
    let power = result.carrier_line().and_then(wording::power).map(|power| format!(", {power}"));
    lines.extend(
        result.carrier.map(|carrier| format!("carrier {}{}", megahertz(carrier), power.unwrap_or_default())),
    );
    if let Some(worst) = result.worst() {
        let margin = wording::margin(worst).map_or_else(String::new, |margin| format!(", margin {margin}"));
        lines.push(format!("worst: {}{margin}", wording::name(worst)));
    }
    lines
        .extend(result.looked_up_to().map(|up_to| format!("looked up to {}, by {}", short(up_to), day.rule)));
    if visit.is_after_drift() {
        lines.push("reference drifted: bench not as it was".to_owned());
    } else if visit.is_overdue() {
        lines.push("reference overdue".to_owned());
    }
    if result.lines.is_empty() {
        lines.extend(result.why.clone());
    }
    let label = Label {
        head: (day.title.clone(), format!("no. {}", visit.number)),
        word: wording::verdict(result.outcome),
        // As typeset, not as a printer of slips has it.
        lines: lines.into_iter().map(|line| wording::typeset(&line).replace('\u{a0}', " ")).collect(),
        foot: INDICATIVE.to_owned(),
    };
    label_pdf(&label).map(Some)
}

struct Sheet {
    columns: usize,
    text: String,
}

/// Where figures begin.
const INDENT: usize = 8;

impl Sheet {
    fn line(&mut self, text: &str) {
        self.text.push_str(text.trim_end());
        self.text.push('\n');
    }

    fn rule(&mut self) {
        self.line(&"-".repeat(self.columns));
    }

    /// Words in lines, each with so much before it. A word that is longer than a line is cut.
    fn lines(&self, text: &str, width: usize) -> Vec<String> {
        let mut lines = vec![String::new()];
        let text = glued(&printable(text));
        for word in text.split(' ').filter(|word| !word.is_empty()) {
            let mut word: &str = word;
            loop {
                let line = lines.last_mut().expect("there is always one");
                let room = width.saturating_sub(line.len() + usize::from(!line.is_empty()));
                if word.len() <= room {
                    if !line.is_empty() {
                        line.push(' ');
                    }
                    line.push_str(word);
                    break;
                }
                if word.len() > width && line.is_empty() {
                    let (now, later) = word.split_at(width);
                    line.push_str(now);
                    word = later;
                }
                lines.push(String::new());
            }
        }
        lines.iter().map(|line| line.replace(GLUE, " ")).collect()
    }

    fn wrapped(&mut self, text: &str) {
        for line in self.lines(text, self.columns) {
            self.line(&line);
        }
    }

    fn centred(&mut self, text: &str) {
        for line in self.lines(text, self.columns) {
            let before = (self.columns - line.len()) / 2;
            self.line(&format!("{}{line}", " ".repeat(before)));
        }
    }

    fn ends(&mut self, left: &str, right: &str) {
        let room = self.columns.saturating_sub(left.len() + right.len());
        if room == 0 {
            self.line(left);
            self.line(right);
        } else {
            self.line(&format!("{left}{}{right}", " ".repeat(room)));
        }
    }

    fn row(&mut self, name: &str, text: &str) {
        for (place, line) in self.lines(text, self.columns - INDENT).into_iter().enumerate() {
            let name = if place == 0 { name } else { "" };
            self.line(&format!("{name:<INDENT$}{line}"));
        }
    }
}

/// Holds two words together while lines are made; no printable text has it.
const GLUE: char = '\u{1}';

/// What is read as one stays in one line: an uncertainty with its sign, a bound with its figure, a number with its unit.
fn glued(text: &str) -> String {
    const SIGNS: [&str; 3] = ["+-", "<=", ">="];
    const UNITS: [&str; 8] = ["dB", "dBm", "W", "mW", "MHz", "GHz", "kHz", "s"];
    let mut glued = String::new();
    let mut before = "";
    for word in text.split_whitespace() {
        let of_number = before.ends_with(|last: char| last.is_ascii_digit());
        let unit = word.trim_end_matches([',', ';', ':', '.', ')']);
        if SIGNS.contains(&before) || (of_number && UNITS.contains(&unit)) {
            glued.push(GLUE);
        } else if !glued.is_empty() {
            glued.push(' ');
        }
        glued.push_str(word);
        before = word;
    }
    glued
}

/// What a printer prints: plain characters, nothing that it would take for a command.
fn printable(text: &str) -> String {
    let plain = text.replace('±', "+-").replace('≤', "<=").replace('≥', ">=");
    let printed = plain.chars().map(|c| match c {
        ' '..='~' => c,
        c if c.is_whitespace() => ' ',
        _ => '?',
    });
    printed.collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_figure_is_not_broken_over_lines() {
        let sheet = Sheet { columns: 32, text: String::new() };
        for before in 0..32 {
            let text = format!("{} -14.2 ± 1.5 dB, at 293.0 MHz", "x".repeat(before));
            let lines = sheet.lines(&text, 32);
            assert!(lines.iter().all(|line| line.len() <= 32), "{lines:?}");
            for whole in ["+- 1.5 dB,", "293.0 MHz"] {
                assert_eq!(lines.iter().filter(|line| line.contains(whole)).count(), 1, "{whole}: {lines:?}");
            }
        }
    }
}
