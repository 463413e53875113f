//! A rule: one published regulation as limits by bands, with its source.

use std::path::Path;

use askama::Template;
use spurline_document::{Document, Mistakes, quoted};
use spurline_limits::{Flaw, Rule};
use spurline_plan::Library;
use spurline_units::{Hertz, Range};

use super::answers::{Answers, Question, Wrong};
use super::bench::wrong;
use super::checks::{self, NONE};
use super::{Draft, Made};
use crate::talk::Failure;

/// More bands than a table in print has.
const MOST_BANDS: usize = 40;

#[derive(Clone, Template)]
#[template(path = "new/rule.yaml", escape = "none")]
struct Page {
    name: String,
    title: String,
    source: String,
    edition: String,
    status: String,
    bandwidth: String,
    paragraph: String,
    rows: Vec<Row>,
    /// Where the limit steps, because the text has bands.
    steps: Vec<String>,
}

#[derive(Clone)]
struct Row {
    band: Range<Hertz>,
    low: Hertz,
    /// `below`, or `at_most` where no band goes on.
    end: &'static str,
    high: Hertz,
    says: String,
    form: &'static str,
    limit: String,
}

/// Whether the file holds a rule.
pub(super) fn accepted(library: &dyn Library, file: &str) -> Result<(), Failure> {
    let text = library.file("", file).map_err(|missing| Failure::Usage {
        message: missing.message,
        advice: missing.advice.unwrap_or_default(),
    })?;
    read(&text.name, &text.text)?;
    Ok(())
}

fn read(name: &str, text: &str) -> Result<Rule, Mistakes> {
    Document::parse(name, text).and_then(|document| Rule::read(&document))
}

/// Asks about a regulation and drafts its file.
pub(super) fn draft(answers: &mut Answers<'_>, file: &str) -> Result<Draft, Failure> {
    let stem = Path::new(file).file_stem().and_then(|stem| stem.to_str()).unwrap_or_default();
    let name = stem_name(stem)?;
    let ask = |answers: &mut Answers<'_>, name: &str, asks: &str, usual: Option<&str>| {
        answers.ask(&Question { name, asks, usual: usual.map(str::to_owned), check: &checks::text })
    };
    let title = ask(answers, "title", "what the rule is about", Some("Limits of spurious emissions"))?;
    let source = ask(answers, "source", "the text it is taken from, as one cites it", None)?;
    let paragraph = ask(answers, "paragraph", "its paragraph, clause or table", None)?;
    let edition = ask(answers, "edition", "its edition, with the year", None)?;
    let status = answers.choose(
        ("status", "how far it was checked"),
        &[
            ("verified", "you have that edition before you"),
            ("second-hand", "you have a text before you that restates it"),
            ("from-memory", "neither"),
        ],
        "from-memory",
    )?;
    let bandwidth = answers.ask(&Question {
        name: "reference_bandwidth",
        asks: "bandwidth that it measures in",
        usual: Some("none stated".to_owned()),
        check: &|text| trial(text, "{ below: 40 dB }", &quoted(text)),
    })?;
    let mut rows: Vec<Row> = Vec::new();
    while rows.len() < MOST_BANDS {
        let Some(row) = row(answers, &rows)? else { break };
        if let Some(last) = rows.last_mut().filter(|last| last.high == row.low) {
            last.end = "below";
        }
        rows.push(row);
    }
    let steps = Vec::new();
    let mut page = Page { name, title, source, edition, status, bandwidth, paragraph, rows, steps };
    // What a look for slips finds at the edges of the bands is what the text says.
    let begun = read(file, &Made::of(file, &page).text)?;
    let jumps = begun.lint().into_iter().filter(|remark| remark.flaw == Flaw::Jump);
    page.steps = jumps.map(|remark| quoted(&remark.place)).collect();
    page.steps.dedup();
    let next = vec![
        format!("spurline limit --lint --rule {}", shown(file)),
        format!("spurline limit --rule {} --carrier \"146 MHz\" --power \"5 W\" --seams", shown(file)),
    ];
    Ok(Draft { files: vec![Made::of(file, &page)], next, notes: Vec::new() })
}

fn shown(file: &str) -> String {
    if file.contains('/') { file.to_owned() } else { format!("./{file}") }
}

