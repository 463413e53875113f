//! What a carrier that was measured would harm, whatever the plan expected of it.

use spurline_path::PathError;
use spurline_record::Role;
use spurline_units::{Db, Dbm, Hertz, Watts};
use thiserror::Error;

use crate::job::Job;
use crate::model::PowerSetting;
use crate::way::{Branch, Way};

/// One row of parts and the input at its end.
pub(crate) struct End<'a> {
    pub(crate) branch: &'a Branch,
    pub(crate) role: Role,
    /// What the instrument is called.
    pub(crate) name: &'static str,
    /// What destroys its input.
    pub(crate) damage: Dbm,
}

/// The margin that is kept to what destroys an input at the highest power that the plan lets the unit give.
pub(crate) const DAMAGE_MARGIN: f64 = 10.0;

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
    /// Everything that a carrier reaches by these ways, and the power meter.
    pub(crate) fn ends<'a>(
        &'a self,
        ways: impl IntoIterator<Item = &'a Way>,
    ) -> impl Iterator<Item = End<'a>> {
        let damage = self.bench.input.damage;
        let to_analyser = ways.into_iter().map(move |way| End {
            branch: &way.branch,
            role: Role::Analyser,
            name: "analyser",
            damage,
        });
        let meter = self.bench.meter.as_ref().zip(self.bench.meter_profile()).map(|(branch, profile)| End {
            branch,
            role: Role::PowerMeter,
            name: "power meter",
            damage: profile.damage,
        });
        to_analyser.chain(meter)
    }

    /// What a carrier of this power overloads on this way and on that of the power meter.
    ///
    /// # Errors
    ///
    /// If the path does not cover the carrier.
    pub fn overload(&self, way: &Way, carrier: Hertz, power: Watts) -> Result<Option<Overload>, PathError> {
        self.overload_within(way, carrier, power, Db::new(DANGER_DB))
    }

    /// The same of the highest power that the plan lets a setting give: more room is left before it has been seen.
    ///
    /// # Errors
    ///
    /// If the path does not cover the carrier.
    pub fn planned_overload(
        &self,
        way: &Way,
        carrier: Hertz,
        power: &PowerSetting,
    ) -> Result<Option<Overload>, PathError> {
        self.overload_within(way, carrier, self.most_of(power), Db::new(DAMAGE_MARGIN))
    }

    /// The most that the unit may give at a power setting: by its window, or by what it is rated for.
    #[must_use]
    pub fn most_of(&self, power: &PowerSetting) -> Watts {
        let most = power.window.high().watts();
        self.plan.unit.rated_power.map_or(most, |rated| rated.max(most))
    }

    fn overload_within(
        &self,
        way: &Way,
        carrier: Hertz,
        power: Watts,
        margin: Db,
    ) -> Result<Option<Overload>, PathError> {
        for End { branch, name, damage, .. } in self.ends([way]) {
            let powers = branch.path.power_into_each(power, carrier)?;
            if let Some(part) = powers.into_iter().find(|part| part.is_overrated()) {
                let rated = part.rated.unwrap_or(part.incident);
                return Ok(Some(Overload::Part { part: part.name, incident: part.incident, rated }));
            }
            let level = power.to_dbm() - branch.path.loss_at(carrier)?.total;
            if level > damage - margin {
                return Ok(Some(Overload::Input { instrument: name, level, damage }));
            }
        }
        Ok(None)
    }
}
