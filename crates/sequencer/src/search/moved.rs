//! The carrier is moved to another channel of the plan, and every line is looked for where it would be if it moved with
//! the carrier, with a part or a multiple of it, against it, or not at all.

use spurline_plan::{CARRIER_ERROR, Look, TIMES, packed, suited};
use spurline_record::Reading;
use spurline_units::{Db, Dbm, Hertz, Seconds};

use super::candidate::level_at;
use super::sort::point_of;
use super::{Swept, peaks};
use crate::ambient::last_look;
use crate::by_hand;
use crate::fault::RunFault;
use crate::interlock::Aim;
use crate::scope::{Case, Measuring};

/// How a line moves with the carrier.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Motion {
    /// It was not seen, for this reason.
    NotTold(String),
    /// Not at all.
    Still,
    /// With this part of the carrier's frequency, which is where it stands as well.
    Share(u32, u32),
    /// So many times as far as the carrier.
    Times(i32),
}

/// Orders and parts of the carrier that a line may be.
const HIGHEST_PART: u32 = 8;
const HIGHEST_ORDER: u32 = 40;
/// A line that has moved has this level, more or less: the unit's filters and the path are not the same there.
const SAME_DB: f64 = 10.0;
/// The bandwidth in which a line is looked for, over how far the carrier moves.
const OF_MOVE: f64 = 20.0;
/// What the looks at the carrier take.
const CARRIER_TIME: f64 = 2.0;

/// A line and where it may be.
struct Suspect {
    place: usize,
    level: Dbm,
    look: Look,
    places: Vec<(Hertz, Motion)>,
}

impl Suspect {
    fn time(&self) -> Seconds {
        self.look.time_on_the_wire() * self.places.len() as f64
    }
}

impl Measuring<'_, '_> {
    /// How the lines of these readings move, in their order.
    pub(super) async fn motions(
        &mut self,
        case: &Case<'_>,
        places: &[usize],
    ) -> Result<Vec<Motion>, RunFault> {
        let mut motions =
            vec![
                Motion::NotTold("the plan has no other channel to move the carrier to".to_owned());
                places.len()
            ];
        let second = self.job.second_channel(case.channel, case.power);
        let (Some((channel, power)), false) = (second, places.is_empty()) else { return Ok(motions) };
        let moved = Case { channel, power, supply: case.supply.clone(), extent: case.extent };
        let suspects = self.suspects(case, &moved, places)?;
        self.doing(&format!("move the carrier to {}", channel.carrier))?;
        self.rack.unit.tune(channel.carrier, &power.name).await?;
        let way = self.job.harmonics_way();
        if self.carrier_before_key(&moved, way).await?.is_none() {
            let fixed = Seconds::new(CARRIER_TIME);
            for suspects in packed(suspects, fixed, self.job.plan.key.longest, Suspect::time) {
                let looked = self.moved_key_down(&moved, suspects, &mut motions).await;
                self.up_after(looked).await?;
            }
        }
        self.rack.unit.tune(case.channel.carrier, &case.power.name).await?;
        Ok(motions)
    }

    async fn moved_key_down(
        &mut self,
        moved: &Case<'_>,
        suspects: Vec<Suspect>,
        motions: &mut [Motion],
    ) -> Result<(), RunFault> {
        let way = self.job.harmonics_way();
        if let Err(fault) = self.wait_and_key(moved, way, Aim::Measure).await {
            let Some(reason) = by_hand::nobody_keyed(&fault) else { return Err(fault) };
            motions.fill(Motion::NotTold(reason.text));
            return Ok(());
        }
        self.settle().await?;
        let Some(level) = self.carrier_now(moved, way).await? else {
            let why = "no carrier came when it was moved".to_owned();
            motions.fill(Motion::NotTold(why));
            return Ok(());
        };
        self.bears(way, moved.channel.carrier, Some(level))?;
        for suspect in suspects {
            let mut found = Motion::NotTold("it was not found again when the carrier was moved".to_owned());
            for (at, motion) in suspect.places {
                let look =
                    Look { settings: centred(&self.job.bench, suspect.look.settings, at), ..suspect.look };
                let seen = self.keyed_look("carrier moved", &look).await?;
                let within = look.settings.rbw + CARRIER_ERROR;
                let level = level_at(&seen, at, within);
                if level.is_some_and(|level| (level - suspect.level).get().abs() <= SAME_DB) {
                    found = motion;
                    break;
                }
            }
            motions[suspect.place] = found;
        }
        Ok(())
    }

