//! Silence: the unit is told to transmit where it must not, keyed into its load, and every band that it could come out
//! in is looked through, keyed and unkeyed.

mod verdict;

use spurline_plan::{
    Channel, Extent, Look, PowerSetting, SETTLE, SilenceApproach, Way, carrier_look, packed, width_look,
};
use spurline_record::{Acquisition, EventKind, Outcome, Quantity, Reading, Reason, ReasonCode};
use spurline_units::{Dbm, Hertz, Seconds};

use crate::fault::RunFault;
use crate::keyed::beating;
use crate::mending::mended;
use crate::scope::{Case, Measuring};
use crate::stage::Place;
use crate::trace;
use verdict::Seen;

/// What was seen on all key-downs at one frequency.
#[derive(Default)]
struct Looks {
    /// Before the key, then with it, band by band.
    coarse: Vec<(Acquisition, Vec<Acquisition>)>,
    deep: Vec<(Acquisition, Option<Acquisition>)>,
    /// A carrier that came, looked at by itself.
    loud: Option<Loud>,
    /// What a power meter showed although the bands were empty, at the connector.
    metered: Option<Dbm>,
    /// Bands once more after key up.
    after: Vec<Acquisition>,
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
        mended!(self, self.feed_home());
        for (frequency, span) in &silence.frequencies {
            let channel = Channel {
                name: format!("silent at {frequency}"),
                carrier: *frequency,
                carrier_span: *span,
                powers: vec![power.clone()],
                supplies: Vec::new(),
            };
            let supply = self.home().supply;
            let case = Case { channel: &channel, power: &power, supply, extent: Extent::Everything };
            let scope = case.scope(job.carrier_way());
            self.emit(EventKind::ScopeStarted { scope, readings: 1 })?;
            mended!(self, self.silent_at(&case));
            self.keep()?;
        }
        Ok(())
    }

    async fn silent_at(&mut self, case: &Case<'_>) -> Result<(), RunFault> {
        let job = self.job;
        let way = job.carrier_way();
        let frequency = case.channel.carrier;
        let approach = job.silence_approach(frequency)?;
        self.place = case.channel.name.clone();
        self.tap.step(&self.place);
        self.rack.check().await?;
        // A unit that does not go where it is sent stays where it was: that place is known and allowed.
        let home = self.home();
        self.rack.unit.tune(home.channel.carrier, &home.power.name).await?;
        self.switch(&home, way).await?;
        if let Some((level, look)) = self.there_before(way).await? {
            let text =
                format!("{level} is at {} before the unit is keyed: it was not keyed", home.channel.carrier);
            let mut reading = self.silence_blank(case, way);
            reading.reason = Some(Reason::new(ReasonCode::CarrierBeforeKey, text));
            reading.acquisitions = vec![look];
            return self.finish(reading);
        }
        let refused = self.command(case.channel, case.power).await?;
        let mut looks = Looks::default();
        self.doing("look through the bands while the unit is not keyed")?;
        for look in &approach.coarse {
            looks.coarse.push((self.look("silence, unkeyed", look).await?, Vec::new()));
        }
        for look in &approach.deep {
            looks.deep.push((self.look("silence, unkeyed", look).await?, None));
        }
        self.silent_key_downs(way, &approach, &mut looks).await?;
        self.look_after(&mut looks).await?;
        let reading = self.silence_blank(case, way);
        let reading = verdict::judge(job, way, &approach, looks, refused, reading)?;
        self.finish(reading)
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
        way: &Way,
        approach: &SilenceApproach,
        looks: &mut Looks,
    ) -> Result<(), RunFault> {
        let key_for = self.job.plan.silence.as_ref().map(|silence| silence.key_for).unwrap_or_default();
        let coarse =
            approach.coarse.iter().fold(Seconds::new(0.0), |sum, look| sum + look.time_on_the_wire());
        let fixed = Seconds::from(SETTLE) + coarse * 2.0;
        let numbered: Vec<(usize, Look)> = approach.deep.iter().copied().enumerate().collect();
        for some in packed(numbered, fixed, key_for, |(_, look)| look.time_on_the_wire()) {
            let keyed = self.silent_keyed(way, approach, &some, key_for, looks).await;
            self.up_after(keyed).await?;
            if looks.loud.is_some() || looks.metered.is_some() {
                break;
            }
        }
        self.confirm_silent(way, looks).await
    }

    /// Everything between key down and key up; the caller brings the key up.
    async fn silent_keyed(
        &mut self,
        way: &Way,
        approach: &SilenceApproach,
        deep: &[(usize, Look)],
        key_for: Seconds,
        looks: &mut Looks,
    ) -> Result<(), RunFault> {
        self.wait_and_key(way).await?;
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
        looks.metered = beating(key, clock, self.meter_sees(&home)).await??;
        // A carrier may come late.
        let left = key_for - Seconds::from(self.clock.now().since(began));
        if left.get() > 0.0 {
            beating(self.key, self.clock, self.clock.sleep(left.duration())).await?;
        }
        self.loud(way, approach, looks).await.map(drop)
    }

    /// Looks for a carrier in all bands; whether one is there.
    async fn loud(
        &mut self,
        way: &Way,
        approach: &SilenceApproach,
        looks: &mut Looks,
    ) -> Result<bool, RunFault> {
        let mut strongest: Option<Place> = None;
        for (number, look) in approach.coarse.iter().enumerate() {
            let seen = self.keyed_look("silence, keyed", look).await?;
            let (before, keyed) = &mut looks.coarse[number];
            let found = verdict::carrier(self.job, way, before, &seen, approach)?;
            keyed.push(seen);
            strongest = match (strongest, found) {
                (Some(one), Some(other)) if one.level >= other.level => Some(one),
                (one, other) => other.or(one),
            };
        }
        let Some(found) = strongest else { return Ok(false) };
        // A wide sweep says where to within its points; what is there is looked at by itself.
        self.doing(&format!("a carrier came near {}", found.about()))?;
        let profile = self.job.bench.analyser_profile();
        let near =
            self.keyed_look("carrier that came", &carrier_look(profile, found.frequency, found.raw)).await?;
        let place = peak_of(way, &near, found.frequency)?.unwrap_or(found);
        let narrow =
            self.keyed_look("carrier that came", &width_look(profile, place.frequency, place.raw)).await?;
        let centre = peak_of(way, &narrow, place.frequency)?;
        let place = Place { frequency: centre.map_or(place.frequency, |at| at.frequency), ..place };
        self.bears(way, place.frequency, Some(place.level))?;
        looks.loud = Some(Loud { look: near, place });
        Ok(true)
    }

    /// A carrier that came must go with the key.
    async fn confirm_silent(&mut self, way: &Way, looks: &mut Looks) -> Result<(), RunFault> {
        let Some(loud) = &looks.loud else { return Ok(()) };
        self.doing("see the carrier go")?;
        let look = Look { settings: loud.look.settings, sweeps: 1 };
        let place = loud.place;
        let after = self.look("after key up", &look).await?;
        let still = peak_of(way, &after, place.frequency)?.filter(|still| {
            place.level - still.level < verdict::PART
                && trace::stands_out(&after, still.frequency, look.settings.rbw)
        });
        looks.after.push(after);
        match still {
            // With the key up and confirmed it may be somebody else's: that is for the verdict, by what was before.
            Some(still) if looks.was_before(still, way)? => Ok(()),
            Some(still) => Err(RunFault::CarrierStays { level: still.level }),
            None => Ok(()),
        }
    }

    /// Bands in which something came with the key are looked through once more without it.
    async fn look_after(&mut self, looks: &mut Looks) -> Result<(), RunFault> {
        if looks.loud.is_some() {
            return Ok(());
        }
        let suspects: Vec<Look> = looks
            .deep
            .iter()
            .filter_map(|(before, keyed)| keyed.as_ref().map(|keyed| (before, keyed)))
            .filter(|(before, keyed)| Seen::of(before, keyed).highest_new().is_some())
            .map(|(_, keyed)| Look { settings: keyed.settings, sweeps: keyed.sweeps.len() as u32 })
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
            let there = peak_of(way, before, place.frequency)?;
            if there.is_some_and(|there| place.level - there.level < verdict::PART) {
                return Ok(true);
            }
        }
        Ok(false)
    }
}

/// The highest point of a look near a frequency: within what its points and its filter leave unsure.
fn peak_of(way: &Way, look: &Acquisition, frequency: Hertz) -> Result<Option<Place>, RunFault> {
    let settings = &look.settings;
    let within = (settings.rbw.max(settings.spacing()) * 2.0).max(settings.span / 2.0);
    let peak = trace::peak(&trace::mean_power(&look.sweeps), settings, frequency, within);
    let Some(peak) = peak else { return Ok(None) };
    let loss = way.branch.path.loss_at(peak.frequency)?.total;
    Ok(Some(Place {
        frequency: peak.frequency,
        raw: peak.level,
        level: peak.level + loss,
        point: peak.point as u32,
    }))
}

/// What a reading comes to whose key-downs showed nothing at all.
pub(crate) fn nothing_seen(text: &str) -> (Outcome, Option<Reason>) {
    (Outcome::Invalid, Some(Reason::new(ReasonCode::NotKeyed, text)))
}
