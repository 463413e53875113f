//! Whether the whole of an emission lies in a band.

use serde_json::json;
use spurline_document::{Document, nearest};
use spurline_limits::{BandPlan, BandVerdict, Region, Use};
use spurline_plan::Library;
use spurline_runner::Files;
use spurline_units::{Hertz, Range};

use super::{Part, missing, steps, wrong};
use crate::talk::Failure;

pub(super) fn part(range: &str, region: &str, sent: Option<&str>, plan: &str) -> Result<Part, Failure> {
    let range: Range<Hertz> = range.parse().map_err(|error| wrong("--band", &error))?;
    let region = word("--region", region, Region::WORDS)?;
    let sent = sent.map(|sent| word("--use", sent, Use::WORDS)).transpose()?;
    let text = Files::from_environment().band_plan("", plan).map_err(missing)?;
    let plan = Document::parse(&text.name, &text.text).and_then(|document| BandPlan::read(&document))?;
    let finding = plan.check_use(range.low(), range.high(), region, sent);
    let (headline, mut json, is_good) = match &finding.verdict {
        BandVerdict::Inside { band, segment, .. } => {
            let json = json!({
                "outcome": "inside", "band": band, "from_hz": segment.low(), "to_hz": segment.high(),
            });
            (format!("inside {band}, {segment}"), json, true)
        }
        BandVerdict::Outside(Some(near)) => {
            let json = json!({
                "outcome": "outside",
                "band": near.band,
                "from_hz": near.segment.low(),
                "to_hz": near.segment.high(),
                "low_out_by_hz": near.low_out_by,
                "high_out_by_hz": near.high_out_by,
                "wider_by_hz": near.wider_by,
            });
            (format!("outside: the nearest is {}, {}", near.band, near.segment), json, false)
        }
        BandVerdict::Outside(None) => {
            ("outside: there is no band for this".to_owned(), json!({ "outcome": "outside" }), false)
        }
    };
    json["power"] = finding.power.iter().map(ToString::to_string).collect();
    json["derivation"] = json!(finding.derivation);
    json["source"] = json!(finding.source);
    json["status"] = json!(finding.status.to_string());
    let text = format!(
        "{headline}\n{}source: {} ({})\n",
        steps(&finding.derivation),
        finding.source,
        finding.status
    );
    Ok(Part { key: "band", json, text, is_good })
}

fn word<T: Copy>(argument: &str, text: &str, words: &[(&str, T)]) -> Result<T, Failure> {
    if let Some((_, value)) = words.iter().find(|(word, _)| *word == text.trim()) {
        return Ok(*value);
    }
    let known: Vec<&str> = words.iter().map(|(word, _)| *word).collect();
    let near = nearest(text, &known).map_or_else(String::new, |near| format!("did you mean `{near}`? "));
    Err(Failure::Usage {
        message: format!("{argument}: expected one of the words known, found `{text}`"),
        advice: format!("{near}known here: {}", known.join(", ")),
    })
}
