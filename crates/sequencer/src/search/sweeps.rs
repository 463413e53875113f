//! The sweeps themselves: each with the key up and with the key down in the same settings, the highest of several held.

use spurline_plan::{self as plan, Look};
use spurline_record::{Acquisition, Reason, Sweep};
use spurline_units::Seconds;

use super::{Searching, Swept};
use crate::fault::RunFault;
use crate::line::fault;
use crate::scope::{Case, Measuring};
use crate::search::peaks;

/// Sweeps that are taken one after the other, each with what it showed while the unit was not keyed.
pub(crate) struct Piece {
    segment: usize,
    what: String,
    time: Seconds,
    looks: Vec<(Look, Acquisition)>,
}

/// What its sweeps are for: with the key up, with the key down, with the unit off.
pub(super) const UNKEYED: &str = "search, not keyed";
pub(super) const KEYED: &str = "search";
pub(super) const OFF: &str = "search, unit off";

impl Piece {
    pub(crate) fn time(&self) -> Seconds {
        self.time
    }
}

impl Measuring<'_, '_> {
    /// The pieces of the search of a scope, with all their sweeps taken while the unit is not keyed.
    pub(crate) async fn pieces(&mut self, case: &Case<'_>) -> Result<Vec<Piece>, RunFault> {
        self.done.search = Searching::default();
        let Some(layout) = self.job.search(case.channel, case.power)? else { return Ok(Vec::new()) };
        let mut pieces = Vec::new();
        for plan::Piece { segment, what, looks } in layout.pieces(self.job.plan.key.longest) {
            self.doing(&format!("{what}, not keyed"))?;
            let mut looked = Vec::new();
            let time = looks.iter().fold(Seconds::default(), |sum, look| sum + look.time_on_the_wire());
            for look in looks {
                let unkeyed = self.look(UNKEYED, &look).await?;
                looked.push((look, held(unkeyed).0));
            }
            pieces.push(Piece { segment, what, time, looks: looked });
        }
        Ok(pieces)
    }

    /// Takes the sweeps of a piece.
    pub(crate) async fn sweep(&mut self, piece: Piece) -> Result<(), RunFault> {
        self.doing(&piece.what)?;
        for (look, unkeyed) in piece.looks {
            let (keyed, fault) = held(self.keyed_look(KEYED, &look).await?);
            let segment = piece.segment;
            self.done.search.swept.push(Swept { segment, keyed, unkeyed, off: None, fault });
        }
        Ok(())
    }

    /// Takes the sweeps that showed something while the unit was not keyed once more with the unit off, where a supply
    /// can do that.
    pub(super) async fn look_with_the_unit_off(&mut self, case: &Case<'_>) -> Result<(), RunFault> {
        let Some(excursion) = self.job.plan.measure.search.as_ref().map(|search| search.excursion) else {
            return Ok(());
        };
        let shows = |swept: &Swept| !peaks::of(&swept.unkeyed, excursion, self.holds()).is_empty();
        let places: Vec<usize> = self
            .done
            .search
            .swept
            .iter()
            .enumerate()
            .filter(|(_, swept)| shows(swept))
            .map(|(place, _)| place)
            .collect();
        let (false, Some(setting)) = (places.is_empty(), self.supply_of(case)) else { return Ok(()) };
        self.doing("search with the unit off")?;
        let Some(supply) = &mut self.rack.supply else { return Ok(()) };
        supply.off().await?;
        let mut looked = Ok(());
        for place in places {
            let look =
                Look { settings: self.done.search.swept[place].unkeyed.settings, sweeps: self.holds() };
            match self.look(OFF, &look).await {
                Ok(off) => self.done.search.swept[place].off = Some(held(off).0),
                Err(fault) => {
                    looked = Err(fault);
                    break;
                }
            }
        }
        // Whatever came of the looks: what comes next needs a unit that is on.
        self.rack.feed(&setting).await?;
        looked?;
        self.rack.unit.tune(case.channel.carrier, &case.power.name).await?;
        Ok(())
    }

    /// Of so many sweeps the highest is held.
    pub(super) fn holds(&self) -> u32 {
        self.job.plan.measure.search.as_ref().map_or(1, |search| search.holds)
    }
}

/// The highest of all sweeps at each point, as one sweep, and what makes the look worthless, if anything.
fn held(look: Acquisition) -> (Acquisition, Option<Reason>) {
    let fault = fault(&look);
    let points = look.sweeps.first().map_or(0, |sweep| sweep.levels.len());
    let highest = |point: usize| look.sweeps.iter().map(|sweep| sweep.levels[point]).fold(f32::MIN, f32::max);
    let levels = (0..points).map(highest).collect();
    // The marker is that of the last sweep alone.
    (Acquisition { sweeps: vec![Sweep { levels }], marker: None, ..look }, fault)
}
