//! How long things take.

use std::time::Duration;

use spurline_units::Seconds;

use crate::settings::{Look, SETTLE};

/// Round trips and the meter's readings, beside settling and sweeps.
const CARRIER_EXTRA: Duration = Duration::from_millis(500);

/// How long the key is down for the looks at the carrier alone.
pub(crate) fn of_carrier(looks: &[Look]) -> Seconds {
    looks.iter().fold(Seconds::from(SETTLE + CARRIER_EXTRA), |sum, look| sum + look.time())
}