/// A rule has the name of its file.
fn stem_name(stem: &str) -> Result<String, Failure> {
    let plain = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-';
    if !stem.is_empty() && stem.chars().all(plain) {
        return Ok(quoted(stem));
    }
    Err(Failure::Usage {
        message: format!("expected a file named with small letters, digits and `-`, found `{stem}`"),
        advice: "a rule has the name of its file: for example `my-service.yaml`. Nothing was written"
            .to_owned(),
    })
}

/// One more band, if there is one.
fn row(answers: &mut Answers<'_>, before: &[Row]) -> Result<Option<Row>, Failure> {
    let number = before.len() + 1;
    let last = before.last().map(|row| row.high);
    let (name, asks) = if last.is_none() {
        (format!("band{number}"), "the lowest band of emissions, for example `9 kHz..1 GHz`")
    } else {
        (format!("band{number}"), "the next band, or `none`")
    };
    let unknown = answers.is_stood_in(&format!("band{}", before.len()));
    let check = |text: &str| {
        if text == NONE && last.is_some() {
            return Ok(text.to_owned());
        }
        let band: Range<Hertz> = text.parse().map_err(|error| Wrong::of(&error))?;
        if band.low() >= band.high() {
            return Err(Wrong::new(
                format!("expected a band with some width, found {band}"),
                "write the lowest and the highest frequency",
            ));
        }
        match last.filter(|last| !unknown && band.low() < *last) {
            None => Ok(text.to_owned()),
            Some(last) => Err(Wrong::new(
                format!("expected a band from {last} up, where the one before ends, found {band}"),
                "name the bands from the lowest to the highest",
            )),
        }
    };
    let usual = last.map(|_| NONE.to_owned());
    let band = answers.ask(&Question { name: &name, asks, usual, check: &check })?;
    if band == NONE {
        // What follows a band that was written wrongly is no stray answer.
        if answers.is_stood_in(&name) {
            answers.excuse(|other| {
                let of = other.strip_prefix("band").or_else(|| other.strip_prefix("limit"));
                of.and_then(|of| of.parse::<usize>().ok()).is_some_and(|of| of >= number)
            });
        }
        return Ok(None);
    }
    let band: Range<Hertz> =
        band.parse().map_err(|error: spurline_units::RangeError| wrong(Wrong::of(&error)))?;
    let limit = answers.ask(&Question {
        name: &format!("limit{number}"),
        asks: "  its limit: a level such as `-36 dBm`, or how far below the carrier such as `43 dB + 10 log power`",
        usual: None,
        check: &|text| form(text).map(|_| text.to_owned()),
    })?;
    let form = form(&limit).map_err(wrong)?;
    let words = if form == "absolute" {
        format!("no more than {limit}")
    } else {
        format!("at least {limit} below the carrier")
    };
    Ok(Some(Row {
        band,
        low: band.low(),
        end: "at_most",
        high: band.high(),
        says: quoted(&words),
        form,
        limit: quoted(&limit),
    }))
}

/// Which of the two forms a limit is written in.
fn form(text: &str) -> Result<&'static str, Wrong> {
    let written = quoted(text);
    let absolute = trial("none stated", &format!("{{ absolute: {written} }}"), text);
    if absolute.is_ok() {
        return Ok("absolute");
    }
    let below = trial("none stated", &format!("{{ below: {written} }}"), text);
    // A text that has a level's unit was meant as one.
    let meant = if text.ends_with("dBm") || text.ends_with('W') { absolute } else { below };
    meant.map(|_| "below")
}

/// Whether a rule with this bandwidth and this limit reads.
fn trial(bandwidth: &str, limit: &str, answer: &str) -> Result<String, Wrong> {
    let text = format!(
        "rule: trial\ntitle: trial\nsource: trial\nedition: trial\nstatus: from-memory\nreference_bandwidth: {}\n\
         paragraphs: [ {{ paragraph: trial, source: trial, limits: [ {{ says: trial, limit: {limit} }} ] }} ]\n",
        quoted(bandwidth)
    );
    read("an answer", &text).map(|_| answer.to_owned()).map_err(|mistakes| checks::first(&mistakes))
}
