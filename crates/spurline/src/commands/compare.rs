//! `compare`: what really changed between two runs, as after an update of a unit's firmware.

use std::path::PathBuf;

use clap::Args;
use spurline_record::Unit;
use spurline_report::{
    Change, Comparison, RunView, Side, Single, Terms, Verdict, comparison_html, comparison_json, needs_sweeps,
};
use spurline_runner::write_whole;
use spurline_store::StoredRun;
use spurline_units::Db;

use crate::data::DataArgument;
use crate::exit::Exit;
use crate::paint;
use crate::table::{fit, flush_right, narrow, table};
use crate::talk::{Failure, counted, print, print_text, say, wrapped};

/// Compare a run with the one before a change: what really shifted, and what would have been seen
///
/// Readings of the same thing are paired. On the same bench only what does not repeat counts: the scatter of the
/// sweeps, joints made anew, another day. The risk of one false alarm is 5 % for the whole comparison. Ends with 0 if
/// nothing became worse, 1 if a reading really came nearer to its limit or to a graver outcome, 3 if that cannot be said.
#[derive(Args, Debug)]
pub(crate) struct Compare {
    /// The run before the change; several with commas between them, of the same unit and firmware, show how the bench
    /// repeats
    #[arg(value_name = "BASE", value_delimiter = ',', num_args = 1, required = true)]
    base: Vec<String>,
    /// The run after it: its name, the beginning of it, or `last`
    run: String,
    /// One more run before the change
    #[arg(long = "base", value_name = "RUN")]
    more: Vec<String>,
    /// What connectors repeat within when they are made anew, one standard deviation, for example "0.1 dB"
    #[arg(long, value_name = "RATIO", allow_hyphen_values = true)]
    reconnect_sd: Option<String>,
    /// What the bench repeats within from day to day, one standard deviation
    #[arg(long, value_name = "RATIO", allow_hyphen_values = true)]
    day_sd: Option<String>,
    /// The smallest change towards a limit that matters, for example "1 dB"; any real one unless stated
    #[arg(long, value_name = "RATIO", allow_hyphen_values = true)]
    worse: Option<String>,
    /// Compare runs of different units
    #[arg(long)]
    across_units: bool,
    /// Write a page with drawings to this file
    #[arg(long, value_name = "FILE")]
    html: Option<PathBuf>,
    #[command(flatten)]
    data: DataArgument,
    /// Print one JSON document
    #[arg(long)]
    pub(crate) json: bool,
}

impl Compare {
    pub(crate) fn execute(self) -> Result<Exit, Failure> {
        let terms = self.terms()?;
        let store = self.data.open()?;
        let load = |run: &String| -> Result<StoredRun, Failure> {
            let run = store.resolve(run)?;
            let stored = spurline_runner::load_readings(&store, &run)?;
            // Those of an early record are counted.
            Ok(if needs_sweeps(&stored.readings) { spurline_runner::load(&store, &run)? } else { stored })
        };
        let before: Vec<StoredRun> =
            self.base.iter().chain(&self.more).map(load).collect::<Result<_, _>>()?;
        let after = load(&self.run)?;
        let views: Vec<RunView<'_>> = before.iter().map(spurline_runner::view).collect();
        let comparison = Comparison::of(&views, spurline_runner::view(&after), terms).map_err(|error| {
            Failure::Usage { message: error.to_string(), advice: error.advice().to_owned() }
        })?;
        // What cannot be written is told before anything is printed: standard output holds one document.
        if let Some(file) = &self.html {
            write_whole(file, comparison_html(&comparison)?.as_bytes())?;
        }
        if self.json {
            print(comparison_json(&comparison)?.as_bytes())?;
        } else {
            print_text(&text(&comparison))?;
        }
        if let Some(file) = &self.html {
            say(&format!("page {}", file.display()));
        }
        Ok(match comparison.verdict {
            Verdict::NotWorse => Exit::Good,
            Verdict::Worse => Exit::Exceeds,
            Verdict::Undecidable => Exit::Undecided,
        })
    }

    fn terms(&self) -> Result<Terms, Failure> {
        Ok(Terms {
            reconnection: ratio("--reconnect-sd", self.reconnect_sd.as_deref())?,
            day: ratio("--day-sd", self.day_sd.as_deref())?,
            worse: ratio("--worse", self.worse.as_deref())?,
            across_units: self.across_units,
            ..Terms::default()
        })
    }
}

fn ratio(option: &str, text: Option<&str>) -> Result<Option<Db>, Failure> {
    let Some(text) = text else { return Ok(None) };
    // A second line is advice.
    let wrong = |what: String| {
        let (what, advice) =
            what.split_once('\n').unwrap_or((&what, "write it with its unit, as \"0.1 dB\""));
        Failure::Usage { message: format!("`{option}`: {what}"), advice: advice.to_owned() }
    };
    let ratio: Db = text.parse().map_err(|error| wrong(format!("{error}")))?;
    if ratio.get() < 0.0 {
        return Err(wrong(format!("expected a ratio of at least 0 dB, found {ratio}")));
    }
    Ok(Some(ratio))
}

