//! What a day came to: for everybody, without a call sign that nobody agreed to publish; or for those who held it.

use serde_json::json;
use spurline_record::{Label, VisitOutcome, VisitResult};

use crate::day::Day;
use crate::ledger::{Ledger, Visit};
use crate::now::local;
use crate::wording;

/// Who reads a summary.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Audience {
    /// Everybody: a call sign or serial number stands there only by leave.
    Public,
    /// Those who held the day.
    Private,
}

impl Audience {
    fn label(self, visit: &Visit) -> Label {
        match self {
            Self::Private => visit.label.clone(),
            Self::Public => visit.label.in_public(),
        }
    }

    /// Why a visit came to what it did. What failed or was stopped may have named addresses and files of the bench, which are
    /// nobody else's business.
    fn why(self, result: &VisitResult) -> Option<String> {
        let of_bench = matches!(result.outcome, VisitOutcome::Failed | VisitOutcome::Stopped);
        result.why.clone().filter(|_| self == Self::Private || !of_bench)
    }
}

fn visitors(ledger: &Ledger) -> impl Iterator<Item = &Visit> {
    ledger.visits().iter().filter(|visit| !visit.reference)
}

/// How many visits came to what; what did not occur is left out.
fn counts(ledger: &Ledger) -> Vec<(VisitOutcome, usize)> {
    let of = |outcome| {
        visitors(ledger)
            .filter(|visit| visit.result().is_some_and(|result| result.outcome == outcome))
            .count()
    };
    VisitOutcome::ALL
        .into_iter()
        .map(|outcome| (outcome, of(outcome)))
        .filter(|(_, count)| *count > 0)
        .collect()
}

/// How many came, as it is told everywhere: the numbers of visits count the looks at the reference radio too.
#[must_use]
pub fn counted(ledger: &Ledger) -> String {
    let visits = spurline_report::counted(visitors(ledger).count(), "visit");
    match ledger.visits().len() - visitors(ledger).count() {
        0 => visits,
        looks => {
            format!("{visits} and {} at the reference radio", spurline_report::counted(looks, "look"))
        }
    }
}

/// The summary in plain lines.
#[must_use]
pub fn summary_text(day: &Day, ledger: &Ledger, audience: Audience) -> String {
    let mut text = day.title.clone();
    if !day.place.is_empty() {
        text.push_str(&format!(", {}", day.place));
    }
    let counts: Vec<String> =
        counts(ledger).into_iter().map(|(outcome, count)| format!("{count} {outcome}")).collect();
    text.push_str(&format!(
        "\n{}{}{}\njudged by {}; indicative, not a certification\n",
        counted(ledger),
        if counts.is_empty() { "" } else { ": " },
        counts.join(", "),
        day.rule
    ));
    for visit in ledger.visits() {
        let label = audience.label(visit);
        let name = if visit.reference { "reference radio".to_owned() } else { label.to_string() };
        let came_to = visit.result().map_or_else(|| "not ended".to_owned(), wording::in_short);
        let corrected =
            if visit.first.is_some() && audience == Audience::Private { ", corrected" } else { "" };
        let name = if name.is_empty() { String::new() } else { format!(" {name}{corrected}:") };
        let time = local(visit.at).both();
        text.push_str(&format!("{:>4} {time}{name} {came_to}\n", visit.number));
        if visit.has_drifted() {
            text.push_str(&format!("     {}\n", crate::reference::words(&visit.drifts, false)));
        }
        if visit.is_after_drift() {
            text.push_str(&format!("     {}\n", wording::AFTER_DRIFT));
        }
    }
    text
}

/// A visit for a table: number, time, label, verdict, carrier in MHz, worst margin in dB.
#[must_use]
pub fn row(visit: &Visit) -> [String; 6] {
    let result = visit.result();
    let label = if visit.reference { "reference radio".to_owned() } else { visit.label.to_string() };
    let carrier = result.and_then(|result| result.carrier);
    let margin = result.and_then(|result| result.worst()).and_then(wording::margin);
    [
        visit.number.to_string(),
        local(visit.at).both(),
        label,
        result.map_or_else(|| "…".to_owned(), |result| result.outcome.word().to_owned()),
        carrier.map(|carrier| format!("{:.4}", carrier.mhz())).unwrap_or_default(),
        margin.map(|margin| wording::typeset(margin.trim_end_matches(" dB"))).unwrap_or_default(),
    ]
}

/// The summary as one document.
#[must_use]
pub fn summary_json(day: &Day, ledger: &Ledger, audience: Audience) -> serde_json::Value {
    let counts: serde_json::Map<String, serde_json::Value> = counts(ledger)
        .into_iter()
        .map(|(outcome, count)| (outcome.word().to_owned(), json!(count)))
        .collect();
    let visits: Vec<_> = ledger
        .visits()
        .iter()
        .map(|visit| {
            let label = audience.label(visit);
            let wall = local(visit.at);
            let result = visit.result();
            let worst = result.and_then(|result| result.worst());
            json!({
                "visit": visit.number,
                "at": visit.at,
                "at_local": format!("{}T{}{}", wall.date, wall.time, if wall.utc.is_some() { &wall.zone } else { "Z" }),
                "reference": visit.reference,
                "call": label.call,
                "serial": label.serial,
                "tag": label.tag,
                "other": label.other,
                "corrected": visit.first.is_some(),
                "outcome": result.map(|result| result.outcome.word()),
                "why": result.and_then(|result| audience.why(result)),
                "carrier_hz": result.and_then(|result| result.carrier).map(|carrier| carrier.get()),
                "carrier_dbm": result.and_then(|result| result.carrier_line()).and_then(|line| line.level).map(|level| level.get()),
                "worst_order": worst.map(|line| line.order),
                "worst_margin_db": worst.and_then(|line| line.margin).map(|margin| margin.get()),
                "expanded_uncertainty_db": worst.and_then(|line| line.uncertainty).map(|u| u.get()),
                "looked_up_to_hz": result.and_then(|result| result.looked_up_to()).map(|hertz| hertz.get()),
                "reference_overdue": visit.is_overdue(),
                "reference_drifted": visit.is_after_drift(),
                "seconds": result.map(|result| result.seconds),
                "keyed_seconds": result.map(|result| result.keyed),
                "run": visit.run,
            })
        })
        .collect();
    json!({
        "day": day.title,
        "place": day.place,
        "rule": day.rule,
        "visitors": visitors(ledger).count(),
        "looks_at_reference": ledger.visits().len() - visitors(ledger).count(),
        "outcomes": counts,
        "visits": visits,
        "note": "indicative, not a certification",
    })
}

