//! How figures are written for people.

use spurline_record::{Figure, Limit, Outcome, Quantity, Reading, Unit};

/// A sign beside the word, so that outcomes differ without colour.
pub(crate) fn sign(outcome: Outcome) -> &'static str {
    match outcome {
        Outcome::Complies => "✓",
        Outcome::Exceeds => "✗",
        Outcome::Undecided => "?",
        Outcome::Invalid => "!",
        Outcome::NoLimit => "–",
    }
}

/// What a reading is about.
pub(crate) fn title(reading: &Reading) -> String {
    match (reading.quantity, reading.order) {
        (Quantity::CarrierPower, _) => "Carrier power".to_owned(),
        (Quantity::Harmonic, Some(order)) => format!("Harmonic {order}"),
        (Quantity::Harmonic, None) => "Harmonic".to_owned(),
    }
}

/// The figure with its unit; a bound says that it is one.
pub(crate) fn figure(figure: Option<&Figure>) -> String {
    match figure {
        None => "–".to_owned(),
        Some(figure) => match figure.unit {
            Unit::W => format!("{:.3} W", figure.value),
            Unit::Dbm => format!("{}{:.2} dBm", if figure.bound { "≤ " } else { "" }, figure.value),
        },
    }
}

/// What the figure is held against.
pub(crate) fn limit(limit: Option<&Limit>) -> String {
    match limit {
        None => "–".to_owned(),
        Some(Limit::Upper { level, .. }) => level.to_string(),
        Some(Limit::Window { low, high }) => format!("{low} to {high} W"),
        Some(Limit::Several(levels)) => {
            levels.iter().map(ToString::to_string).collect::<Vec<_>>().join(" or ")
        }
    }
}

/// A decibel figure with a sign.
pub(crate) fn signed(value: f64) -> String {
    format!("{value:+.2} dB")
}
