//! The first sheets: what it is a report of, what it comes to, for whom it is, and by which method.

use super::super::{BODY, Cell, Column, Ink, SOFT, STRONG, Sheets, Table};
use super::{LINE, mhz, number};
use crate::html::summary::Summary;
use crate::pdf::font::Face;
use crate::view::RunView;
use crate::{figures, issue, key, scope, timeline};

/// The most readings that are listed on the first sheets.
const MOST_LISTED: usize = 40;

pub(super) fn write(sheets: &mut Sheets<'_>, run: &RunView<'_>) {
    let keyed = key::downs(run.events);
    let summary = Summary::of(run, &keyed);
    title(sheets, run, &summary);
    sheets.heading(1, "Summary");
    requirements(sheets, &summary);
    concerns(sheets, &summary);
    sheets.heading(1, "This report");
    sheets.facts(issue::about(run));
    sheets.heading(1, "Unit under test");
    sheets.facts(issue::unit(run));
    method(sheets, run, &summary);
}

fn title(sheets: &mut Sheets<'_>, run: &RunView<'_>, summary: &Summary<'_>) {
    sheets.heading(1, &run.title());
    let unit = &run.header.unit;
    let words = [
        unit.maker.clone(),
        unit.model.clone(),
        if unit.serial.is_empty() { String::new() } else { format!("serial number {}", unit.serial) },
        if unit.firmware.is_empty() { String::new() } else { format!("firmware {}", unit.firmware) },
    ];
    let words: Vec<String> = words.into_iter().filter(|word| !word.is_empty()).collect();
    sheets.paragraph(&words.join(", "), STRONG);
    sheets.paragraph(&format!("Plan: {}. Report {}.", run.header.plan, run.header.id), SOFT);
    let verdict = &summary.verdict;
    let ink = Ink::of_class(verdict.class);
    let word = format!("{} {}", verdict.sign, verdict.word);
    let counts: Vec<String> = summary
        .counts
        .iter()
        .map(|count| format!("{} {} {}", count.sign, count.number, count.word))
        .collect();
    let counts = if counts.is_empty() { "no readings".to_owned() } else { counts.join("   ") };
    let texts =
        [(word.as_str(), (Face::Bold, 16.0, ink)), (verdict.meaning, BODY), (counts.as_str(), STRONG)];
    sheets.boxed(&texts, ink, 1.6);
    if let Some(seed) = run.header.simulated {
        let words = format!("Simulated bench, seed {seed}: not evidence about a real transmitter.");
        sheets.boxed(&[(&words, STRONG)], Ink::UNSURE, 1.2);
    }
    for warned in
        timeline::faults(run.events).into_iter().map(figures::fault).chain(run.header.notes.iter().cloned())
    {
        sheets.boxed(&[(&warned, BODY)], Ink::UNSURE, 0.6);
    }
}

/// The worst of each kind of reading under each published text, the worst of all first.
fn requirements(sheets: &mut Sheets<'_>, summary: &Summary<'_>) {
    let mut table = Table::new(&[
        (Column::Words, "what, and the requirement"),
        (Column::Figures, "readings"),
        (Column::Figures, "worst: no."),
        (Column::Figures, "level"),
        (Column::Figures, "limit"),
        (Column::Figures, "margin"),
        (Column::Figures, "U"),
        (Column::Whole, "outcome"),
    ]);
    for kind in &summary.kinds {
        let row = &kind.worst;
        let outcome = format!("{} {}", row.sign, row.reading.outcome.word());
        table.row([
            kind.what.clone().into(),
            kind.count.to_string().into(),
            number(row.reading).into(),
            row.figure.clone().into(),
            row.limit.clone().into(),
            row.margin.clone().into(),
            row.expanded.clone().into(),
            Cell::from(outcome).ink(Ink::of_class(row.class)).bold(),
        ]);
    }
    if table.is_empty() {
        sheets.paragraph("Nothing was read.", BODY);
    }
    sheets.table(&table);
}

