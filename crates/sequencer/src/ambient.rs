//! What is there without the unit's carrier: whose it is, and whether it is still there afterwards.

use spurline_path::PathError;
use spurline_plan::{Job, LineTask, Look, SupplySetting};
use spurline_record::{Acquisition, Floor, Outcome, Quantity, Reading, Reason, ReasonCode};
use spurline_units::Dbm;

use crate::conversion;
use crate::fault::RunFault;
use crate::key_down::Planned;
use crate::line::{Unkeyed, with_noise};
use crate::scope::{Case, Measuring};
use crate::trace;

/// With the unit off a line of its own receiver falls by more than this.
pub(crate) const SAME_DB: f64 = 6.0;

/// Whose a line is that is there while the unit is not keyed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Source {
    /// It was not looked at with the unit off.
    Unknown,
    /// It is there with the unit off: on the air, or the analyser's own.
    Surroundings,
    /// It is gone with the unit off: the unit's receiver makes it.
    Receiver,
}

impl Source {
    /// That of what is there with the unit on, knowing what is with the unit off.
    pub(crate) fn of(on: &Unkeyed, off: &Unkeyed) -> Self {
        if (on.level - off.level).get() > SAME_DB { Self::Receiver } else { Self::Surroundings }
    }

    /// What is told of a line of this source.
    pub(crate) fn reason(self, level: Dbm) -> Reason {
        match self {
            Self::Unknown => {
                let text = format!("{level} is there while the unit is not keyed");
                Reason::new(ReasonCode::Ambient, text)
            }
            Self::Surroundings => {
                let text = format!(
                    "{level} is there even with the unit off: a transmitter nearby, or the analyser's own"
                );
                Reason::new(ReasonCode::Ambient, text)
            }
            Self::Receiver => {
                let text = format!(
                    "{level} is there while the unit receives, and gone with the unit off: its receiver makes it"
                );
                Reason::new(ReasonCode::Receiver, text)
            }
        }
    }
}

impl Measuring<'_, '_> {
    /// Lines that were there unkeyed are looked at with the unit off, where a supply can do that.
    pub(crate) async fn with_the_unit_off(
        &mut self,
        case: &Case<'_>,
        planned: &mut [Planned],
    ) -> Result<(), RunFault> {
        let mut lines = Vec::new();
        for (place, line) in planned.iter().enumerate() {
            let seen = self.unkeyed_at(&line.task, &line.unkeyed)?;
            if seen.is_line {
                lines.push((place, seen));
            }
        }
        let (false, Some(setting)) = (lines.is_empty(), self.supply_of(case)) else { return Ok(()) };
        self.doing("look with the unit off")?;
        let Some(supply) = &mut self.rack.supply else { return Ok(()) };
        supply.off().await?;
        let looked = self.looks_off(&lines, planned).await;
        // Whatever came of the looks: what is measured again after a mended link needs a unit that is on.
        self.rack.feed(&setting).await?;
        looked?;
        // Switched off and on, the unit may have forgotten what it was told.
        self.rack.unit.tune(case.channel.carrier, &case.power.name).await?;
        Ok(())
    }

    async fn looks_off(
        &mut self,
        lines: &[(usize, Unkeyed)],
        planned: &mut [Planned],
    ) -> Result<(), RunFault> {
        for (place, on) in lines {
            let line = &mut planned[*place];
            let off = self.look(UNIT_OFF, &line.look).await?;
            line.source = Source::of(on, &self.unkeyed_at(&line.task, &off)?);
            line.off = Some(off);
        }
        Ok(())
    }

    /// What a look before the key shows at a line's place.
    fn unkeyed_at(&self, task: &LineTask, look: &Acquisition) -> Result<Unkeyed, PathError> {
        Unkeyed::at(self.job, task.frequency, task.order, task.occupied, look)
    }

    pub(crate) fn supply_of(&self, case: &Case<'_>) -> Option<SupplySetting> {
        let name = case.supply.as_ref()?;
        self.job.plan.supplies.iter().find(|supply| supply.name == *name).cloned()
    }

    /// Readings that a line on the air could have made, which came after the unkeyed looks: each is looked at once
    /// more now that the key is up. What is still there is none of the unit's transmitter.
    pub(crate) async fn after_key_up(&mut self, first: usize) -> Result<(), RunFault> {
        for place in first..self.done.held.len() {
            let reading = &self.done.held[place];
            let Some((look, _)) = last_look(reading).zip(due_afterwards(reading)) else { continue };
            let title = reading.title().to_lowercase();
            self.doing(&format!("{title} once more, not keyed"))?;
            let after = self.look(AFTERWARDS, &look).await?;
            judge_afterwards(self.job, &mut self.done.held[place], after)?;
        }
        Ok(())
    }
}

