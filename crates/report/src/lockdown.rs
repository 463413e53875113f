//! The lock-down report: of a batch of units, where each must be silent and whether it was.

use csv::{Terminator, WriterBuilder};
use serde::Serialize;
use spurline_record::{Limit, Outcome, Quantity, Reading, RunState};

use crate::paragraph::counted;
use crate::text::inert;
use crate::view::{ReportError, RunView};

/// One unit at one frequency.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LockdownRow {
    /// Serial number of the unit.
    pub serial: String,
    /// Its model.
    pub model: String,
    /// Its firmware.
    pub firmware: String,
    /// The run.
    pub run: String,
    /// The day of the reading, in UTC.
    pub date: String,
    /// The seed of a simulated bench: then this is no evidence about a real unit.
    pub simulated: Option<u64>,
    /// Where it must be silent.
    pub frequency_hz: f64,
    /// What was found.
    pub outcome: &'static str,
    /// The level that was found, or the one that nothing exceeds.
    pub level_dbm: Option<f64>,
    /// Whether nothing exceeds it, rather than something having it.
    pub bound: bool,
    /// Where that level is; nothing for a bound on all that was looked through.
    pub at_hz: Option<f64>,
    /// What is let pass.
    pub limit_dbm: Option<f64>,
    /// Expanded uncertainty.
    pub expanded_uncertainty_db: Option<f64>,
    /// Why.
    pub reason: Option<String>,
    /// What a reader should know beside that.
    pub remarks: Vec<String>,
}

/// The lock-down report of several runs.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Lockdown {
    /// The worst of all outcomes, undecided if something is missing; `None` without a reading.
    pub outcome: Option<Outcome>,
    /// How many readings have no limit, and do not count as complying.
    pub without_limit: usize,
    /// A row for each unit and frequency, units by serial number.
    pub readings: Vec<LockdownRow>,
    /// Runs that looked for silence nowhere, or did not go to their end.
    pub open: Vec<String>,
}

impl Lockdown {
    /// Gathers the readings of silence of all runs.
    #[must_use]
    pub fn of(runs: &[RunView<'_>]) -> Self {
        let readings = rows(runs);
        let open = open(runs, &readings);
        let all = || runs.iter().flat_map(of_silence).map(|reading| reading.outcome);
        let without_limit = all().filter(|outcome| *outcome == Outcome::NoLimit).count();
        let outcome = Outcome::of_run(all());
        // A run that says less than it should leaves it open at least.
        let outcome =
            outcome.map(|worst| if open.is_empty() { worst } else { worst.max(Outcome::Undecided) });
        Self { outcome, without_limit, readings, open }
    }

    /// The report as text with a table in Markdown.
    #[must_use]
    pub fn markdown(&self) -> String {
        let mut text = String::from("# Lock-down report\n\n");
        let outcome = self
            .outcome
            .map_or_else(|| "no readings".to_owned(), |outcome| outcome.of_run_in_words(self.without_limit));
        let mut serials: Vec<&str> = self.readings.iter().map(|row| row.serial.as_str()).collect();
        serials.dedup();
        text.push_str(&format!(
            "{}, {}: {outcome}\n\n",
            counted(serials.len(), "unit"),
            counted(self.readings.len(), "reading")
        ));
        if self.readings.iter().any(|row| row.simulated.is_some()) {
            text.push_str("Simulated benches: no evidence about real transmitters.\n\n");
        }
        text.push_str(
            "| unit | firmware | silent at | outcome | level, dBm | at | limit, dBm | U, dB | date | run |\n\
             |---|---|---|---|---|---|---|---|---|---|\n",
        );
        for row in &self.readings {
            text.push_str(&markdown_row(row));
        }
        let reasons: Vec<&LockdownRow> = self.readings.iter().filter(|row| row.reason.is_some()).collect();
        if !reasons.is_empty() {
            text.push_str("\n## Why\n\n");
        }
        for row in reasons {
            let reason = row.reason.as_deref().unwrap_or_default();
            text.push_str(&format!("- {}, {}: {}\n", cell(&row.serial), mhz(row.frequency_hz), cell(reason)));
        }
        // A refusal is no silence, and a unit that refuses is unlike one that obeys and stays silent.
        let refusals = self.readings.iter().flat_map(|row| {
            let refused = row.remarks.iter().filter(|remark| remark.starts_with("the unit refused"));
            refused.map(move |remark| format!("- {}: {}\n", cell(&row.serial), cell(remark)))
        });
        let refusals: String = refusals.collect();
        if !refusals.is_empty() {
            text.push_str(&format!("\n## Refused\n\n{refusals}"));
        }
        if !self.open.is_empty() {
            text.push_str("\n## Not shown\n\n");
        }
        for open in &self.open {
            text.push_str(&format!("- {}\n", cell(open)));
        }
        text
    }

    /// The report as one JSON document.
    ///
    /// # Errors
    ///
    /// [`ReportError::Json`].
    pub fn json(&self) -> Result<String, ReportError> {
        Ok(format!("{}\n", serde_json::to_string_pretty(self)?))
    }

    /// The readings as comma-separated values.
    ///
    /// # Errors
    ///
    /// [`ReportError::Csv`].
    pub fn csv(&self) -> Result<String, ReportError> {
        let mut bytes = Vec::new();
        let mut writer = WriterBuilder::new().terminator(Terminator::CRLF).from_writer(&mut bytes);
        writer.write_record(COLUMNS)?;
        let number = |value: Option<f64>| value.map(|value| value.to_string()).unwrap_or_default();
        for row in &self.readings {
            writer.write_record([
                inert(&row.serial),
                inert(&row.model),
                inert(&row.firmware),
                number(Some(row.frequency_hz)),
                row.outcome.to_owned(),
                number(row.level_dbm),
                row.bound.to_string(),
                number(row.at_hz),
                number(row.limit_dbm),
                number(row.expanded_uncertainty_db),
                row.date.clone(),
                row.run.clone(),
                row.reason.as_deref().map(inert).unwrap_or_default(),
                inert(&row.remarks.join("; ")),
                row.simulated.map(|seed| seed.to_string()).unwrap_or_default(),
            ])?;
        }
        for open in &self.open {
            let mut record = vec![String::new(); COLUMNS.len()];
            (record[4], record[12]) = ("not shown".to_owned(), inert(open));
            writer.write_record(record)?;
        }
        writer.flush().map_err(csv::Error::from)?;
        drop(writer);
        Ok(String::from_utf8(bytes).expect("rows of text are text"))
    }
}

const COLUMNS: [&str; 15] = [
    "serial",
    "model",
    "firmware",
    "frequency_hz",
    "outcome",
    "level_dbm",
    "bound",
    "at_hz",
    "limit_dbm",
    "expanded_uncertainty_db",
    "date",
    "run",
    "reason",
    "remarks",
    "simulated_seed",
];

fn of_silence<'a>(run: &RunView<'a>) -> impl Iterator<Item = &'a Reading> {
    run.readings.iter().filter(|reading| reading.quantity == Quantity::Silence)
}

