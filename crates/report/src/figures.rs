//! How figures and closed sets are written for people.

use spurline_record::{
    Acquisition, Fault, Figure, LaidPart, Limit, Margin, Outcome, Role, RunState, TextRole, Unit,
};
use spurline_units::Seconds;

use crate::paragraph::counted;

/// A coverage factor: two as it is, others to the hundredth.
pub(crate) fn factor(factor: f64) -> String {
    if factor.fract() == 0.0 { format!("{factor}") } else { format!("{factor:.2}") }
}

/// A sign beside the word, so that outcomes differ without colour.
#[must_use]
pub const fn sign(outcome: Outcome) -> &'static str {
    match outcome {
        Outcome::Complies => "✓",
        Outcome::Exceeds => "✗",
        Outcome::Undecided => "?",
        Outcome::Invalid => "!",
        Outcome::NoLimit => "–",
    }
}

/// The style class of an outcome.
#[must_use]
pub const fn class(outcome: Outcome) -> &'static str {
    match outcome {
        Outcome::Complies => "good",
        Outcome::Exceeds => "bad",
        Outcome::Undecided | Outcome::Invalid => "unsure",
        Outcome::NoLimit => "soft",
    }
}

/// What the outcome of a run means.
pub(crate) const fn meaning(outcome: Option<Outcome>, without_limit: usize, state: RunState) -> &'static str {
    match (outcome, state) {
        (Some(Outcome::Exceeds), _) => "At least one reading is above its limit or outside its window.",
        (Some(Outcome::Invalid), _) => {
            "Nothing exceeds, but at least one reading says nothing: the method was at fault there."
        }
        (Some(Outcome::Undecided), _) => "Nothing exceeds, but the evidence is not enough for every reading.",
        (Some(Outcome::Complies), RunState::Finished) if without_limit > 0 => {
            "Every reading that has a limit keeps it; the rule gives no number for the others."
        }
        (Some(Outcome::Complies), RunState::Finished) => "Every reading keeps its limit.",
        (
            Some(Outcome::Complies),
            RunState::Running | RunState::Failed | RunState::Interrupted | RunState::BrokenOff,
        ) => "Every reading that was taken and has a limit keeps it; the run did not go to its end.",
        (Some(Outcome::NoLimit), _) => "The rule gives no number for any reading.",
        (None, RunState::Running) => "The run has not come to its end.",
        (None, RunState::Finished | RunState::Failed | RunState::Interrupted | RunState::BrokenOff) => {
            "Nothing was read."
        }
    }
}

/// The figure with its unit; a bound says that it is one.
pub(crate) fn figure(figure: Option<&Figure>) -> String {
    let Some(figure) = figure else { return "–".to_owned() };
    let bound = if figure.bound { "≤ " } else { "" };
    let decimals = if figure.unit == Unit::W { 3 } else { 2 };
    format!("{bound}{}", figure.unit.show(figure.value, decimals))
}

/// The figure in words, with its level at the connector.
pub(crate) fn level(figure: Option<&Figure>) -> String {
    match figure {
        None => "none".to_owned(),
        Some(Figure { value, unit, level, bound }) => {
            let level = match level {
                Some(level) if *unit == Unit::Dbm => level.to_string(),
                Some(level) => format!("{} ({level})", unit.show(*value, 3)),
                None => unit.show(*value, 3),
            };
            if *bound { format!("at most {level}") } else { level }
        }
    }
}

/// A failure of the bench in one line.
pub(crate) fn fault(fault: &Fault) -> String {
    let at = fault.instrument.map(|role| format!(" at the {role}")).unwrap_or_default();
    let causes: String = fault.causes.iter().map(|cause| format!("; because: {cause}")).collect();
    let advice = fault.advice.as_ref().map(|advice| format!("; advice: {advice}")).unwrap_or_default();
    format!("failed{at}: {}{causes}{advice}", fault.message)
}

/// What the figure is held against.
pub(crate) fn limit(limit: Option<&Limit>) -> String {
    match limit {
        None => "–".to_owned(),
        Some(Limit::Upper { level, .. }) => level.to_string(),
        Some(Limit::Window { low, high }) if !(low.is_finite() && high.is_finite()) => {
            "a window without numbers".to_owned()
        }
        Some(Limit::Window { low, high }) => {
            let [low, high] = Limit::shown_window(*low, *high);
            format!("{low} to {high} W")
        }
        Some(Limit::Between { low, high, unit }) => between(*low, *high, *unit),
        Some(Limit::Several(levels)) => {
            levels.iter().map(ToString::to_string).collect::<Vec<_>>().join(" or ")
        }
    }
}

