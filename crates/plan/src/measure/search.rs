//! A search for spurious emissions: how far, how thoroughly, and what is known of the unit.

use spurline_units::{Db, Hertz};

/// A search for spurious emissions, as a plan says it.
#[derive(Clone, Debug, PartialEq)]
pub struct Search {
    /// Where it begins, if not at the lowest frequency that the unit generates.
    pub from: Option<Hertz>,
    /// Where it ends, if not at the tenth harmonic of each carrier, or at 40 GHz if that is lower.
    pub to: Option<Hertz>,
    /// The lowest frequency that the unit generates or uses.
    pub lowest_generated: Hertz,
    /// Of so many sweeps the highest is held at each point.
    pub holds: u32,
    /// What stands so far above the noise of a sweep is looked at.
    pub excursion: Db,
    /// Nothing is said about as much to either side of the carrier; more where the bandwidth asks for it.
    pub exclude: Option<Hertz>,
    /// Frequencies that the unit is known to generate: references, clocks, intermediate frequencies.
    pub references: Vec<Hertz>,
}

/// The lowest frequency that 47 CFR 2.1057(a) asks for.
const LOWEST: Hertz = Hertz::new(9e3);
/// The highest that it asks for below a carrier of 10 GHz, and the order of the harmonic that is enough.
const HIGHEST: Hertz = Hertz::new(40e9);
const ORDER: u32 = 10;

impl Search {
    /// So many sweeps show most of what comes and goes, and this stands out of the noise (common practice).
    pub(crate) const HOLDS: u32 = 3;
    pub(crate) const EXCURSION: Db = Db::new(6.0);
    pub(crate) const LOWEST_GENERATED: Hertz = LOWEST;

    /// The range that is searched for a carrier.
    #[must_use]
    pub fn range(&self, carrier: Hertz) -> (Hertz, Hertz) {
        let from = self.from.unwrap_or_else(|| self.lowest_generated.max(LOWEST));
        let to = self.to.unwrap_or_else(|| carrier.harmonic(ORDER).min(HIGHEST));
        (from, to)
    }
}
