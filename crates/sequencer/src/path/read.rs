//! One connection: the generator's line at every frequency, as the instrument shows it.

use spurline_judge::correct;
use spurline_plan::{Look, SubstitutionPoint, reach};
use spurline_record::{Acquisition, Role};
use spurline_units::{Db, Dbm, Watts};

use super::evaluate::Readings;
use super::{GENERATOR_SETTLE, PathProgress, Work};
use crate::fault::RunFault;
use crate::line::fault;
use crate::trace::{self, FLOOR_GUARD};

const METER_READINGS: u32 = 3;

impl Work<'_> {
    /// Reads every point; what cannot be read is left out from then on. Breaks off at what says that the wrong thing is
    /// connected.
    pub(super) async fn row(&mut self, through: bool, readings: &mut Readings) -> Result<(), RunFault> {
        let planned = self.planned;
        for (place, point) in planned.points.iter().enumerate() {
            if readings.is_left_out(place) {
                continue;
            }
            self.rack.generator.give(point.frequency, point.set).await?;
            self.clock.sleep(GENERATOR_SETTLE).await;
            let level = match &point.look {
                Some(look) => self.by_analyser(point, look, through).await?,
                None => self.by_meter(point).await?,
            };
            if let Ok(level) = level {
                (self.tell)(PathProgress::Read { frequency: point.frequency, level });
            }
            readings.take(place, point, through, level);
            if readings.wrong.is_some() {
                break;
            }
        }
        Ok(())
    }

    /// What the power meter shows, or why that is nothing.
    async fn by_meter(&mut self, point: &SubstitutionPoint) -> Result<Result<Dbm, String>, RunFault> {
        let Some(meter) = &mut self.rack.meter else { return Ok(Err("there is no power meter".to_owned())) };
        let mut sum = Watts::new(0.0);
        for _ in 0..METER_READINGS {
            match meter.read(point.frequency).await? {
                Some(reading) => sum = sum + reading.level.to_watts(),
                None => return Ok(Err(format!("the {} shows no power", Role::PowerMeter))),
            }
        }
        Ok(Ok((sum / f64::from(METER_READINGS)).to_dbm()))
    }

    async fn by_analyser(
        &mut self,
        point: &SubstitutionPoint,
        look: &Look,
        through: bool,
    ) -> Result<Result<Dbm, String>, RunFault> {
        let purpose = if through { "through the path" } else { "straight" };
        let acquired = self.rack.analyser.acquire(purpose, false, &look.settings, look.sweeps).await?;
        Ok(line(point, &acquired))
    }
}

/// The level of the line without the noise on it.
fn line(point: &SubstitutionPoint, acquired: &Acquisition) -> Result<Dbm, String> {
    if let Some(reason) = fault(acquired) {
        return Err(reason.text);
    }
    let settings = &acquired.settings;
    let levels = trace::smoothed(&trace::mean_power(&acquired.sweeps), reach(settings));
    let hidden = || "the line does not stand clear of the noise".to_owned();
    let peak = trace::peak(&levels, settings, point.frequency, settings.rbw).ok_or_else(hidden)?;
    let floor = trace::floor(&levels, settings, &peak, settings.rbw * FLOOR_GUARD, Db::default());
    let floor = floor.filter(trace::is_clear).ok_or_else(hidden)?;
    let corrected = correct(peak.level, peak.level - floor.distance).ok_or_else(hidden)?;
    Ok(corrected.level)
}
