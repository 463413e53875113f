//! `batch`: many units by one plan, and which of them are unlike the others.

use std::path::PathBuf;

use clap::{Args, ValueEnum};
use spurline_record::{RunId, RunState};
use spurline_report::{Batch as Sheet, BatchRow, RunView, batch_csv, batch_html, batch_markdown, batch_pdf};
use spurline_runner::write_whole;
use spurline_store::{RunSummary, Store};

use super::report::{PaperSize, not_to_a_terminal};
use crate::data::{DataArgument, deliver};
use crate::exit::Exit;
use crate::paint;
use crate::table::{fit, flush_right, narrow, table};
use crate::talk::{Failure, counted, print, print_text, say, wrapped};

/// Summarise many units by one plan: median, spread, smallest margin, and which units are unlike the others
///
/// Ends with 0 if every unit complies, 1 if one exceeds, 3 if nothing exceeds but something is undecided, or a run did
/// not go to its end.
#[derive(Args, Debug)]
pub(crate) struct Batch {
    /// The runs: their names, the beginnings of them, or `last`
    #[arg(required_unless_present = "plan", conflicts_with = "plan")]
    runs: Vec<String>,
    /// All finished runs of the plan with this title
    #[arg(long, value_name = "TITLE")]
    plan: Option<String>,
    /// Of each unit only its newest run
    #[arg(long)]
    newest_per_unit: bool,
    /// Only runs with this firmware
    #[arg(long, value_name = "VERSION")]
    firmware: Option<String>,
    /// Write a page with drawings to this file
    #[arg(long, value_name = "FILE")]
    html: Option<PathBuf>,
    /// Make a document instead of a table for the terminal
    #[arg(long, value_enum, conflicts_with = "json")]
    format: Option<Format>,
    /// The file to write the document to, standard output unless stated
    #[arg(long, visible_alias = "output", value_name = "FILE", requires = "format")]
    out: Option<PathBuf>,
    /// The size of the sheets of a PDF
    #[arg(long, value_enum, default_value_t = PaperSize::A4)]
    paper: PaperSize,
    #[command(flatten)]
    data: DataArgument,
    /// Print one JSON document
    #[arg(long)]
    pub(crate) json: bool,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum Format {
    /// A page for people
    Html,
    /// A table for spreadsheets: one row for each unit's figure of each reading
    Csv,
    /// A document for programs
    Json,
    /// A document that can be handed on
    Pdf,
    /// Tables for a comment in a pipeline
    Markdown,
}

impl Batch {
    /// Whether standard output is to be one JSON document.
    pub(crate) fn is_json(&self) -> bool {
        self.json || (self.format == Some(Format::Json) && self.out.is_none())
    }

    pub(crate) fn execute(self) -> Result<Exit, Failure> {
        if self.format == Some(Format::Pdf) && self.out.is_none() {
            not_to_a_terminal()?;
        }
        let store = self.data.open()?;
        let mut stored = Vec::new();
        for run in self.chosen(&store)? {
            stored.push(spurline_runner::load_readings(&store, &run)?);
        }
        let views: Vec<RunView<'_>> = stored.iter().map(spurline_runner::view).collect();
        let sheet = Sheet::of(&views);
        if let Some(file) = &self.html {
            write_whole(file, batch_html(&sheet)?.as_bytes())?;
        }
        if let Some(format) = self.format {
            let document = match format {
                Format::Html => batch_html(&sheet)?.into_bytes(),
                Format::Csv => batch_csv(&sheet)?.into_bytes(),
                Format::Json => sheet.json()?.into_bytes(),
                Format::Pdf => batch_pdf(&sheet, self.paper.into())?,
                Format::Markdown => batch_markdown(&sheet).into_bytes(),
            };
            deliver(&document, self.out.as_deref(), "batch")?;
        } else if self.json {
            print(sheet.json()?.as_bytes())?;
        } else {
            print_text(&text(&sheet))?;
        }
        if let Some(file) = &self.html {
            say(&format!("page {}", file.display()));
        }
        Ok(Exit::of_readings(sheet.outcome, sheet.without_limit))
    }

