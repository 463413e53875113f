//! How figures and closed sets are written for people.

use spurline_record::{Figure, Limit, Outcome, Quantity, Reading, RunState, TextRole, Unit};

/// A sign beside the word, so that outcomes differ without colour.
pub(crate) const fn sign(outcome: Outcome) -> &'static str {
    match outcome {
        Outcome::Complies => "✓",
        Outcome::Exceeds => "✗",
        Outcome::Undecided => "?",
        Outcome::Invalid => "!",
        Outcome::NoLimit => "–",
    }
}

/// The style class of an outcome.
pub(crate) const fn class(outcome: Outcome) -> &'static str {
    match outcome {
        Outcome::Complies => "good",
        Outcome::Exceeds => "bad",
        Outcome::Undecided | Outcome::Invalid => "unsure",
        Outcome::NoLimit => "soft",
    }
}

/// What the outcome of a run means.
pub(crate) const fn meaning(outcome: Option<Outcome>, state: RunState) -> &'static str {
    match (outcome, state) {
        (Some(Outcome::Exceeds), _) => "At least one reading is above its limit or outside its window.",
        (Some(Outcome::Invalid), _) => {
            "Nothing exceeds, but at least one reading says nothing: the method was at fault there."
        }
        (Some(Outcome::Undecided), _) => "Nothing exceeds, but the evidence is not enough for every reading.",
        (Some(Outcome::Complies), RunState::Finished) => "Every reading that has a limit keeps it.",
        (Some(Outcome::Complies), RunState::Running | RunState::Failed | RunState::Interrupted) => {
            "Every reading that was taken and has a limit keeps it; the run did not go to its end."
        }
        (Some(Outcome::NoLimit), _) => "The rule gives no number for any reading.",
        (None, RunState::Running) => "The run has not come to its end.",
        (None, RunState::Finished | RunState::Failed | RunState::Interrupted) => "Nothing was read.",
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
    let Some(figure) = figure else { return "–".to_owned() };
    let bound = if figure.bound { "≤ " } else { "" };
    match figure.unit {
        Unit::W => format!("{bound}{:.3} W", figure.value),
        Unit::Dbm => format!("{bound}{:.2} dBm", figure.value),
    }
}

/// What the figure is held against.
pub(crate) fn limit(limit: Option<&Limit>) -> String {
    match limit {
        None => "–".to_owned(),
        Some(Limit::Upper { level, .. }) => level.to_string(),
        Some(Limit::Window { low, high }) => {
            let [low, high] = Limit::shown_window(*low, *high);
            format!("{low} to {high} W")
        }
        Some(Limit::Several(levels)) => {
            levels.iter().map(ToString::to_string).collect::<Vec<_>>().join(" or ")
        }
    }
}

/// A decibel figure with a sign.
pub(crate) fn signed(value: f64) -> String {
    format!("{value:+.2} dB")
}

/// What a file of the run is.
pub(crate) const fn text_role(role: TextRole) -> &'static str {
    match role {
        TextRole::Plan => "plan",
        TextRole::Bench => "bench",
        TextRole::Profile => "profile",
        TextRole::Rule => "rule",
        TextRole::Path => "path",
    }
}