fn between(low: Option<f64>, high: Option<f64>, unit: Unit) -> String {
    let show = |end| unit.show(end, 2);
    match (low, high) {
        (Some(low), Some(high)) if low == -high => format!("±{}", show(high)),
        (Some(low), Some(high)) => format!("{} to {}", show(low), show(high)),
        (None, Some(high)) => format!("at most {}", show(high)),
        (Some(low), None) => format!("at least {}", show(low)),
        (None, None) => "–".to_owned(),
    }
}

/// The limit in words.
pub(crate) fn against(limit: Option<&Limit>) -> String {
    if limit.is_none() { "no limit".to_owned() } else { format!("limit {}", self::limit(limit)) }
}

/// A margin with a sign.
pub(crate) fn signed(margin: Margin) -> String {
    match margin.unit {
        Unit::Db => format!("{:+.2} dB", margin.value),
        unit if margin.value < 0.0 => unit.show(margin.value, 2),
        unit => format!("+{}", unit.show(margin.value, 2)),
    }
}

/// A probability in per cent; none is certain.
pub(crate) fn chance(probability: f64) -> String {
    if probability > 0.999 {
        "above 99.9 %".to_owned()
    } else if probability < 0.001 {
        "below 0.1 %".to_owned()
    } else {
        format!("{:.1} %", probability * 100.0)
    }
}

/// What a file of the run is.
pub(crate) const fn text_role(role: TextRole) -> &'static str {
    match role {
        TextRole::Plan => "plan",
        TextRole::Bench => "bench",
        TextRole::Profile => "profile",
        TextRole::Rule => "rule",
        TextRole::Path => "path",
        TextRole::Bands => "bands",
    }
}

/// The part that an instrument plays, for people.
pub(crate) const fn role(role: Role) -> &'static str {
    match role {
        Role::Analyser => "Spectrum analyser",
        Role::PowerMeter => "RF power meter",
        Role::Supply => "Bench supply",
        Role::Relay => "Key relay",
        Role::UnitControl => "Unit control port",
        Role::Switch => "Path switch",
        Role::Generator => "Signal generator",
        Role::AudioGenerator => "Audio generator",
    }
}

/// The loss of a part over the carriers of the plan.
pub(crate) fn loss(part: &LaidPart) -> String {
    let Some(loss) = part.loss else { return "loss not known".to_owned() };
    let [low, high] = [loss.low(), loss.high()].map(|loss| format!("{:.2}", loss.get()));
    if low == high { format!("{low} dB") } else { format!("{low} to {high} dB") }
}

/// What the way in which a rule's text was read means for a reader.
pub(crate) fn rule_caveat(status: &str) -> &'static str {
    match status {
        "verified" => {
            "The rule was taken from the published text named here. A later edition may say something else."
        }
        "second-hand" => {
            "The rule was taken from a text about the published one, not from that itself: check its numbers there \
             before you rely on them."
        }
        "from-memory" => {
            "The rule was written down from memory: check its numbers in the published text before you rely on them."
        }
        _ => {
            "Nothing says how the rule was read: check its numbers in the published text before you rely on them."
        }
    }
}

/// What is said where the sweeps of a look are not in the record any more.
pub(crate) const PRUNED: &str = "the levels of its sweeps were taken out of the record";

/// A time for people: what an instrument says it takes has more digits than anybody reads.
pub(crate) fn time(time: Seconds) -> Seconds {
    let rounded = format!("{:.3e}", time.get()).parse().unwrap_or(time.get());
    Seconds::new(rounded)
}

/// How many sweeps a look has, and how long each took.
pub(crate) fn sweeps(look: &Acquisition) -> String {
    let time = time(look.settings.sweep_time);
    match look.sweeps.len() {
        0 => format!("sweeps of {time}, taken out of the record"),
        count => format!("{} of {time}", counted(count, "sweep")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_time_has_no_more_digits_than_are_read() {
        for (seconds, shown) in
            [(1.388_888_889, "1.389 s"), (0.05, "50 ms"), (0.001_25, "1.25 ms"), (20.0, "20 s")]
        {
            assert_eq!(time(Seconds::new(seconds)).to_string(), shown);
        }
    }
}
