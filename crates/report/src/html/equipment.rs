//! The parts of the path as a list.

use jiff::civil::Date;
use spurline_record::{LaidCalibration, LaidPart, Layout, Role};
use spurline_units::Watts;

use crate::figures;

/// One part, and the ways that it is on.
pub(crate) struct PartRow<'a> {
    pub(crate) part: &'a LaidPart,
    pub(crate) on: Vec<&'a str>,
    pub(crate) loss: String,
    pub(crate) covers: String,
    pub(crate) rated: String,
    /// What is to be told if its calibration was no longer good.
    pub(crate) expired: Option<String>,
}

/// One calibration that the bench file states.
pub(crate) struct CalibrationRow<'a> {
    pub(crate) what: &'a str,
    pub(crate) calibrated: String,
    pub(crate) due: String,
    pub(crate) certificate: &'a str,
    /// Whether it was good on the day of the run.
    pub(crate) standing: &'static str,
}

/// What states when it was calibrated, as it was on a day.
pub(crate) fn calibrations(layout: &Layout, on: Date) -> Vec<CalibrationRow<'_>> {
    let day = |day: Option<Date>| day.map_or_else(|| "not stated".to_owned(), |day| day.to_string());
    let row = |one: &'_ LaidCalibration| match one.due {
        None => "nothing says",
        Some(_) if one.has_expired(on) => "expired",
        Some(_) => "good",
    };
    let rows = layout.calibrations.iter().map(|one| CalibrationRow {
        what: match one.role {
            Some(role) => figures::role(role),
            None => &one.what,
        },
        calibrated: day(one.calibrated),
        due: day(one.due),
        certificate: one.certificate.as_deref().unwrap_or("not stated"),
        standing: row(one),
    });
    rows.collect()
}

/// What is to be told of an instrument, or of a part by its name, whose calibration was no longer good.
pub(crate) fn expired(layout: &Layout, role: Option<Role>, part: &str, on: Date) -> Option<String> {
    let is_it = |one: &&LaidCalibration| one.role == role && (role.is_some() || one.what == part);
    let due = layout.calibrations.iter().filter(is_it).find(|one| one.has_expired(on))?.due?;
    Some(format!("calibration expired on {due}"))
}

/// Every part once, in the order in which power meets them.
pub(crate) fn parts(layout: &Layout, day: Date) -> Vec<PartRow<'_>> {
    let common = layout.common.iter().map(|part| (part, "every way"));
    let on_ways =
        layout.ways.iter().flat_map(|way| way.parts.iter().map(move |part| (part, way.name.as_str())));
    let mut rows: Vec<PartRow<'_>> = Vec::new();
    for (part, on) in common.chain(on_ways) {
        match rows.iter_mut().find(|row| row.part == part) {
            Some(row) if row.on.contains(&on) => {}
            Some(row) => row.on.push(on),
            None => rows.push(PartRow {
                part,
                on: vec![on],
                loss: figures::loss(part),
                covers: format!("{} to {}", part.covers.low(), part.covers.high()),
                rated: part.rated.map_or_else(|| "not stated".to_owned(), |watts: Watts| watts.to_string()),
                expired: expired(layout, None, &part.name, day),
            }),
        }
    }
    rows
}
