//! Emission in standby: with the key up the range is swept, and what stands near the limit or above it is looked at by
//! itself, then once more with the unit off: only what goes with the unit is the unit's.

mod verdict;

use std::time::Duration;

use spurline_plan::{Channel, Extent, Look, PowerSetting, StandbyApproach, Way, found_within};
use spurline_record::{Acquisition, EventKind, Part};
use spurline_units::{Db, Hertz};

use crate::fault::RunFault;
use crate::mending::mended;
use crate::scope::{Case, Measuring};
use crate::search::peaks;
use crate::stage::Place;
use crate::trace;

/// What the channel of these readings is called.
const NAME: &str = "standby";
const SETTING: &str = "receiving";
/// What stands so far above the noise, as a peak detector shows it, is looked at by itself (common practice).
const EXCURSION: Db = Db::new(6.0);
/// So are lines that come this near to the limit.
const NEAR: Db = Db::new(10.0);
/// A receiver that is switched on is there after this (common practice: well within a second).
const COMES_UP: Duration = Duration::from_secs(1);
/// Of more lines than this the strongest are looked at.
const MOST_LINES: usize = 24;

/// One line that a sweep showed.
struct Line {
    /// As the sweep showed it.
    seen: Place,
    look: Look,
    /// How far it may lie from where it was shown.
    within: Hertz,
    on: Acquisition,
    /// With the unit off, where a supply can do that.
    off: Option<Acquisition>,
    /// With the unit on again, where it was off.
    again: Option<Acquisition>,
}

/// Everything that was looked at.
#[derive(Default)]
struct Looks {
    wide: Vec<Acquisition>,
    lines: Vec<Line>,
    /// Lines near the limit that were too many to be looked at.
    left: usize,
}

impl Measuring<'_, '_> {
    /// What the unit emits while it is not keyed, if the plan wants that.
    pub(crate) async fn standby(&mut self) -> Result<(), RunFault> {
        let job = self.job;
        let Some(approach) = job.standby_approach()?.filter(|_| !self.done.parts.contains(&Part::Standby))
        else {
            return Ok(());
        };
        let home = self.home();
        let power = PowerSetting { name: SETTING.to_owned(), window: home.power.window };
        let channel = Channel {
            name: NAME.to_owned(),
            carrier: home.channel.carrier,
            carrier_span: home.channel.carrier_span,
            powers: vec![power.clone()],
            supplies: Vec::new(),
        };
        let case = Case { channel: &channel, power: &power, supply: home.supply, extent: Extent::Everything };
        let way = job.standby_way();
        self.emit(EventKind::ScopeStarted { scope: case.scope(way), readings: 1 })?;
        mended!(self, self.try_standby(&case, way, &approach));
        self.keep(Some(Part::Standby))
    }

    async fn try_standby(
        &mut self,
        case: &Case<'_>,
        way: &Way,
        approach: &StandbyApproach,
    ) -> Result<(), RunFault> {
        // Nothing of this is worth anything if the unit is keyed.
        self.key_up().await?;
        self.key.confirm_up().await?;
        // With the attenuator of the analyser out nothing guards it from a carrier.
        if let Some((level, _)) = self.go_home(case.channel.name.clone(), way).await? {
            return Err(self.stays(level));
        }
        let mut looks = Looks::default();
        self.doing("look through the range with the key up")?;
        for look in &approach.looks {
            looks.wide.push(self.look("standby", look).await?);
        }
        self.look_at_lines(way, &mut looks).await?;
        self.look_with_it_off(&mut looks).await?;
        for reading in verdict::judge(self.job, way, looks, self.blank_of(case, way, verdict::QUANTITY))? {
            self.finish(reading)?;
        }
        Ok(())
    }

    /// Every line near the limit or above it by itself.
    async fn look_at_lines(&mut self, way: &Way, looks: &mut Looks) -> Result<(), RunFault> {
        let mut found: Vec<(Place, Hertz, Db)> = Vec::new();
        for wide in &looks.wide {
            let levels = wide.sweeps.first().map_or(&[][..], |sweep| &sweep.levels);
            for point in peaks::of(wide, EXCURSION, 1) {
                let place = Place::of(way, wide, point, f64::from(levels[point]))?;
                // Where the rule has no number nothing is above it.
                let Some(limit) = verdict::limit(self.job, place.frequency) else { continue };
                if limit - place.level < NEAR {
                    found.push((place, wide.settings.rbw, limit - place.level));
                }
            }
        }
        found.sort_by(|one, other| one.2.get().total_cmp(&other.2.get()));
        looks.left = found.len().saturating_sub(MOST_LINES);
        for (seen, rbw, _) in found.into_iter().take(MOST_LINES) {
            self.doing(&format!("a line at {}", seen.about()))?;
            let look = self.job.standby_zoom(seen.frequency, rbw, seen.raw)?;
            let on = self.look("standby, by itself", &look).await?;
            looks.lines.push(Line { seen, look, within: found_within(rbw), on, off: None, again: None });
        }
        Ok(())
    }

    /// The same with the unit off, where a supply can do that; afterwards it is on again.
    async fn look_with_it_off(&mut self, looks: &mut Looks) -> Result<(), RunFault> {
        if looks.lines.is_empty() || self.job.plan.supplies.is_empty() {
            return Ok(());
        }
        let Some(supply) = &mut self.rack.supply else { return Ok(()) };
        self.tap.step("the unit off");
        supply.off().await?;
        let looked = self.each_off(&mut looks.lines).await;
        self.feed_home().await?;
        looked?;
        // Switched off and on, the unit may have forgotten what it was told.
        let home = self.home();
        self.rack.unit.tune(home.channel.carrier, &home.power.name).await?;
        self.clock.sleep(COMES_UP).await;
        self.doing("look with the unit on again")?;
        for line in &mut looks.lines {
            // What ended meanwhile went without the unit.
            line.again = Some(self.look("standby, on again", &line.look).await?);
        }
        Ok(())
    }

    async fn each_off(&mut self, lines: &mut [Line]) -> Result<(), RunFault> {
        self.doing("look with the unit off")?;
        for line in lines {
            line.off = Some(self.look("standby, unit off", &line.look).await?);
        }
        Ok(())
    }
}

impl Line {
    /// What a look at it shows there.
    fn shown(&self, way: &Way, look: &Acquisition) -> Result<Option<Shown>, RunFault> {
        let loss = way.branch.path.loss_at(self.seen.frequency)?.total;
        let Some((peak, floor)) = trace::line_near(look, self.seen.frequency, self.within, loss) else {
            return Ok(None);
        };
        let place = Place::of(way, look, peak.point, peak.level.get())?;
        Ok(Some(Shown { place, floor }))
    }
}

/// A line in a look.
struct Shown {
    place: Place,
    floor: Option<spurline_record::Floor>,
}

impl Shown {
    fn is_clear(&self) -> bool {
        self.floor.as_ref().is_some_and(trace::is_clear)
    }
}