/// A row for each reading, units by serial number.
fn rows(runs: &[RunView<'_>]) -> Vec<LockdownRow> {
    let mut rows: Vec<LockdownRow> =
        runs.iter().flat_map(|run| of_silence(run).map(move |reading| row(run, reading))).collect();
    rows.sort_by(|one, other| {
        let serials = one.serial.cmp(&other.serial);
        serials.then(one.frequency_hz.total_cmp(&other.frequency_hz)).then(one.run.cmp(&other.run))
    });
    rows
}

/// What is missing: runs that did not go to their end or looked nowhere, units that were not tried where others were.
fn open(runs: &[RunView<'_>], rows: &[LockdownRow]) -> Vec<String> {
    let mut open = Vec::new();
    for run in runs {
        let (id, serial) = (&run.header.id, &run.header.unit.serial);
        if run.state != RunState::Finished {
            open.push(format!("run {id} of unit {serial} did not go to its end: {}", run.state.word()));
        } else if of_silence(run).next().is_none() {
            open.push(format!("run {id} of unit {serial} looked for silence nowhere"));
        }
    }
    let mut frequencies: Vec<f64> = rows.iter().map(|row| row.frequency_hz).collect();
    frequencies.sort_by(f64::total_cmp);
    frequencies.dedup();
    let mut serials: Vec<&str> = rows.iter().map(|row| row.serial.as_str()).collect();
    serials.dedup();
    for serial in serials {
        let tried = |at: f64| rows.iter().any(|row| row.serial == serial && row.frequency_hz == at);
        let not: Vec<String> = frequencies.iter().filter(|at| !tried(**at)).map(|at| mhz(*at)).collect();
        if !not.is_empty() {
            open.push(format!("unit {serial} was not tried at {}, where others were", not.join(", ")));
        }
    }
    open
}

fn row(run: &RunView<'_>, reading: &Reading) -> LockdownRow {
    let header = run.header;
    LockdownRow {
        serial: header.unit.serial.clone(),
        model: header.unit.model.clone(),
        firmware: header.unit.firmware.clone(),
        run: header.id.to_string(),
        date: reading.at.strftime("%Y-%m-%d").to_string(),
        simulated: header.simulated,
        frequency_hz: reading.scope.carrier.get(),
        outcome: reading.outcome.word(),
        level_dbm: reading.level().map(spurline_units::Dbm::get),
        bound: reading.figure.is_some_and(|figure| figure.bound),
        at_hz: reading.figure.is_some_and(|figure| !figure.bound).then(|| reading.frequency.get()),
        limit_dbm: match reading.limit {
            Some(Limit::Upper { level, .. }) => Some(level.get()),
            Some(Limit::Window { .. } | Limit::Between { .. } | Limit::Several(_)) | None => None,
        },
        expanded_uncertainty_db: reading
            .budget
            .as_ref()
            .and_then(spurline_record::Budget::expanded_db)
            .map(spurline_units::Db::get),
        reason: reading.reason.as_ref().map(|reason| reason.text.clone()),
        remarks: reading.remarks.clone(),
    }
}

fn markdown_row(row: &LockdownRow) -> String {
    let tenths = |value: Option<f64>| value.map_or_else(|| "–".to_owned(), |value| format!("{value:.1}"));
    let bound = if row.bound && row.level_dbm.is_some() { "≤ " } else { "" };
    format!(
        "| {} | {} | {} | {} | {bound}{} | {} | {} | {} | {} | {} |\n",
        cell(&row.serial),
        cell(&row.firmware),
        mhz(row.frequency_hz),
        row.outcome,
        tenths(row.level_dbm),
        row.at_hz.map_or_else(|| "anywhere".to_owned(), mhz),
        tenths(row.limit_dbm),
        tenths(row.expanded_uncertainty_db),
        row.date,
        row.run
    )
}

fn mhz(hertz: f64) -> String {
    format!("{:.4} MHz", hertz / 1e6)
}

/// A text that neither ends a cell nor begins a mark.
fn cell(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for letter in text.chars() {
        match letter {
            '\\' | '|' | '*' | '_' | '`' | '<' | '>' | '[' | ']' | '#' => out.extend(['\\', letter]),
            letter if letter.is_control() => out.push(' '),
            letter => out.push(letter),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_serial_number_cannot_end_its_cell() {
        assert_eq!(cell("A|B\n<i>"), "A\\|B \\<i\\>");
        assert_eq!(cell("FH2-0001"), "FH2-0001");
    }
}