    /// The runs that were asked for, in the order in which they were named or made.
    fn chosen(&self, store: &Store) -> Result<Vec<RunId>, Failure> {
        let asked = self.asked(store)?;
        let (mut kept, mut left_out) = (Vec::new(), Vec::new());
        for run in &asked {
            match self.why_not(run, &asked) {
                None => kept.push(run.id.clone()),
                Some(why) => left_out.push(format!("run {} of unit {}: {why}", run.id, run.unit.serial)),
            }
        }
        if kept.is_empty() {
            let firmware = self
                .firmware
                .as_ref()
                .map_or_else(String::new, |version| format!(" with firmware `{version}`"));
            let message = match &self.plan {
                Some(plan) => format!("there is no finished run of the plan `{plan}`{firmware}"),
                None => format!("none of the runs that were named is one{firmware}"),
            };
            return Err(Failure::Usage {
                message,
                advice: "`spurline runs` lists all of them with the titles of their plans, `spurline show RUN` tells the \
                         firmware"
                    .to_owned(),
            });
        }
        // Whoever asks for all of a plan knows that these are some of them; a run that was named is missed.
        if self.plan.is_none() {
            for line in left_out {
                say(&wrapped(&format!("left out: {line}"), 2));
            }
        }
        Ok(kept)
    }

    fn asked(&self, store: &Store) -> Result<Vec<RunSummary>, Failure> {
        // The newest come first.
        let mut all = store.runs()?;
        all.reverse();
        if let Some(plan) = &self.plan {
            all.retain(|run| run.plan == *plan && run.state == RunState::Finished);
            return Ok(all);
        }
        let mut asked: Vec<RunSummary> = Vec::new();
        for name in &self.runs {
            let id = store.resolve(name)?;
            // One that is named twice is still one run.
            if asked.iter().all(|run| run.id != id) {
                asked.extend(all.iter().find(|run| run.id == id).cloned());
            }
        }
        Ok(asked)
    }

