//! Silence: the unit is told to transmit where it must not, keyed into its load, and every band that it could come out
//! in is looked through, keyed and unkeyed.

mod points;
mod verdict;

use spurline_plan::{
    Channel, Extent, Look, PowerSetting, SilenceApproach, Way, carrier_look, packed, width_look,
};
use spurline_record::{
    Acquisition, AnalyserSettings, EventKind, Part, Quantity, Reading, Reason, ReasonCode,
};
use spurline_units::{Db, Dbm, Hertz, Seconds};

use crate::carrier::ABSENT_DB;
use crate::fault::RunFault;
use crate::interlock::{Aim, Air};
use crate::keyed::beating;
use crate::mending::mended;
use crate::scope::{Case, Measuring};
use crate::stage::{self, Place};
use crate::trace;
use points::{Seen, taken_as};

/// What was seen on all key-downs at one frequency.
#[derive(Default)]
struct Looks {
    /// Where the unit was told to transmit.
    commanded: Hertz,
    /// Before the key, then with it, band by band.
    coarse: Vec<(Acquisition, Vec<Acquisition>)>,
    deep: Vec<(Acquisition, Option<Acquisition>)>,
    /// Looks at what came with the key below what is let pass.
    near: Vec<Acquisition>,
    /// Deep looks in which something came, on another key-down.
    again: Vec<Acquisition>,
    /// A carrier above what is let pass, looked at by itself.
    loud: Option<Loud>,
    metered: Metered,
    /// Bands once more after key up.
    after: Vec<Acquisition>,
}

/// What a power meter showed, at the connector; nothing without one.
#[derive(Clone, Copy, Default)]
struct Metered {
    before: Option<Dbm>,
    keyed: Option<Dbm>,
    after: Option<Dbm>,
}

impl Metered {
    /// What came with the key and went with it.
    fn of_the_key(&self) -> Option<Dbm> {
        self.keyed.filter(|_| self.before.is_none() && self.after.is_none())
    }
}

/// A carrier that came.
struct Loud {
    look: Acquisition,
    place: Place,
}

impl Measuring<'_, '_> {
    /// Every frequency at which the plan wants the unit silent.
    pub(crate) async fn silence(&mut self) -> Result<(), RunFault> {
        let job = self.job;
        let (Some(silence), Some(power)) = (&job.plan.silence, job.silence_power()) else { return Ok(()) };
        for (frequency, span) in &silence.frequencies {
            let part = Part::Silence { frequency: *frequency };
            if self.done.parts.contains(&part) {
                continue;
            }
            let channel = Channel {
                name: "silence".to_owned(),
                carrier: *frequency,
                carrier_span: *span,
                powers: vec![power.clone()],
                supplies: Vec::new(),
            };
            let supply = self.home().supply;
            let case = Case { channel: &channel, power: &power, supply, extent: Extent::Everything };
            let scope = case.scope(job.carrier_way());
            self.emit(EventKind::ScopeStarted { scope, readings: 1 })?;
            let looked = self.silent_or_not(&case).await;
            // Whatever came of it, the unit is not left where it must not transmit.
            let home = self.home();
            let back = self.rack.unit.tune(home.channel.carrier, &home.power.name).await;
            looked?;
            back?;
            self.keep(Some(part))?;
        }
        Ok(())
    }

    async fn silent_or_not(&mut self, case: &Case<'_>) -> Result<(), RunFault> {
        mended!(self, self.silent_at(case));
        Ok(())
    }

