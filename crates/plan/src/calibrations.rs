//! What of a bench was calibrated when, and what is no longer good.

use jiff::civil::Date;
use spurline_path::{Calibration, Part};
use spurline_record::{LaidCalibration, Role};

use crate::bench::Bench;

impl Bench {
    /// Everything that states when it was calibrated: instruments, then the parts of all ways, each once.
    fn calibrated(&self) -> Vec<(String, Option<Role>, &Calibration)> {
        let instruments = self.instruments.iter().filter_map(|instrument| {
            let calibration = instrument.calibration.as_ref()?;
            Some((instrument.role.name().to_owned(), Some(instrument.role), calibration))
        });
        let branches = self.ways.iter().map(|way| &way.branch).chain(&self.meter);
        let of_generator = self.generator.iter().flat_map(|generator| &generator.through);
        let mut parts: Vec<&Part> = Vec::new();
        for part in branches.flat_map(|branch| &branch.path.parts).chain(of_generator) {
            if !parts.contains(&part) {
                parts.push(part);
            }
        }
        let parts =
            parts.into_iter().filter_map(|part| Some((part.name.clone(), None, part.calibration.as_ref()?)));
        instruments.chain(parts).collect()
    }

    /// What is no longer good on a day, or not yet, in words; empty if everything that states a day is good.
    #[must_use]
    pub fn not_good_on(&self, day: Date) -> Vec<String> {
        let mut found = Vec::new();
        for (what, role, calibration) in self.calibrated() {
            let what = if role.is_some() { format!("the {what}") } else { format!("`{what}`") };
            if let Some(due) = calibration.due.filter(|_| calibration.has_expired(day)) {
                found.push(format!("the calibration of {what} was good until {due}"));
            }
            if let Some(calibrated) = calibration.calibrated.filter(|calibrated| *calibrated > day) {
                found
                    .push(format!("the calibration of {what} is dated {calibrated}, which is still to come"));
            }
        }
        found
    }

    /// The same for the record.
    pub(crate) fn laid_calibrations(&self) -> Vec<LaidCalibration> {
        let laid = |(what, role, calibration): (String, Option<Role>, &Calibration)| LaidCalibration {
            what,
            role,
            calibrated: calibration.calibrated,
            due: calibration.due,
            certificate: calibration.certificate.clone(),
        };
        self.calibrated().into_iter().map(laid).collect()
    }
}