/// Why a reading's line is looked at once more when the key is up.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Afterwards {
    /// It may be somebody else's, and came after the looks before the key.
    Open,
    /// It complies, but was not looked at with these settings before.
    Unlike,
}

/// Why a reading is to be looked at once more, if it is.
pub(crate) fn due_afterwards(reading: &Reading) -> Option<Afterwards> {
    let last = last_keyed(reading)?;
    order_of(reading).zip(reading.level())?;
    let open = matches!(reading.outcome, Outcome::Exceeds | Outcome::Undecided);
    // Without a line there is nothing that could have come from anywhere.
    if open && shows_line(reading) {
        return Some(Afterwards::Open);
    }
    // What was not looked at with these settings before is compared with what is there now.
    let before = reading.acquisitions.iter().find(|look| !look.keyed);
    let unlike =
        reading.outcome == Outcome::Complies && before.is_none_or(|before| before.settings != last.settings);
    unlike.then_some(Afterwards::Unlike)
}

/// Judges a reading by a look after key up, and keeps that look with it.
pub(crate) fn judge_afterwards(
    job: &Job,
    reading: &mut Reading,
    after: Acquisition,
) -> Result<(), PathError> {
    let due = due_afterwards(reading);
    if let Some((due, (order, level))) = due.zip(order_of(reading).zip(reading.level())) {
        let seen = Unkeyed::like(job, reading, order, &after)?;
        let rule = conversion::rule(&job.plan);
        if due == Afterwards::Unlike {
            let reference = job.reference_bandwidth(reading.scope.carrier, reading.frequency);
            let noise = floor_of(reading)
                .and_then(|(floor, keyed)| seen.added_noise(job, floor, keyed, reference))
                .and_then(|noise| with_noise(reading, noise, rule));
            if let Some(reason) = noise {
                (reading.outcome, reading.reason) = (Outcome::Undecided, Some(reason));
            }
        } else if seen.may_be_part(level) {
            let text = format!("{} is still there after key up: it came from somewhere else", seen.level);
            reading.outcome = Outcome::Invalid;
            reading.reason = Some(Reason::new(ReasonCode::Ambient, text));
            reading.proof.unkeyed = Some(seen.level);
        } else if let Some(reason) = seen.takes_back(reading, rule) {
            (reading.outcome, reading.reason) = (Outcome::Undecided, Some(reason));
            reading.proof.unkeyed = Some(seen.level);
        }
    }
    reading.acquisitions.push(after);
    Ok(())
}

/// The order by which a reading's line is looked for: that of a harmonic, or 1 for another line.
pub(crate) fn order_of(reading: &Reading) -> Option<u32> {
    reading.order.or((reading.quantity == Quantity::Spurious).then_some(1))
}

/// Whether a reading stands out of the noise like something that came from somewhere.
pub(crate) fn shows_line(reading: &Reading) -> bool {
    reading.proof.floor.is_some_and(|floor| trace::is_clear(&floor))
}

/// The floor of a reading, and the look that it was taken from.
fn floor_of(reading: &Reading) -> Option<(&Floor, &Acquisition)> {
    Some((reading.proof.floor.as_ref()?, last_keyed(reading)?))
}

/// What a look at a line is for while the unit is not keyed: before the key, with the unit off, and after key up.
pub(crate) const BEFORE: &str = "unkeyed";
/// See [`BEFORE`].
pub(crate) const UNIT_OFF: &str = "unit off";
/// See [`BEFORE`].
pub(crate) const AFTERWARDS: &str = "unkeyed afterwards";

/// The looks at the carrier that frame a key-down, which its first reading holds.
pub(crate) const AT_THE_BEGINNING: &str = "zero span";
/// See [`AT_THE_BEGINNING`].
pub(crate) const AT_THE_END: &str = "carrier at the end";

/// The last keyed look of a reading at what it is about.
fn last_keyed(reading: &Reading) -> Option<&Acquisition> {
    let frames = |look: &Acquisition| [AT_THE_BEGINNING, AT_THE_END].contains(&look.purpose.as_str());
    reading.acquisitions.iter().rev().find(|look| look.keyed && !frames(look))
}

/// The same, to be taken once more.
pub(crate) fn last_look(reading: &Reading) -> Option<Look> {
    let last = last_keyed(reading)?;
    Some(Look { settings: last.settings, sweeps: last.sweeps.len() as u32 })
}

/// Looks that were taken without the key, in the order of the record.
pub(crate) fn looks(unkeyed: Acquisition, off: Option<Acquisition>) -> Vec<Acquisition> {
    std::iter::once(unkeyed).chain(off).collect()
}
