//! Short words for figures: on a slip, on a screen, in a summary.

use spurline_record::{DayLine, VisitOutcome, VisitResult};

/// The verdict as it is shown large.
#[must_use]
pub fn verdict(outcome: VisitOutcome) -> String {
    outcome.word().to_uppercase()
}

/// The name of a line.
pub(crate) fn name(line: &DayLine) -> String {
    if line.order == 1 { "carrier".to_owned() } else { format!("harmonic {}", line.order) }
}

/// The frequency with what people read off a radio.
pub(crate) fn megahertz(hertz: spurline_units::Hertz) -> String {
    format!("{:.4} MHz", hertz.mhz())
}

/// The power of the carrier.
pub(crate) fn power(line: &DayLine) -> Option<String> {
    let level = line.level?;
    let watts = level.to_watts().get();
    let shown = if watts < 0.1 { format!("{:.1} mW", watts * 1e3) } else { format!("{watts:.2} W") };
    let uncertainty = line.uncertainty.map_or_else(String::new, |u| format!(" +- {:.1} dB", u.get()));
    Some(format!("{shown}{uncertainty}"))
}

/// The level of a line, a bound as what it is.
pub(crate) fn level(line: &DayLine) -> Option<String> {
    let bound = if line.bound { "<= " } else { "" };
    Some(format!("{bound}{:.1} dBm", line.level?.get()))
}

/// The margin with its uncertainty.
pub(crate) fn margin(line: &DayLine) -> Option<String> {
    let margin = line.margin?;
    let bound = if line.bound { ">= " } else { "" };
    let uncertainty = line.uncertainty.map_or_else(String::new, |u| format!(" +- {:.1}", u.get()));
    Some(format!("{bound}{:.1}{uncertainty} dB", margin.get()))
}

/// Words with the signs that a printer of slips does not have, each held to its figure so that no line breaks there.
#[must_use]
pub fn typeset(text: &str) -> String {
    const SIGNS: [(&str, &str); 5] = [
        (" +- ", "\u{a0}±\u{a0}"),
        ("+- ", "±\u{a0}"),
        (">= ", "≥\u{a0}"),
        ("<= ", "≤\u{a0}"),
        (" dB", "\u{a0}dB"),
    ];
    SIGNS.iter().fold(text.to_owned(), |text, (typed, set)| text.replace(typed, set))
}

/// A result in one line.
pub(crate) fn in_short(result: &VisitResult) -> String {
    let mut words = vec![result.outcome.word().to_owned()];
    words.extend(result.carrier.map(megahertz));
    if let Some(worst) = result.worst() {
        words.extend(margin(worst).map(|margin| format!("{}, margin {margin}", name(worst))));
    }
    words.join(", ")
}
