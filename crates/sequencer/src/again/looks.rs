//! The looks of a recorded reading, sorted back into what the verdicts are made from.

use spurline_record::{Acquisition, Quantity, Reading};

use crate::ambient::{AFTERWARDS, AT_THE_BEGINNING, AT_THE_END, BEFORE, UNIT_OFF};
use crate::leak::INTO_THE_LOAD;

/// The looks of one reading by what they were for, each kind in the order in which it was taken.
#[derive(Clone, Debug, Default)]
pub(super) struct Looks {
    /// The carrier as the key-down began, if this reading holds it.
    pub(super) beginning: Option<Acquisition>,
    /// The carrier at its end.
    pub(super) end: Option<Acquisition>,
    /// Before the key.
    pub(super) before: Vec<Acquisition>,
    /// With the unit off.
    pub(super) off: Option<Acquisition>,
    /// What the reading itself is read from.
    pub(super) keyed: Vec<Acquisition>,
    /// After key up.
    pub(super) after: Vec<Acquisition>,
    /// With the unit on its load.
    pub(super) load: Option<Acquisition>,
    /// Anything else.
    pub(super) others: Vec<Acquisition>,
}

impl Looks {
    pub(super) fn of(reading: &Reading) -> Self {
        let mut looks = Self::default();
        for look in reading.acquisitions.iter().cloned() {
            match (look.purpose.as_str(), look.keyed) {
                (AT_THE_BEGINNING, true) => looks.beginning = Some(look),
                (AT_THE_END, true) => looks.end = Some(look),
                (INTO_THE_LOAD, _) => looks.load = Some(look),
                (BEFORE, false) => looks.before.push(look),
                (UNIT_OFF, false) => looks.off = Some(look),
                (AFTERWARDS, false) => looks.after.push(look),
                (_, true) => looks.keyed.push(look),
                (_, false) => looks.others.push(look),
            }
        }
        looks
    }

    /// The keyed look for a purpose; the last one, since only that counts where one was taken again.
    pub(super) fn keyed_for(&self, purpose: &str) -> Option<&Acquisition> {
        self.keyed.iter().rev().find(|look| look.purpose == purpose)
    }
}

/// Whether a reading is the first of its key-down: it holds the looks at the carrier that frame it.
pub(super) fn begins_key_down(reading: &Reading) -> bool {
    let frames =
        |look: &Acquisition| look.keyed && [AT_THE_BEGINNING, AT_THE_END].contains(&look.purpose.as_str());
    reading.acquisitions.iter().any(frames)
}

/// Whether a reading belongs to one channel and power setting, and not to a stage of the whole run.
pub(super) fn is_of_a_state(reading: &Reading) -> bool {
    !matches!(reading.quantity, Quantity::PowerOverSupply | Quantity::Silence | Quantity::Standby)
}

/// A reading of the same thing that says nothing yet.
pub(super) fn blank(recorded: &Reading) -> Reading {
    Reading {
        figure: None,
        limit: None,
        derivation: spurline_record::Derivation::default(),
        margin: None,
        conformance_probability: None,
        budget: None,
        correction: None,
        proof: spurline_record::Proof::default(),
        outcome: spurline_record::Outcome::Invalid,
        reason: None,
        series: None,
        acquisitions: Vec::new(),
        meter: Vec::new(),
        remarks: Vec::new(),
        ..recorded.clone()
    }
}

#[cfg(test)]
mod tests {
    use jiff::Timestamp;
    use spurline_record::SweepFlags;
    use spurline_units::Hertz;

    use super::*;
    use crate::ambient::last_look;
    use crate::specimen::reading;
    use crate::trace::specimen;

    fn look(purpose: &str, keyed: bool, span: f64) -> Acquisition {
        Acquisition {
            purpose: purpose.to_owned(),
            at: Timestamp::UNIX_EPOCH,
            keyed,
            settings: specimen(401, span, 1e3),
            sweeps: Vec::new(),
            marker: None,
            flags: SweepFlags::default(),
        }
    }

    fn harmonic(acquisitions: Vec<Acquisition>) -> Reading {
        let frequency = Hertz::from_mhz(292.0);
        Reading { order: Some(2), frequency, acquisitions, ..reading(2, Quantity::Harmonic) }
    }

    /// The first harmonic of a key-down without a reading of the carrier holds the looks at the carrier as well.
    #[test]
    fn the_first_reading_of_a_key_down_is_taken_apart() {
        let reading = harmonic(vec![
            look(AT_THE_BEGINNING, true, 0.0),
            look(BEFORE, false, 100e3),
            look(UNIT_OFF, false, 100e3),
            look("harmonic", true, 100e3),
            look("harmonic", true, 50e3),
            look(AT_THE_END, true, 0.0),
            look(AFTERWARDS, false, 50e3),
            look(INTO_THE_LOAD, true, 50e3),
        ]);
        assert!(begins_key_down(&reading));
        let looks = Looks::of(&reading);
        assert!(
            looks.beginning.is_some() && looks.end.is_some() && looks.off.is_some() && looks.load.is_some()
        );
        assert_eq!((looks.before.len(), looks.keyed.len(), looks.after.len()), (1, 2, 1));
        assert!(looks.others.is_empty());
        assert_eq!(looks.keyed_for("harmonic").unwrap().settings.span, Hertz::new(50e3));
    }

    /// What is looked at once more is the line, not the carrier that was looked at last.
    #[test]
    fn the_last_look_at_a_line_is_none_at_the_carrier() {
        let reading = harmonic(vec![look("harmonic", true, 50e3), look(AT_THE_END, true, 0.0)]);
        assert_eq!(last_look(&reading).unwrap().settings.span, Hertz::new(50e3));
    }
}
