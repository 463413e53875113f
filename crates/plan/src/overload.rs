//! What a carrier that was measured would harm, whatever the plan expected of it.

use spurline_path::PathError;
use spurline_units::{Db, Dbm, Hertz, Watts};
use thiserror::Error;

use crate::job::Job;
use crate::way::Way;

/// Closer than this to what destroys an input nothing stays keyed.
const DANGER_DB: f64 = 3.0;

/// A part or an input that gets more than it bears.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum Overload {
    /// A part of the path.
    #[error("{incident:.2} goes into `{part}`, which is rated for {rated}")]
    Part {
        /// The part.
        part: String,
        /// What arrives there.
        incident: Watts,
        /// What it is rated for.
        rated: Watts,
    },
    /// The input of an instrument.
    #[error("{level:.1} is at the {instrument}'s input, which {damage:.1} destroys")]
    Input {
        /// Which.
        instrument: &'static str,
        /// What arrives there.
        level: Dbm,
        /// What destroys it.
        damage: Dbm,
    },
}

impl Job {
    /// What a carrier of this power overloads on this way and on that of the power meter.
    ///
    /// # Errors
    ///
    /// If the path does not cover the carrier.
    pub fn overload(&self, way: &Way, carrier: Hertz, power: Watts) -> Result<Option<Overload>, PathError> {
        let meter = self.bench.meter.as_ref().zip(self.bench.meter_profile());
        let meter = meter.map(|(branch, profile)| (branch, "power meter", profile.damage));
        let ends = [Some((&way.branch, "analyser", self.bench.input.damage)), meter];
        for (branch, instrument, damage) in ends.into_iter().flatten() {
            let powers = branch.path.power_into_each(power, carrier)?;
            if let Some(part) = powers.into_iter().find(|part| part.is_overrated()) {
                let rated = part.rated.unwrap_or(part.incident);
                return Ok(Some(Overload::Part { part: part.name, incident: part.incident, rated }));
            }
            let level = power.to_dbm() - branch.path.loss_at(carrier)?.total;
            if level > damage - Db::new(DANGER_DB) {
                return Ok(Some(Overload::Input { instrument, level, damage }));
            }
        }
        Ok(None)
    }
}