/// The visits as a table for a spreadsheet.
#[must_use]
pub fn summary_csv(day: &Day, ledger: &Ledger, audience: Audience) -> String {
    let document = summary_json(day, ledger, audience);
    const COLUMNS: [&str; 22] = [
        "visit",
        "at",
        "at_local",
        "reference",
        "call",
        "serial",
        "tag",
        "other",
        "corrected",
        "outcome",
        "why",
        "carrier_hz",
        "carrier_dbm",
        "worst_order",
        "worst_margin_db",
        "expanded_uncertainty_db",
        "looked_up_to_hz",
        "reference_overdue",
        "reference_drifted",
        "seconds",
        "keyed_seconds",
        "run",
    ];
    let mut writer = csv::Writer::from_writer(Vec::new());
    let written = (|| {
        writer.write_record(COLUMNS)?;
        for visit in document["visits"].as_array().into_iter().flatten() {
            let field = |column: &&str| match &visit[*column] {
                serde_json::Value::Null => String::new(),
                serde_json::Value::String(text) => spurline_report::inert(text),
                other => other.to_string(),
            };
            writer.write_record(COLUMNS.iter().map(field))?;
        }
        csv::Result::Ok(())
    })();
    written.expect("memory takes all that is written into it");
    let bytes = writer.into_inner().expect("memory takes all that is written into it");
    String::from_utf8(bytes).expect("what was written was text")
}

#[cfg(test)]
mod tests {
    use jiff::Timestamp;
    use spurline_record::{DayEntry, DayEvent, Drift};
    use spurline_units::{Db, Dbm};

    use super::*;
    use crate::specimen;

    /// Where an instrument is and what a file is called stands in what those read who held the day.
    #[test]
    fn why_a_bench_failed_is_not_published() {
        let folder = tempfile::tempdir().unwrap();
        let day = specimen::day(folder.path(), &[]);
        let entry = |event| DayEntry { number: 1, day: "d".to_owned(), at: Timestamp::UNIX_EPOCH, event };
        let mut entries = Vec::new();
        let outcomes = [VisitOutcome::Failed, VisitOutcome::Stopped, VisitOutcome::Refused];
        for (visit, outcome) in (1..).zip(outcomes) {
            let label = Label { serial: Some(format!("{visit}")), ..Label::default() };
            entries.push(entry(DayEvent::Came { visit, label, reference: false }));
            let why = Some("at 192.0.2.20".to_owned());
            let result = VisitResult { why, ..specimen::result(outcome) };
            entries.push(entry(DayEvent::Ended { visit, result }));
        }
        let ledger = Ledger::of(&entries);
        let why = |audience| {
            let document = summary_json(&day, &ledger, audience);
            [0, 1, 2].map(|visit| document["visits"][visit]["why"].is_string())
        };
        assert_eq!(why(Audience::Public), [false, false, true]);
        assert_eq!(why(Audience::Private), [true; 3]);
        assert_eq!(summary_csv(&day, &ledger, Audience::Public).matches("192.0.2.20").count(), 1);
    }

    /// Whoever reads the day must see which visits the bench was not shown to be right for.
    #[test]
    fn visits_after_a_drift_are_marked() {
        let folder = tempfile::tempdir().unwrap();
        let day = specimen::day(folder.path(), &[]);
        let entry = |event| DayEntry { number: 1, day: "d".to_owned(), at: Timestamp::UNIX_EPOCH, event };
        let mut entries = Vec::new();
        for (visit, reference) in [(1, false), (2, true), (3, false), (4, true)] {
            let label = Label { tag: Some(format!("#{visit}")), ..Label::default() };
            entries.push(entry(DayEvent::Came { visit, label, reference }));
            let reference_drifted = visit > 2;
            let result = VisitResult { reference_drifted, ..specimen::result(VisitOutcome::Complies) };
            entries.push(entry(DayEvent::Ended { visit, result }));
            if reference {
                let [was, is] = [36.0, 34.0].map(Dbm::new);
                let drifts = vec![Drift { order: 1, was, is, allowed: Db::new(0.5) }];
                entries.push(entry(DayEvent::Compared { visit, drifts }));
            }
        }
        let ledger = Ledger::of(&entries);
        let text = summary_text(&day, &ledger, Audience::Public);
        assert_eq!(text.matches(wording::AFTER_DRIFT).count(), 1, "{text}");
        let document = summary_json(&day, &ledger, Audience::Public);
        let marked = [0, 1, 2, 3].map(|visit| document["visits"][visit]["reference_drifted"] == true);
        assert_eq!(marked, [false, false, true, false]);
        let slip = crate::slip(&day, ledger.visit(3).unwrap(), day.slip);
        let words = slip.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(words.contains(wording::AFTER_DRIFT), "{slip}");
    }
}
