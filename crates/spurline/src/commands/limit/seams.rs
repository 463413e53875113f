//! Where the limit of a rule jumps, begins or ends, as text.

use spurline_limits::{Along, Facts, Question, Rule, Said, Seam};
use spurline_units::Hertz;

/// Every boundary of the rule for this carrier; those where nothing happens are only counted.
pub(super) fn as_text(rule: &Rule, question: &Question, facts: &Facts) -> String {
    let seams = rule.seams(question, facts);
    let (even, uneven): (Vec<&Seam>, Vec<&Seam>) = seams.iter().partition(|seam| seam.is_even());
    let mut text = format!("{}: {} boundaries, {} of them uneven\n", rule.name(), seams.len(), uneven.len());
    for seam in uneven {
        let place = match seam.at {
            Along::Emission(at) => {
                format!(
                    "emission at {at}, {} from the carrier",
                    Hertz::new((at - question.carrier()).get().abs())
                )
            }
            Along::Power(power) => format!("power {power}"),
        };
        text.push_str(&format!(
            "  {place}: {} below, {} there, {} above\n",
            said(&seam.below),
            said(&seam.exactly),
            said(&seam.above)
        ));
    }
    if !even.is_empty() {
        text.push_str(&format!("  the limit goes on evenly at the other {}\n", even.len()));
    }
    text
}

fn said(said: &Said) -> String {
    match said {
        Said::Level(level) => level.to_string(),
        Said::Nothing => "no limit".to_owned(),
        Said::NeedsToKnow(missing) => format!("needs to know {}", missing.join(", ")),
    }
}