fn concerns(sheets: &mut Sheets<'_>, summary: &Summary<'_>) {
    sheets.heading(2, "What exceeds, is invalid or is undecided");
    if summary.concerns.is_empty() {
        sheets.paragraph("No reading exceeds, is invalid or is undecided.", BODY);
    }
    let mut table = Table::new(&[&LINE[..], &[(Column::Words, "outcome, and why")]].concat());
    for row in summary.concerns.iter().take(MOST_LISTED) {
        let why = row.reading.reason.as_ref().map(|reason| format!(": {}", reason.text)).unwrap_or_default();
        let outcome = format!("{} {}{why}", row.sign, row.reading.outcome.word());
        table.row([
            number(row.reading).into(),
            format!("{}, {}", row.title, row.place).into(),
            mhz(row.reading).into(),
            row.figure.clone().into(),
            row.limit.clone().into(),
            row.margin.clone().into(),
            Cell::from(outcome).ink(Ink::of_class(row.class)),
        ]);
    }
    sheets.table(&table);
    let more = summary.concerns.len().saturating_sub(MOST_LISTED);
    if more > 0 {
        sheets.paragraph(&format!("And {more} more, in the tables of results."), SOFT);
    }
    if let Some(row) = &summary.smallest {
        let words = format!(
            "Smallest margin: {} in reading {}, {} at {}, {}.",
            row.margin,
            row.reading.ordinal,
            row.reading.running_title(),
            row.reading.frequency,
            row.place
        );
        sheets.paragraph(&words, BODY);
    }
}

fn method(sheets: &mut Sheets<'_>, run: &RunView<'_>, summary: &Summary<'_>) {
    let header = run.header;
    sheets.heading(1, "Method");
    sheets.heading(2, "Rule and decision");
    let mut table = Table::facts();
    table.fact("Rule", format!("{}: {} ({})", header.rule, header.rule_source, header.rule_status));
    table.fact("How far it was checked", summary.rule_caveat);
    table.fact("Decision rule", header.decision_words());
    for [what, arithmetic] in &summary.decision {
        table.row([Cell::from(format!("of a {what}")).ink(Ink::SOFT), Cell::from(arithmetic.clone()).mono()]);
    }
    table.fact("Its risk", issue::risk(run));
    sheets.table(&table);
    sheets.heading(2, "How it was measured");
    sheets.paragraph(
        "Conducted, at the transmitter's antenna connector: every level is referred to it by the loss of the path at its own \
         frequency. Margin is limit less level, for a window the distance to its nearer end: positive is good. U is the \
         expanded uncertainty for about 95 %. A level with the sign ≤ is an upper bound: the line is not clear of the noise \
         floor or of what the analyser makes itself.",
        BODY,
    );
    let mut table = Table::facts();
    for (name, words) in issue::procedures(run) {
        table.fact(name, words);
    }
    sheets.table(&table);
    let channels = scope::by_state(run.readings).into_iter().map(|(state, members)| {
        format!("{}: {}", scope::name(state), crate::paragraph::counted(members.len(), "reading"))
    });
    sheets.heading(3, "States that were measured");
    sheets.list(&channels.collect::<Vec<_>>(), BODY);
    sheets.heading(2, "Deviations, exclusions and what stays open");
    sheets.list(&issue::deviations(run), BODY);
    sheets.heading(2, "Environment");
    sheets.paragraph(&issue::environment(run), BODY);
    sheets.heading(2, "Cautions");
    sheets.intro("For whoever repeats these readings:");
    let cautions: Vec<&str> =
        crate::cautions::CAUTIONS.iter().copied().chain([crate::cautions::LOCAL_RULES]).collect();
    sheets.list(&cautions, BODY);
}

impl Sheets<'_> {
    /// Names and what stands for each.
    pub(super) fn facts(&mut self, facts: Vec<issue::Fact>) {
        let mut table = Table::facts();
        for (name, words) in facts {
            table.fact(name, words);
        }
        self.table(&table);
    }
}