    async fn silent_at(&mut self, case: &Case<'_>) -> Result<(), RunFault> {
        let job = self.job;
        let way = job.carrier_way();
        let frequency = case.channel.carrier;
        let approach = job.silence_approach(frequency)?;
        // A unit that does not go where it is sent stays where it was: that place is known and allowed.
        if let Some((level, look)) = self.go_home(format!("silence at {frequency}"), way).await? {
            let home = self.home().channel.carrier;
            let text = format!("{level} is at {home} before the unit is keyed: it was not keyed");
            let mut reading = self.silence_blank(case, way);
            reading.reason = Some(Reason::new(ReasonCode::CarrierBeforeKey, text));
            reading.acquisitions = vec![look];
            return self.finish(reading);
        }
        let refused = self.command(case.channel, case.power).await?;
        let mut looks = Looks { commanded: frequency, ..Looks::default() };
        self.doing("look through the bands while the unit is not keyed")?;
        for look in &approach.coarse {
            looks.coarse.push((self.look("silence, unkeyed", look).await?, Vec::new()));
        }
        if let Some(place) = self.came_by_itself(way, &looks)? {
            let text = format!(
                "{} is at {} although nothing was keyed: it was not keyed",
                place.level,
                place.about()
            );
            let mut reading = self.silence_blank(case, way);
            reading.reason = Some(Reason::new(ReasonCode::CarrierBeforeKey, text));
            reading.acquisitions = looks.coarse.into_iter().map(|(before, _)| before).collect();
            return self.finish(reading);
        }
        for look in &approach.deep {
            looks.deep.push((self.look("silence, unkeyed", look).await?, None));
        }
        self.bears(way, frequency, Some(case.power.window.high().dbm()))?;
        looks.metered.before = self.meter_sees(&self.home()).await?;
        self.silent_key_downs(case, way, &approach, &mut looks).await?;
        self.look_after(&mut looks).await?;
        self.once_more(case, way, &approach, &mut looks).await?;
        let reading = self.silence_blank(case, way);
        let reading = verdict::judge(job, way, &approach, looks, refused, reading)?;
        self.finish(reading)
    }

    /// Something as strong as a carrier, in the bands before the key goes down.
    fn came_by_itself(&self, way: &Way, looks: &Looks) -> Result<Option<Place>, RunFault> {
        let mut strongest: Option<Place> = None;
        for (before, _) in &looks.coarse {
            for (point, level) in stage::held(&before.sweeps).into_iter().enumerate() {
                let place = Place::of(way, before, point, level)?;
                if strongest.is_none_or(|known| place.level > known.level) {
                    strongest = Some(place);
                }
            }
        }
        Ok(strongest.filter(|place| place.level > self.least_of_a_carrier()))
    }

    /// What is weaker is no carrier of the unit's.
    fn least_of_a_carrier(&self) -> Dbm {
        self.home().power.window.low().dbm() - Db::new(ABSENT_DB)
    }

    /// A reading of silence that says nothing yet.
    fn silence_blank(&self, case: &Case<'_>, way: &Way) -> Reading {
        Reading { quantity: Quantity::Silence, ..self.blank(case, way, None) }
    }

    /// Tells the unit to transmit there; what it says if it refuses. What fails because of the link is a fault.
    async fn command(&mut self, channel: &Channel, power: &PowerSetting) -> Result<Option<String>, RunFault> {
        self.doing(&format!("tell the unit to transmit at {}", channel.carrier))?;
        match self.rack.unit.tune(channel.carrier, &power.name).await {
            Ok(()) => Ok(None),
            Err(fault) if fault.is_of_the_link() => Err(fault.into()),
            Err(fault) => {
                let fault = RunFault::from(fault);
                let why = fault.causes().into_iter().next_back().unwrap_or_else(|| fault.to_string());
                Ok(Some(why.lines().next().unwrap_or_default().to_owned()))
            }
        }
    }

    /// As many key-downs as the looks need, each as long as the plan says; no more once a carrier came.
    async fn silent_key_downs(
        &mut self,
        case: &Case<'_>,
        way: &Way,
        approach: &SilenceApproach,
        looks: &mut Looks,
    ) -> Result<(), RunFault> {
        let numbered: Vec<(usize, Look)> = approach.deep.iter().copied().enumerate().collect();
        let key_for = self.key_for();
        for some in packed(numbered, approach.fixed, key_for, |(_, look)| look.time_on_the_wire()) {
            let keyed = self.silent_keyed(case, way, approach, &some, looks).await;
            self.up_after(keyed).await?;
            if looks.loud.is_some() || verdict::surely_metered(approach, &looks.metered) {
                break;
            }
        }
        self.confirm_silent(way, approach, looks).await
    }

