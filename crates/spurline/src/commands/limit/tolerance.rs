//! A frequency tolerance, as text and as JSON.

use serde_json::{Value, json};
use spurline_limits::{ToleranceFinding, ToleranceVerdict};
use spurline_units::Hertz;

use super::answer::needed;
use super::steps;

/// To the tenth of a hertz: nobody measures a carrier finer here.
fn shown(hertz: Hertz) -> String {
    format!("{} Hz", (hertz.get() * 10.0).round() / 10.0)
}

pub(super) fn short(finding: &ToleranceFinding) -> String {
    match &finding.verdict {
        ToleranceVerdict::Tolerance { hertz, .. } => shown(*hertz),
        ToleranceVerdict::NoTolerance => "no tolerance".to_owned(),
        ToleranceVerdict::Undetermined { .. } => "undetermined".to_owned(),
    }
}

pub(super) fn as_text(finding: &ToleranceFinding) -> String {
    let mut text = match &finding.verdict {
        ToleranceVerdict::Tolerance { hertz, ppm, .. } => {
            format!("tolerance {}, {} ppm of the carrier\n", shown(*hertz), (ppm * 1e4).round() / 1e4)
        }
        ToleranceVerdict::NoTolerance => "no tolerance: the rule has no number here\n".to_owned(),
        ToleranceVerdict::Undetermined { missing, .. } => needed(missing),
    };
    text.push_str(&steps(&finding.derivation));
    text.push_str(&format!("source: {} ({})\n", finding.source, finding.status));
    text
}

pub(super) fn as_json(finding: &ToleranceFinding) -> Value {
    let (outcome, hertz, ppm) = match &finding.verdict {
        ToleranceVerdict::Tolerance { hertz, ppm, .. } => ("tolerance", Some(*hertz), Some(*ppm)),
        ToleranceVerdict::NoTolerance => ("no tolerance", None, None),
        ToleranceVerdict::Undetermined { .. } => ("undetermined", None, None),
    };
    let (missing, possible) = match &finding.verdict {
        ToleranceVerdict::Undetermined { missing, possible } => (missing.as_slice(), possible.as_slice()),
        ToleranceVerdict::Tolerance { .. } | ToleranceVerdict::NoTolerance => (&[][..], &[][..]),
    };
    json!({
        "outcome": outcome,
        "tolerance_hz": hertz,
        "tolerance_ppm": ppm,
        "missing": missing,
        "possible_hz": possible.iter().map(ToleranceFinding::hertz).collect::<Vec<_>>(),
        "derivation": finding.derivation,
        "source": finding.source,
        "status": finding.status.to_string(),
    })
}
