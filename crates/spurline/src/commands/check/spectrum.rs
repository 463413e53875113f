//! What is foretold of the carrier's own spectrum.

use serde_json::{Value, json};
use spurline_plan::SpectrumForecast;

use super::{why, word};

pub(super) fn text(reading: &SpectrumForecast) -> String {
    let name = reading.asked.name.as_deref().map_or_else(String::new, |name| format!(", {name}"));
    let mut text = format!("  {}{name}", reading.asked.quantity.title().to_lowercase());
    if let Some((limit, unit)) = reading.limit {
        text.push_str(&format!(", limit {}", unit.show(limit, 1)));
    }
    if let Some((expanded, unit)) = reading.expanded {
        text.push_str(&format!(", U {}", unit.show(expanded, 1)));
    }
    if let Some(floor) = reading.floor {
        text.push_str(&format!(", floor {floor:.1}"));
    }
    text.push_str(&format!(": {}; {}", word(&reading.prospect), reading.choice));
    if let Some(why) = why(&reading.prospect) {
        text.push_str(&format!("; {why}"));
    }
    text
}

pub(super) fn json(reading: &SpectrumForecast) -> Value {
    json!({
        "quantity": reading.asked.quantity.name(),
        "name": reading.asked.name,
        "frequency_hz": reading.asked.frequency,
        "path": reading.path,
        "limit": reading.limit.map(|(limit, _)| limit),
        "limit_unit": reading.limit.map(|(_, unit)| unit.symbol()),
        "expanded_uncertainty": reading.expanded.map(|(expanded, _)| expanded),
        "uncertainty_unit": reading.expanded.map(|(_, unit)| unit.symbol()),
        "floor_dbm": reading.floor,
        "choice": reading.choice,
        "prospect": word(&reading.prospect),
        "reason": why(&reading.prospect),
    })
}