    /// For how long the plan has the unit keyed at each frequency.
    fn key_for(&self) -> Seconds {
        self.job.plan.silence.as_ref().map(|silence| silence.key_for).unwrap_or_default()
    }

    /// Everything between key down and key up; the caller brings the key up.
    async fn silent_keyed(
        &mut self,
        case: &Case<'_>,
        way: &Way,
        approach: &SilenceApproach,
        deep: &[(usize, Look)],
        looks: &mut Looks,
    ) -> Result<(), RunFault> {
        self.wait_and_key(case, way, Aim::Silence).await?;
        let began = self.clock.now();
        self.settle().await?;
        self.doing("look for a carrier")?;
        if self.loud(way, approach, looks).await? {
            return Ok(());
        }
        for (number, look) in deep {
            let seen = self.keyed_look("silence, keyed", look).await?;
            looks.deep[*number].1 = Some(seen);
        }
        let home = self.home();
        let (key, clock) = (self.key, self.clock);
        let shown = beating(key, clock, self.meter_sees(&home)).await??;
        looks.metered.keyed = looks.metered.keyed.into_iter().chain(shown).reduce(Dbm::max);
        // A carrier may come late: the bands are looked through once more at the end of the time.
        let late = approach.coarse_time();
        let left = self.key_for() - Seconds::from(self.clock.now().since(began)) - late;
        if left.get() > 0.0 {
            beating(self.key, self.clock, self.clock.sleep(left.duration())).await?;
        }
        self.loud(way, approach, looks).await.map(drop)
    }

    /// Looks for a carrier in all bands; whether one is there that must not be.
    async fn loud(
        &mut self,
        way: &Way,
        approach: &SilenceApproach,
        looks: &mut Looks,
    ) -> Result<bool, RunFault> {
        let mut worst: Option<(Place, Db)> = None;
        for (number, look) in approach.coarse.iter().enumerate() {
            let seen = self.keyed_look("silence, keyed", look).await?;
            let (before, keyed) = &mut looks.coarse[number];
            let found = points::carrier(self.job, way, before, &seen, (look, looks.commanded))?;
            keyed.push(seen);
            worst = match (worst, found) {
                (Some(one), Some(other)) if one.1 <= other.1 => Some(one),
                (one, other) => other.or(one),
            };
        }
        let Some((found, _)) = worst else { return Ok(false) };
        // A wide sweep says where to within its points; what is there is looked at by itself.
        self.doing(&format!("a carrier came near {}", found.about()))?;
        let profile = self.job.bench.analyser_profile();
        let within =
            approach.coarse.iter().map(|look| unsure(&look.settings)).fold(Hertz::new(0.0), Hertz::max);
        let near =
            self.keyed_look("carrier that came", &carrier_look(profile, found.frequency, found.raw)).await?;
        let place = peak_of(way, &near, found.frequency, within)?.unwrap_or(found);
        let narrow =
            self.keyed_look("carrier that came", &width_look(profile, place.frequency, place.raw)).await?;
        let centre = peak_of(way, &narrow, place.frequency, unsure(&near.settings))?;
        let place = match centre {
            Some(at) => Place { frequency: at.frequency, unsure: at.unsure, ..place },
            None => place,
        };
        self.bears(way, place.frequency, Some(place.level))?;
        if !verdict::surely_exceeds(self.job, way, looks.commanded, &place)? {
            looks.near.push(near);
            return Ok(false);
        }
        looks.loud = Some(Loud { look: near, place });
        Ok(true)
    }

