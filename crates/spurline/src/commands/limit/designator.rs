//! A designator: its bandwidth, and where the spurious domain of such an emission begins.

use serde_json::json;
use spurline_limits::{Designator, spurious_boundary};
use spurline_units::Hertz;

use super::{Part, steps, wrong};
use crate::talk::Failure;

pub(super) fn part(text: &str, carrier: Option<Hertz>) -> Result<Part, Failure> {
    let designator: Designator = text.parse().map_err(|error| wrong("--designator", &error))?;
    let (bandwidth, meaning) = (designator.bandwidth(), designator.meaning());
    let mut json = json!({
        "designator": designator.to_string(),
        "necessary_bandwidth_hz": bandwidth,
        "class": designator.class(),
        "meaning": meaning,
    });
    let mut text = format!("{designator}: necessary bandwidth {bandwidth}\n  {}\n", meaning.join("; "));
    if let Some(carrier) = carrier {
        match spurious_boundary(carrier, bandwidth) {
            Some(boundary) => {
                json["spurious_domain"] = json!({
                    "separation_hz": boundary.separation,
                    "status": boundary.status.to_string(),
                    "derivation": boundary.derivation,
                });
                text.push_str(&format!(
                    "spurious domain from {} on either side of {carrier}\n{}",
                    boundary.separation,
                    steps(&boundary.derivation)
                ));
            }
            None => {
                json["spurious_domain"] = json!(null);
                text.push_str(&format!(
                    "spurious domain: not known at {carrier}, no row of the table was found for it\n"
                ));
            }
        }
    }
    Ok(Part { key: "designator", json, text, is_good: true })
}
