//! A reading for tests: of this quantity, and with nothing in it.

use jiff::Timestamp;
use spurline_record::{Derivation, Outcome, Proof, Quantity, Reading, Scope};
use spurline_units::Hertz;

/// The reading of a number in its run, of a carrier at 146 MHz that complies.
pub(crate) fn reading(ordinal: u32, quantity: Quantity) -> Reading {
    let scope = Scope {
        channel: "one".to_owned(),
        carrier: Hertz::from_mhz(146.0),
        power_setting: "high".to_owned(),
        supply: None,
        path: "direct".to_owned(),
    };
    Reading {
        ordinal,
        name: None,
        series: None,
        quantity,
        order: None,
        frequency: scope.carrier,
        scope,
        at: Timestamp::UNIX_EPOCH,
        figure: None,
        limit: None,
        derivation: Derivation::default(),
        margin: None,
        conformance_probability: None,
        budget: None,
        correction: None,
        proof: Proof::default(),
        outcome: Outcome::Complies,
        reason: None,
        acquisitions: Vec::new(),
        meter: Vec::new(),
        remarks: Vec::new(),
    }
}
