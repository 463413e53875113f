//! `batch`: many units by one plan, and which of them are unlike the others.

use std::collections::HashSet;
use std::path::PathBuf;

use clap::{Args, ValueEnum};
use spurline_record::{RunId, RunState};
use spurline_report::{Batch as Sheet, BatchRow, RunView, batch_csv, batch_html, batch_markdown, batch_pdf};
use spurline_runner::write_whole;
use spurline_store::Store;

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
    #[arg(long, requires = "plan")]
    newest_per_unit: bool,
    /// Only runs with this firmware
    #[arg(long, value_name = "VERSION", requires = "plan")]
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

    fn chosen(&self, store: &Store) -> Result<Vec<RunId>, Failure> {
        let Some(plan) = &self.plan else {
            let mut runs: Vec<RunId> = Vec::new();
            for run in &self.runs {
                let run = store.resolve(run)?;
                // One that is named twice is still one run.
                if !runs.contains(&run) {
                    runs.push(run);
                }
            }
            return Ok(runs);
        };
        let mut units = HashSet::new();
        // The newest come first.
        let of_plan =
            store.runs()?.into_iter().filter(|run| run.plan == *plan && run.state == RunState::Finished);
        let mut chosen: Vec<RunId> = of_plan
            .filter(|run| self.firmware.as_ref().is_none_or(|firmware| run.unit.firmware == *firmware))
            .filter(|run| {
                !self.newest_per_unit || units.insert((run.unit.model.clone(), run.unit.serial.clone()))
            })
            .map(|run| run.id)
            .collect();
        chosen.reverse();
        if chosen.is_empty() {
            let firmware = self
                .firmware
                .as_ref()
                .map_or_else(String::new, |version| format!(" with firmware `{version}`"));
            return Err(Failure::Usage {
                message: format!("there is no finished run of the plan `{plan}`{firmware}"),
                advice: "`spurline runs` lists all of them with the titles of their plans, `spurline show RUN` tells the \
                         firmware"
                    .to_owned(),
            });
        }
        Ok(chosen)
    }
}

/// The columns that may be broken, and how long a name of what is read may become before it is.
const WHAT: usize = 0;
const LONGEST_NAME: u16 = 20;
const UNLIKE: usize = 6;

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
    text.push('\n');
    if !sheet.exceeding.is_empty() {
        let words = format!(
            "{} with something that exceeds: {}",
            counted(sheet.exceeding.len(), "unit"),
            sheet.exceeding.join(", ")
        );
        text.push_str(&format!("{}\n", wrapped(&words, 2)));
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
        table(&["what", "MHz", "n", "median\ndBm", "sd\ndB", "least margin\ndB", "unlike the others"]);
    for row in block {
        let hundredths =
            |value: Option<f64>| value.map_or_else(|| "-".to_owned(), |value| format!("{value:.2}"));
        let bounds = row.bounds();
        let mut unlike: Vec<String> = Vec::new();
        for dot in row.units.iter().filter(|dot| dot.odd) {
            unlike.push(format!("{} {}", dot.serial, hundredths(dot.value)));
        }
        if bounds > 0 {
            unlike.push(format!("{bounds} hidden"));
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
