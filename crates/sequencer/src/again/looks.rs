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