    /// Where each line is looked for.
    fn suspects(
        &self,
        case: &Case<'_>,
        moved: &Case<'_>,
        places: &[usize],
    ) -> Result<Vec<Suspect>, RunFault> {
        let (from, to) = (case.channel.carrier, moved.channel.carrier);
        let profile = self.job.bench.analyser_profile();
        let at_input = self.job.carrier_at_analyser(self.job.harmonics_way(), moved.channel, moved.power)?;
        let mut suspects = Vec::new();
        for (place, held) in places.iter().enumerate() {
            let reading = &self.done.held[*held];
            let (Some(look), Some(level)) = (last_look(reading), raw(reading)) else { continue };
            let narrow = Hertz::new((to - from).get().abs() / OF_MOVE).max(Hertz::new(1e3));
            let task = self.job.spurious_task(
                moved.channel,
                moved.power,
                reading.frequency,
                look.settings.rbw.min(narrow),
                level.min(at_input),
            )?;
            let look = suited(spurline_plan::first_look(profile, &task), &self.job.plan.modulation);
            let places = hypotheses(reading.frequency, from, to)
                .into_iter()
                .filter(|(at, _)| profile.ranges.frequency.contains(*at))
                .filter(|(at, motion)| *motion == Motion::Still || !self.was_there_before(*at, level))
                .collect();
            suspects.push(Suspect { place, level, look, places });
        }
        Ok(suspects)
    }

    /// Whether the sweeps show something like it there without the key: it would be taken for the line.
    fn was_there_before(&self, at: Hertz, level: Dbm) -> bool {
        let Some(search) = &self.job.plan.measure.search else { return false };
        let is_line = |swept: &Swept| {
            let Some(point) = point_of(&swept.unkeyed, at) else { return false };
            let before = Dbm::new(peaks::highest_near(&swept.unkeyed, point, peaks::NEAR));
            // Noise alone is no line.
            before > level - Db::new(SAME_DB)
                && peaks::of(&swept.unkeyed, search.excursion, search.holds)
                    .iter()
                    .any(|peak| peak.abs_diff(point) <= peaks::NEAR)
        };
        self.done.search.swept.iter().any(is_line)
    }
}

/// The sweep about another frequency, as far as the analyser reaches.
fn centred(
    bench: &spurline_plan::Bench,
    settings: spurline_record::AnalyserSettings,
    at: Hertz,
) -> spurline_record::AnalyserSettings {
    let range = bench.analyser_profile().ranges.frequency;
    let half = settings.span / 2.0;
    spurline_record::AnalyserSettings {
        centre: at.max(range.low() + half).min(range.high() - half),
        ..settings
    }
}

fn raw(reading: &Reading) -> Option<Dbm> {
    reading.correction.as_ref().map(|correction| correction.raw)
}

/// Where a line would be, the likelier first, no two places alike.
fn hypotheses(at: Hertz, from: Hertz, to: Hertz) -> Vec<(Hertz, Motion)> {
    let by = to - from;
    let mut all: Vec<(Hertz, Motion)> = Vec::new();
    if let Some((part, of)) = share(at, from) {
        all.push((to * (f64::from(part) / f64::from(of)), Motion::Share(part, of)));
    }
    all.push((at, Motion::Still));
    all.extend(TIMES.map(|times| (at + by * f64::from(times), Motion::Times(times))));
    let mut places: Vec<(Hertz, Motion)> = Vec::new();
    for (place, motion) in all {
        if !places.iter().any(|(known, _)| (*known - place).get().abs() < CARRIER_ERROR.get()) {
            places.push((place, motion));
        }
    }
    places
}

/// The part of the carrier that a frequency is, if it is one.
pub(super) fn share(at: Hertz, carrier: Hertz) -> Option<(u32, u32)> {
    (1..=HIGHEST_PART).find_map(|of| {
        let part = (at / carrier * f64::from(of)).round();
        let whole = (1.0..=f64::from(HIGHEST_ORDER * of)).contains(&part);
        let there = carrier * (part / f64::from(of));
        let within = CARRIER_ERROR * (part / f64::from(of)).max(1.0);
        (whole && (at - there).get().abs() <= within.get()).then_some((part as u32, of))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn parts_of_the_carrier_are_known() {
        let carrier = Hertz::from_mhz(144.2);
        assert_eq!(share(Hertz::from_mhz(72.1), carrier), Some((1, 2)));
        assert_eq!(share(Hertz::from_mhz(216.3), carrier), Some((3, 2)));
        assert_eq!(share(Hertz::from_mhz(288.4), carrier), Some((2, 1)));
        assert_eq!(share(Hertz::from_mhz(131.4), carrier), None);
    }

    /// By hand: moved by 3.6 MHz a half moves by 1.8 MHz, an image by -3.6 MHz.
    #[test]
    fn every_way_of_moving_is_somewhere_else() {
        let (from, to) = (Hertz::from_mhz(144.2), Hertz::from_mhz(147.8));
        let places = hypotheses(Hertz::from_mhz(72.1), from, to);
        assert_eq!(places[0], (Hertz::from_mhz(73.9), Motion::Share(1, 2)));
        assert_eq!(places[1].1, Motion::Still);
        let against = places.iter().find(|(_, motion)| *motion == Motion::Times(-1)).unwrap();
        assert!((against.0.mhz() - 68.5).abs() < 1e-6);
    }
}