    /// What came must go with the key.
    async fn confirm_silent(
        &mut self,
        way: &Way,
        approach: &SilenceApproach,
        looks: &mut Looks,
    ) -> Result<(), RunFault> {
        self.doing("see that nothing is left")?;
        if let Some(loud) = &looks.loud {
            let look = Look { settings: loud.look.settings, sweeps: 1 };
            let place = loud.place;
            let after = self.look("after key up", &look).await?;
            let still = peak_of(way, &after, place.frequency, unsure(&look.settings))?.filter(|still| {
                place.level - still.level < points::PART
                    && trace::stands_out(&after, still.frequency, look.settings.rbw)
            });
            looks.after.push(after);
            if let Some(still) = still
                && !looks.was_before(still, way)?
            {
                return Err(self.stays(still.level));
            }
        }
        for (number, look) in approach.coarse.iter().enumerate() {
            let after = self.look("after key up", look).await?;
            let left =
                points::carrier(self.job, way, &looks.coarse[number].0, &after, (look, looks.commanded))?;
            looks.after.push(after);
            // With the key up and confirmed what is weaker is somebody else's: that is for the verdict.
            if let Some((place, _)) = left.filter(|(place, _)| place.level > self.least_of_a_carrier()) {
                return Err(self.stays(place.level));
            }
        }
        looks.metered.after = self.meter_sees(&self.home()).await?;
        match looks.metered.after.filter(|_| looks.metered.before.is_none()) {
            Some(level) => Err(self.stays(level)),
            None => {
                self.done.chain.air = Air::Free;
                Ok(())
            }
        }
    }

    /// What came weakly must come again with the key: a burst on the air does not.
    async fn once_more(
        &mut self,
        case: &Case<'_>,
        way: &Way,
        approach: &SilenceApproach,
        looks: &mut Looks,
    ) -> Result<(), RunFault> {
        if looks.loud.is_some() {
            return Ok(());
        }
        let open = verdict::open(self.job, way, looks)?;
        if open.is_empty() {
            return Ok(());
        }
        let again: Vec<Look> = open.into_iter().map(|number| approach.deep[number]).collect();
        for some in packed(again, approach.fixed, self.key_for(), Look::time_on_the_wire) {
            let keyed = self.looked_again(case, way, &some, looks).await;
            self.up_after(keyed).await?;
        }
        self.confirm_silent(way, approach, looks).await
    }

    /// Everything between key down and key up; the caller brings the key up.
    async fn looked_again(
        &mut self,
        case: &Case<'_>,
        way: &Way,
        again: &[Look],
        looks: &mut Looks,
    ) -> Result<(), RunFault> {
        self.wait_and_key(case, way, Aim::Silence).await?;
        self.settle().await?;
        self.doing("look whether it comes again")?;
        for look in again {
            looks.again.push(self.keyed_look("silence, keyed again", look).await?);
        }
        Ok(())
    }

    /// Bands in which something came with the key are looked through once more without it.
    async fn look_after(&mut self, looks: &mut Looks) -> Result<(), RunFault> {
        if looks.loud.is_some() {
            return Ok(());
        }
        let taken = looks.deep.iter().filter_map(|(before, keyed)| Some((before, keyed.as_ref()?)));
        let suspects: Vec<Look> = taken
            .filter(|(before, keyed)| Seen::of(before, keyed).has_new())
            .map(|(_, keyed)| taken_as(keyed))
            .collect();
        for look in suspects {
            self.doing("look once more, not keyed")?;
            let after = self.look("unkeyed afterwards", &look).await?;
            looks.after.push(after);
        }
        Ok(())
    }
}

impl Looks {
    /// Whether as much was at a place before anything was keyed.
    fn was_before(&self, place: Place, way: &Way) -> Result<bool, RunFault> {
        for (before, _) in &self.coarse {
            let there = peak_of(way, before, place.frequency, unsure(&before.settings))?;
            if there.is_some_and(|there| place.level - there.level < points::PART) {
                return Ok(true);
            }
        }
        Ok(false)
    }
}

/// How far a line may lie from where a look shows it.
fn unsure(settings: &AnalyserSettings) -> Hertz {
    settings.rbw.max(settings.spacing()) * 2.0
}

/// The highest point of a look that is not farther than `within` from a frequency.
fn peak_of(
    way: &Way,
    look: &Acquisition,
    frequency: Hertz,
    within: Hertz,
) -> Result<Option<Place>, RunFault> {
    let peak = trace::peak(&trace::mean_power(&look.sweeps), &look.settings, frequency, within);
    let Some(peak) = peak else { return Ok(None) };
    Ok(Some(Place::of(way, look, peak.point, peak.level.get())?))
}