    /// Why a run is left out of those that were asked for.
    fn why_not(&self, run: &RunSummary, asked: &[RunSummary]) -> Option<String> {
        let is_of_firmware =
            |one: &RunSummary| self.firmware.as_ref().is_none_or(|firmware| one.unit.firmware == *firmware);
        if !is_of_firmware(run) {
            return Some(match run.unit.firmware.as_str() {
                "" => "nobody said its firmware".to_owned(),
                firmware => format!("its firmware is {firmware}"),
            });
        }
        let of_unit = |one: &&RunSummary| {
            (&one.unit.model, &one.unit.serial) == (&run.unit.model, &run.unit.serial) && is_of_firmware(one)
        };
        let newest = asked
            .iter()
            .filter(of_unit)
            .max_by(|one, other| one.started.cmp(&other.started).then(one.id.cmp(&other.id)))?;
        (self.newest_per_unit && newest.id != run.id)
            .then(|| format!("run {} of this unit is newer", newest.id))
    }
}

/// The columns that may be broken, and how long a name of what is read may become before it is.
const WHAT: usize = 0;
const LONGEST_NAME: u16 = 20;
const UNLIKE: usize = 6;
/// So many figures of one outcome are told one by one.
const MOST_LINES: usize = 12;

/// A line as the terminal has it everywhere.
fn plain(line: &str) -> String {
    line.replace('≤', "<=").replace('–', "-").replace('±', "+-")
}

fn text(sheet: &Sheet) -> String {
    let mut text = String::new();
    let heading = format!("{} of {}", counted(sheet.serials.len(), "unit"), sheet.plans.join(", "));
    text.push_str(&format!("{}\n", paint::heading(&wrapped(&heading, 2))));
    for note in &sheet.notes {
        text.push_str(&format!("{}\n", wrapped(&format!("  note: {note}"), 6)));
    }
    let mut rest = sheet.readings.as_slice();
    while let Some(first) = rest.first() {
        let count = rest.iter().take_while(|row| row.place == first.place).count();
        let (block, after) = rest.split_at(count);
        text.push_str(&format!("\n{}\n{}", paint::heading(&wrapped(&first.place, 2)), rows(block)));
        rest = after;
    }
    for concern in sheet.concerns() {
        text.push_str(&format!("\n{}\n", paint::heading(concern.heading)));
        for line in concern.lines.iter().take(MOST_LINES) {
            text.push_str(&format!("{}\n", wrapped(&format!("  {}", plain(line)), 4)));
        }
        let more = concern.lines.len().saturating_sub(MOST_LINES);
        if more > 0 {
            text.push_str(&format!("  and {more} more, which `--html` and `--format` have\n"));
        }
    }
    text.push('\n');
    for (serials, what) in
        [(&sheet.exceeding, "exceeds"), (&sheet.invalid, "is invalid"), (&sheet.undecided, "is undecided")]
    {
        if !serials.is_empty() {
            let words = format!(
                "{} with something that {what}: {}",
                counted(serials.len(), "unit"),
                serials.join(", ")
            );
            text.push_str(&format!("{}\n", wrapped(&words, 2)));
        }
    }
    let outcome = sheet.outcome.map_or_else(
        || "none, no readings".to_owned(),
        |outcome| paint::outcome_of_run(outcome, sheet.without_limit),
    );
    text.push_str(&format!("outcome: {outcome}\n"));
    text
}

fn rows(block: &[BatchRow]) -> String {
    let mut table =
        table(&["what", "MHz", "n", "median\ndBm", "sd\ndB", "least margin\ndB", "what stands out"]);
    for row in block {
        let hundredths =
            |value: Option<f64>| value.map_or_else(|| "-".to_owned(), |value| format!("{value:.2}"));
        let bounds = row.bounds();
        let mut unlike: Vec<String> = Vec::new();
        for dot in row.units.iter().filter(|dot| dot.odd) {
            unlike.push(format!("unlike the others: {} {}", dot.serial, hundredths(dot.value)));
        }
        if bounds > 0 {
            unlike.push(format!("{bounds} hidden"));
        }
        if row.limits_differ {
            let least = row.least_margin_against.as_ref();
            let against = least.map(|to| format!("; the margin is to {}", plain(to))).unwrap_or_default();
            unlike.push(format!("limits differ, {}{against}", plain(&row.limit)));
        }
        if !row.unseen.is_empty() {
            unlike.push(format!("without this line: {}", row.unseen.join(", ")));
        }
        if !row.missing.is_empty() {
            unlike.push(format!("not measured: {}", row.missing.join(", ")));
        }
        let least = row.least_margin.as_ref();
        // The head says the units of almost all of them.
        let with_unit = |figure: String| match row.unit_of_differences {
            "dB" => figure,
            _ if figure == "-" => figure,
            unit => format!("{figure} {unit}"),
        };
        table.add_row([
            row.short.clone(),
            format!("{:.3}", row.frequency_hz / 1e6),
            row.units.len().to_string(),
            if row.unit == "dBm" {
                hundredths(row.median)
            } else {
                format!("{} {}", hundredths(row.median), row.unit)
            },
            with_unit(hundredths(row.deviation)),
            least.map_or_else(
                || "-".to_owned(),
                |(margin, serial)| format!("{} {serial}", with_unit(format!("{margin:.1}"))),
            ),
            unlike.join("; "),
        ]);
    }
    flush_right(&mut table, &[1, 2, 3, 4]);
    fit(&mut table, UNLIKE);
    narrow(&mut table, WHAT, LONGEST_NAME);
    format!("{}\n", table.trim_fmt())
}
