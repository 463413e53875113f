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

/// What stands with a visit that came after the reference radio had drifted.
pub(crate) const AFTER_DRIFT: &str = "reference radio had drifted: the bench was shown not to be as it was";

/// A figure with so many digits behind the point; what is nothing has no sign.
fn figure(value: f64, digits: usize) -> String {
    let text = format!("{value:.digits$}");
    match text.strip_prefix('-') {
        Some(bare) if bare.chars().all(|c| c == '0' || c == '.') => bare.to_owned(),
        Some(_) | None => text,
    }
}

/// An uncertainty with one digit, never smaller than it is. What arithmetic leaves in the last bits is none of it.
fn uncertainty(value: f64) -> String {
    figure((value * 10.0 - 1e-6).ceil() / 10.0, 1)
}

/// In how many digits margin and uncertainty stand to each other, and to nothing, as they do: a level within its uncertainty of
/// the limit must not look as if it were not.
fn digits(margin: f64, uncertainty: Option<f64>) -> usize {
    let shown = |value: f64, digits: usize| figure(value, digits).parse::<f64>().unwrap_or(value);
    let holds = |digits: &usize| {
        let margin_shown = shown(margin, *digits);
        margin_shown.partial_cmp(&0.0) == margin.partial_cmp(&0.0)
            && uncertainty.is_none_or(|uncertainty| {
                let beside = margin_shown.abs().partial_cmp(&shown(uncertainty, *digits));
                beside == margin.abs().partial_cmp(&uncertainty)
            })
    };
    (1..=3).find(holds).unwrap_or(3)
}

fn digits_of(line: &DayLine) -> usize {
    line.margin.map_or(1, |margin| digits(margin.get(), line.uncertainty.map(|u| u.get())))
}

/// The power of the carrier.
pub(crate) fn power(line: &DayLine) -> Option<String> {
    let level = line.level?;
    let watts = level.to_watts().get();
    let shown = if watts < 0.1 { format!("{:.1} mW", watts * 1e3) } else { format!("{watts:.2} W") };
    let uncertainty =
        line.uncertainty.map_or_else(String::new, |u| format!(" +- {} dB", uncertainty(u.get())));
    Some(format!("{shown}{uncertainty}"))
}

/// The level of a line, a bound as what it is.
pub(crate) fn level(line: &DayLine) -> Option<String> {
    let bound = if line.bound { "<= " } else { "" };
    Some(format!("{bound}{} dBm", figure(line.level?.get(), digits_of(line))))
}

/// The limit of a line.
pub(crate) fn limit(line: &DayLine) -> Option<String> {
    Some(format!("{} dBm", figure(line.limit?.get(), digits_of(line))))
}

/// The margin with its uncertainty, in as many digits as it takes to see which is the greater.
pub(crate) fn margin(line: &DayLine) -> Option<String> {
    let margin = line.margin?;
    let bound = if line.bound { ">= " } else { "" };
    let digits = digits_of(line);
    let beside = line.uncertainty.map_or_else(String::new, |u| format!(" +- {}", figure(u.get(), digits)));
    Some(format!("{bound}{}{beside} dB", figure(margin.get(), digits)))
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

#[cfg(test)]
mod tests {
    use spurline_record::Outcome;
    use spurline_units::{Db, Dbm, Hertz};

    use super::*;

    fn line(level: f64, u: f64) -> DayLine {
        DayLine {
            order: 2,
            frequency: Hertz::from_mhz(290.0),
            level: Some(Dbm::new(level)),
            bound: false,
            limit: Some(Dbm::new(-16.0)),
            margin: Some(Db::new(-16.0 - level)),
            uncertainty: Some(Db::new(u)),
            outcome: Outcome::Undecided,
        }
    }

    /// Whoever holds margin against uncertainty on a slip comes to the outcome that stands there.
    #[test]
    fn a_figure_at_the_edge_does_not_read_as_its_opposite() {
        let shown = |margin: f64, u: f64| super::margin(&line(-16.0 - margin, u)).unwrap();
        assert_eq!(shown(1.451, 1.549), "1.45 +- 1.55 dB");
        assert_eq!(shown(1.546, 1.542), "1.55 +- 1.54 dB");
        assert_eq!(shown(-0.04, 1.5), "-0.04 +- 1.50 dB");
        assert_eq!(shown(-1.549, 1.451), "-1.55 +- 1.45 dB");
        assert_eq!(shown(14.23, 1.549), "14.2 +- 1.5 dB");
        assert_eq!(shown(0.0, 1.5), "0.0 +- 1.5 dB");
        assert_eq!(shown(-1e-9, 1.5), "0.000 +- 1.500 dB");
        let edge = line(-15.96, 1.5);
        let told = (level(&edge).unwrap(), limit(&edge).unwrap());
        assert_eq!(told, ("-15.96 dBm".to_owned(), "-16.00 dBm".to_owned()));
        assert_eq!(level(&line(-0.04, 1.5)).unwrap(), "0.0 dBm");
    }

    #[test]
    fn an_uncertainty_is_never_smaller_than_it_is() {
        assert_eq!(power(&line(36.72, 0.62)).unwrap(), "4.70 W +- 0.7 dB");
        assert_eq!((uncertainty(0.6), uncertainty(0.600_1)), ("0.6".to_owned(), "0.7".to_owned()));
    }
}