fn text(comparison: &Comparison<'_>) -> String {
    let after = comparison.after.header;
    let before: Vec<String> = comparison.before.iter().map(|run| run.header.id.to_string()).collect();
    let mut text = format!(
        "{}\n",
        paint::heading(&wrapped(&format!("run {} against {}", after.id, before.join(", ")), 2))
    );
    let mut line = |words: &str, indent| text.push_str(&format!("{}\n", wrapped(words, indent)));
    let unit = &after.unit;
    line(&format!("  {} on {}", after.plan, after.bench), 4);
    line(
        &format!("  {} serial {}, {}", unit.model, unit.serial, comparison.firmware().replace('→', "->")),
        4,
    );
    let outcomes: Vec<String> = comparison.before.iter().map(RunView::outcome_word).collect();
    line(&format!("  outcome before {}, now {}", outcomes.join(", "), comparison.after.outcome_word()), 4);
    for note in &comparison.notes {
        line(&format!("  note: {note}"), 6);
    }
    let [differ, real, quiet, nothing] = comparison.in_order();
    text.push_str(&block(comparison, "outcomes that differ", &differ));
    text.push_str(&block(comparison, "real shifts", &real));
    text.push_str(&block(comparison, "no shift larger than what would have been seen", &quiet));
    text.push_str(&block(comparison, "no statement", &nothing));
    text.push_str(&singles("only in the run now", &comparison.new));
    text.push_str(&singles("only before", &comparison.gone));
    text.push('\n');
    let mut line = |words: &str, indent| text.push_str(&format!("{}\n", wrapped(words, indent)));
    for way in &comparison.repeats {
        line(&format!("from run to run, {way}"), 2);
    }
    line(
        &format!(
            "{} asked; the risk of one false alarm among them is {:.0} %",
            counted(comparison.asked, "pair"),
            comparison.terms.risk * 100.0
        ),
        2,
    );
    for open in &comparison.open {
        line(&format!("open: {open}"), 6);
    }
    line(&format!("{}: {}", comparison.verdict.word(), comparison.meaning()), 2);
    text
}

/// The columns that may be broken, and how long a name of what is read may become before it is.
const WHAT: usize = 1;
const LONGEST_NAME: u16 = 20;
const SAYS: usize = 5;
/// So many pairs that say nothing are told one by one.
const MOST_SILENT: usize = 12;

fn block(comparison: &Comparison<'_>, heading: &str, places: &[usize]) -> String {
    if places.is_empty() {
        return String::new();
    }
    let mut text = String::new();
    let silent = places.iter().all(|place| !comparison.changes[*place].is_compared());
    let shown = if silent { places.len().min(MOST_SILENT) } else { places.len() };
    let mut rest = &places[..shown];
    text.push_str(&format!("\n{}\n", paint::heading(heading)));
    while let Some(first) = rest.first() {
        let place = &comparison.changes[*first].place;
        let count = rest.iter().take_while(|one| comparison.changes[**one].place == *place).count();
        let (group, after) = rest.split_at(count);
        text.push_str(&format!("{}\n", wrapped(&format!("  {place}"), 4)));
        text.push_str(&rows(comparison, group));
        rest = after;
    }
    if shown < places.len() {
        text.push_str(&format!("  and {} more\n", places.len() - shown));
    }
    text
}

fn rows(comparison: &Comparison<'_>, places: &[usize]) -> String {
    let mut table = table(&["no.", "what", "MHz", "before", "now", "says"]);
    for place in places {
        let change = &comparison.changes[*place];
        let sign = if comparison.worse.contains(place) { "worse: " } else { "" };
        table.add_row([
            change.after.ordinal.to_string(),
            change.short.clone(),
            format!("{:.3}", change.frequency.mhz()),
            side(&change.before, change.unit),
            side(&change.after, change.unit),
            format!("{sign}{}", says(change)),
        ]);
    }
    flush_right(&mut table, &[0, 2, 3, 4]);
    fit(&mut table, SAYS);
    narrow(&mut table, WHAT, LONGEST_NAME);
    format!("{}\n", table.trim_fmt())
}

/// A level to a hundredth, as shifts are; other figures with their unit.
fn side(side: &Side, unit: Unit) -> String {
    match side.value {
        Some(value) if unit == Unit::Db => format!("{}{value:.2}", if side.bound { "<= " } else { "" }),
        _ => side.figure.replace('≤', "<=").replace('–', "-"),
    }
}

fn says(change: &Change) -> String {
    let outcomes = if change.before.outcome == change.after.outcome {
        String::new()
    } else {
        format!("{} -> {}: ", change.before.outcome, change.after.outcome)
    };
    let remarks: String = change.remarks.iter().map(|remark| format!("; {remark}")).collect();
    format!("{outcomes}{}{remarks}", change.statement().replace('±', "+-"))
}

fn singles(heading: &str, singles: &[Single]) -> String {
    if singles.is_empty() {
        return String::new();
    }
    let lines = singles.iter().map(|one| {
        let words = format!(
            "  {}: {} at {:.3} MHz, {}: {}, {}; {}",
            one.ordinal,
            one.title,
            one.frequency.mhz(),
            one.place,
            one.figure.replace('≤', "<=").replace('–', "-"),
            one.outcome,
            one.remark
        );
        format!("{}\n", wrapped(&words, 4))
    });
    format!("\n{}\n{}", paint::heading(heading), lines.collect::<String>())
}
