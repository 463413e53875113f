//! A carrier that nobody has named: a person keys for as short as can be, all that the analyser reaches is swept, and the
//! strongest line that was not there before is looked at from near.
//!
//! What is found is told, and measured by a run of its own. A carrier where none may be is told at once: let go.

use std::future::Future;
use std::time::Duration;

use spurline_clock::{Clock, Moment};
use spurline_path::{Path, PathError};
use spurline_plan::{
    Channel, Job, PowerSetting, REST_FACTOR, SETTLE, SWITCH_SETTLE, carrier_look, nearer_looks, never_keyed,
    overview_looks,
};
use spurline_record::{Acquisition, EventKind, MeterReading};
use spurline_units::{Db, Dbm, Hertz, Power, Range, Seconds};

use crate::by_hand::{self, LetGo, Watch};
use crate::carrier::{ABSENT_DB, Glimpsed, PRESENT_DB, judge_glimpse};
use crate::dispatcher::{Dispatcher, Listener, Recorder};
use crate::fault::RunFault;
use crate::modulation::Prompted;
use crate::rack::Rack;
use crate::run::{Begun, guarded_as};
use crate::trace;

/// What has come up by so much is not what was there before.
const COMES_UP_DB: f64 = 15.0;
/// How long after a sweep the next one begins, while nothing is there.
const AGAIN: Duration = Duration::from_millis(100);
/// Channels are multiples of many steps (5, 6.25 and 8.33 kHz among them): what was measured is kept, to so much.
const RASTER: f64 = 10.0;
const METER_READINGS: usize = 3;

/// A carrier that was found.
#[derive(Clone, Debug, PartialEq)]
pub struct FoundCarrier {
    /// Where it is, to what the look from near can tell.
    pub carrier: Hertz,
    /// How strong it is at the connector.
    pub level: Dbm,
    /// What shows that the path is what its tables say.
    pub shown: String,
    /// How long the unit was keyed for it, until it was seen to have let go.
    pub held: Duration,
}

/// What came of a search.
#[derive(Clone, Debug, PartialEq)]
pub enum Sought {
    /// A carrier that may be measured.
    Found(FoundCarrier),
    /// One that may not, and why.
    Refused {
        /// Where it is.
        carrier: Hertz,
        /// Why it is not measured.
        why: String,
    },
    /// No carrier was seen.
    NobodyKeyed {
        /// How often somebody was told to key.
        asked: u32,
        /// For how long each time, at most.
        each: Seconds,
    },
    /// It was stopped.
    Stopped,
}

/// What is looked for, and for how long.
#[derive(Clone, Copy, Debug)]
pub struct Wanted {
    /// For how long a carrier is waited for in all, with the rests between. Whoever keys is told to let go sooner: nobody
    /// sees a carrier that is too weak.
    pub within: Duration,
    /// How strong a carrier may be to be measured.
    pub takes: Range<Power>,
}

/// Nothing of a search is kept: the run that follows has all of it anew.
struct Unkept;

impl Recorder for Unkept {
    fn keep(&mut self, _: &[spurline_record::Event]) -> Result<(), Box<dyn std::error::Error + Send + Sync>> {
        Ok(())
    }
}

/// Has a person key, and finds the carrier. The plan's bands are where it may be, and its first power setting says how
/// strong.
///
/// # Errors
///
/// [`RunFault`]; whoever keyed was told to let go.
pub async fn find_carrier(
    job: &Job,
    begun: Begun,
    clock: Clock,
    wanted: Wanted,
    listener: &mut dyn Listener,
    stop: impl Future<Output = ()>,
) -> Result<Sought, RunFault> {
    let Begun { mut rack, key, .. } = begun;
    let mut unkept = Unkept;
    let mut out = Dispatcher::new(clock, &mut unkept, listener);
    let mut thumb = None;
    let sought = {
        let mut search = Search { job, rack: &mut rack, clock, out: &mut out, thumb: &mut thumb, wanted };
        tokio::select! {
            biased;
            () = stop => Ok(Sought::Stopped),
            sought = guarded_as(search.search()) => sought,
        }
    };
    let went = match thumb {
        None => Ok(Duration::ZERO),
        Some(watch) => {
            let text = match &sought {
                Ok(Sought::Refused { why, .. }) => format!("let go now: {why}"),
                Ok(Sought::NobodyKeyed { each, .. }) => unseen(*each),
                Ok(Sought::Found(_) | Sought::Stopped) | Err(_) => "let go now".to_owned(),
            };
            match by_hand::leave(&mut rack, clock, &mut out, &watch, &text).await {
                Ok((held, kept)) => {
                    let told = out.emit(EventKind::KeyUp { held: Seconds::from(held) });
                    kept.and(told.map_err(RunFault::Record)).map(|()| held)
                }
                Err(stays) => Err(stays),
            }
        }
    };
    let closed = key.close().await;
    // A carrier that stays comes before all else.
    let held = went?;
    closed?;
    Ok(match sought? {
        Sought::Found(found) => Sought::Found(FoundCarrier { held, ..found }),
        other => other,
    })
}

struct Search<'a, 'd> {
    job: &'a Job,
    rack: &'a mut Rack,
    clock: Clock,
    out: &'a mut Dispatcher<'d>,
    /// What sees the thumb, once somebody was told to key.
    thumb: &'a mut Option<Watch>,
    wanted: Wanted,
}

/// What is told when no carrier was seen: one that is too weak may be there all the same.
fn unseen(each: Seconds) -> String {
    format!(
        "let go now, and do not key until you are told: no carrier was seen within {each}, and one may be there unseen"
    )
}

/// A line of a sweep, at the connector.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Line {
    frequency: Hertz,
    level: Dbm,
}

impl Search<'_, '_> {
    fn home(&self) -> (&Channel, &PowerSetting) {
        let channel = self.job.plan.channels.first().expect("a plan has a channel");
        (channel, channel.powers.first().expect("a channel has a power setting"))
    }

    fn path(&self) -> Path {
        self.job.carrier_way().branch.path.clone()
    }

    fn emit(&mut self, kind: EventKind) -> Result<(), RunFault> {
        self.out.emit(kind).map_err(RunFault::Record)
    }

    async fn search(&mut self) -> Result<Sought, RunFault> {
        self.prepare().await?;
        let (channel, power) = self.home();
        let window = power.window;
        let at_input = self.job.carrier_at_analyser(self.job.carrier_way(), channel, power)?;
        let least = window.low().dbm() - Db::new(PRESENT_DB);
        self.emit(EventKind::Doing("look while nobody keys".to_owned()))?;
        let mut before = self.overview(at_input, None).await?;
        if let Some(early) =
            strongest(&before, None, &self.path(), window.low().dbm() - Db::new(ABSENT_DB / 3.0))?
        {
            if let Some(refused) = self.too_early(early, at_input).await? {
                return Ok(refused);
            }
            before = self.overview(at_input, None).await?;
        }
        let each = self.job.plan.key.longest.duration().min(self.wanted.within);
        let ends = self.clock.now().after(self.wanted.within);
        let mut asked = 0;
        loop {
            asked += 1;
            if let Some((line, since)) = self.ask(&before, at_input, least, each).await? {
                return self.near_in_time(line, at_input, since).await;
            }
            let rest = each * REST_FACTOR;
            if self.clock.now().after(rest) >= ends {
                return Ok(Sought::NobodyKeyed { asked, each: Seconds::from(each) });
            }
            self.unseen_rest(Seconds::from(each), rest).await?;
        }
    }

    /// Tells somebody to key, and looks for so long and no longer for what comes up: where, and since when it may have been
    /// there.
    async fn ask(
        &mut self,
        before: &[Acquisition],
        at_input: Dbm,
        least: Dbm,
        each: Duration,
    ) -> Result<Option<(Line, Moment)>, RunFault> {
        // From here on somebody may key, whatever becomes of this work.
        *self.thumb = Some(Watch::blind(self.path()));
        let bands: Vec<String> = self.job.plan.authorised.iter().map(|(band, _)| band.to_string()).collect();
        let text = format!(
            "key the radio now, for at most {} whether or not anything more is said: anywhere in {}",
            Seconds::from(each),
            bands.join(", ")
        );
        by_hand::told(self.rack, self.out, Prompted::Key, &text).map_err(RunFault::Record)?;
        let until = self.clock.now().after(each);
        // What a sweep has not seen may have come as soon as that had passed its frequency.
        let mut since = self.clock.now();
        while self.clock.now() < until {
            let began = self.clock.now();
            let seen = self.overview(at_input, Some(until)).await?;
            if let Some(line) = strongest(&seen, Some(before), &self.path(), least)? {
                return Ok(Some((line, since)));
            }
            since = began;
            self.clock.sleep(AGAIN).await;
        }
        Ok(None)
    }

    /// Nobody has seen a carrier, but one may have been there all the time: told to let go, and a rest as after that.
    async fn unseen_rest(&mut self, each: Seconds, rest: Duration) -> Result<(), RunFault> {
        let watch = Watch::blind(self.path());
        let (_, kept) = by_hand::leave(self.rack, self.clock, self.out, &watch, &unseen(each)).await?;
        kept?;
        *self.thumb = None;
        self.emit(EventKind::KeyUp { held: Seconds::new(0.0) })?;
        let rest_s = Seconds::from(rest);
        self.emit(EventKind::Note(format!("the radio rests for {rest_s}; then it is asked for once more")))?;
        self.clock.sleep(rest).await;
        Ok(())
    }

    /// Looks from near, and not for longer than anybody may key.
    async fn near_in_time(&mut self, line: Line, at_input: Dbm, since: Moment) -> Result<Sought, RunFault> {
        let longest = self.job.plan.key.longest;
        self.emit(EventKind::KeyDown { lease: longest })?;
        let (clock, until) = (self.clock, since.after(longest.duration()));
        tokio::select! {
            biased;
            sought = self.near(line, at_input, since) => sought,
            () = clock.sleep_until(until) => Ok(Sought::Refused {
                carrier: line.frequency,
                why: format!("the look from near was not done within {longest}, and nobody keys for longer"),
            }),
        }
    }

    /// Known states and the way of the carrier; nobody keys yet.
    async fn prepare(&mut self) -> Result<(), RunFault> {
        self.rack.analyser.prepare().await?;
        if let Some(meter) = &mut self.rack.meter {
            meter.prepare().await?;
        }
        let way = self.job.carrier_way();
        for (place, card) in self.rack.switches.iter_mut().enumerate() {
            card.prepare().await?;
            let contacts = way.contacts_of(place);
            if !contacts.is_empty() {
                card.set(&contacts).await?;
            }
        }
        if !way.set.is_empty() {
            self.clock.sleep(SWITCH_SETTLE).await;
        }
        Ok(())
    }

    /// What both the path and the analyser reach, once; while somebody may key, as much of it as there is time for.
    async fn overview(&mut self, at_input: Dbm, until: Option<Moment>) -> Result<Vec<Acquisition>, RunFault> {
        let profile = self.job.bench.analyser_profile();
        let reached = self.reached();
        let mut looks = Vec::new();
        for look in overview_looks(profile, reached, at_input) {
            if until.is_some_and(|until| self.clock.now() >= until) {
                break;
            }
            let keyed = until.is_some();
            looks.push(self.rack.analyser.acquire("overview", keyed, &look.settings, look.sweeps).await?);
        }
        Ok(looks)
    }

    fn reached(&self) -> Range<Hertz> {
        let analyser = self.job.bench.analyser_profile().ranges.frequency;
        let path = self.job.carrier_way().branch.path.covered().unwrap_or(analyser);
        let (low, high) = (path.low().max(analyser.low()), path.high().min(analyser.high()));
        Range::new(low.max(LOWEST), high.min(HIGHEST).max(low.max(LOWEST))).unwrap_or(analyser)
    }

    /// Somebody transmits before anybody was told to: told to let go. What stays all the same, if it does.
    async fn too_early(&mut self, early: Line, at_input: Dbm) -> Result<Option<Sought>, RunFault> {
        let watch = self.watch(early.frequency, at_input, None);
        let text = format!("let go: {} is there before anybody was told to key", early.frequency);
        let (end, kept) = by_hand::let_go(self.rack, self.clock, self.out, &watch, &text).await;
        kept?;
        Ok(match end {
            LetGo::Gone | LetGo::Unseen => None,
            LetGo::Stays(level) => Some(Sought::Refused {
                carrier: early.frequency,
                why: format!(
                    "{level} is there although nobody was told to key: whose radio is that? Switch it off, or wait until it \
                     has gone; then measure this one again"
                ),
            }),
        })
    }

    fn watch(&self, carrier: Hertz, at_input: Dbm, since: Option<Moment>) -> Watch {
        let look = carrier_look(self.job.bench.analyser_profile(), carrier, at_input);
        let most = self.home().1.window.low().dbm() - Db::new(ABSENT_DB);
        Watch::at(spurline_plan::Look { sweeps: 1, ..look }, self.path(), carrier, most, since)
    }

    /// Looks at a line from near: where it is, whether it may be there, and how strong it is.
    async fn near(&mut self, line: Line, at_input: Dbm, since: Moment) -> Result<Sought, RunFault> {
        // Whatever comes now, this line is what must go.
        *self.thumb = Some(self.watch(line.frequency, at_input, Some(since)));
        let profile = self.job.bench.analyser_profile();
        let mut about = line.frequency;
        for place in 0..2 {
            let look = nearer_looks(profile, about, at_input)[place];
            let seen = self.rack.analyser.acquire("from near", true, &look.settings, look.sweeps).await?;
            about = trace::centre_of(&trace::mean_power(&seen.sweeps), &seen.settings).unwrap_or(about);
        }
        let carrier = Hertz::new((about.get() / RASTER).round() * RASTER);
        *self.thumb = Some(self.watch(carrier, at_input, Some(since)));
        if let Some(why) = self.not_there(carrier) {
            return Ok(Sought::Refused { carrier, why });
        }
        self.clock.sleep(SETTLE).await;
        let (channel, power) = self.home();
        let channel = Channel { carrier, ..channel.clone() };
        let (power, way) = (power.clone(), self.job.carrier_way());
        let look = self.job.glimpse(way, &channel, &power)?;
        let seen = self.rack.analyser.acquire("glimpse", true, &look.settings, look.sweeps).await?;
        let seen = (seen, self.meter_readings(carrier).await?);
        let (found, level) = judge_glimpse(self.job, way, &power, carrier, &seen)?;
        if let Some(level) = level
            && let Some(source) = self.job.overload(way, carrier, level.to_watts())?
        {
            return Err(RunFault::Overload { level, source });
        }
        if let Some(why) = level.and_then(|level| self.not_taken(level)) {
            return Ok(Sought::Refused { carrier, why });
        }
        let held = self.clock.now().since(since);
        Ok(match (found, level) {
            (Glimpsed::Right(shown), Some(level)) => Sought::Found(FoundCarrier {
                carrier,
                level,
                shown: format!("a look from near has shown the path: {shown}"),
                held,
            }),
            (Glimpsed::Wrong(why) | Glimpsed::Nothing(why), _) => Sought::Refused { carrier, why },
            (Glimpsed::Right(_), None) => {
                Sought::Refused { carrier, why: "the carrier left before it was measured".to_owned() }
            }
        })
    }

    async fn meter_readings(&mut self, carrier: Hertz) -> Result<Vec<MeterReading>, RunFault> {
        let mut readings = Vec::new();
        if let Some(meter) = &mut self.rack.meter {
            for _ in 0..METER_READINGS {
                readings.extend(meter.read(carrier).await?);
            }
        }
        Ok(readings)
    }

    /// Why a carrier of such a level is not measured, if that is so.
    fn not_taken(&self, level: Dbm) -> Option<String> {
        let takes = self.wanted.takes;
        let side = if level < takes.low().dbm() {
            "less"
        } else if level > takes.high().dbm() {
            "more"
        } else {
            return None;
        };
        Some(format!(
            "{:.2} at the connector is {side} than is taken, {takes}; if the radio gives something else, look for a loose \
             or wrong part of the path",
            level.to_watts()
        ))
    }

    /// Why no carrier may be at a frequency, if that is so.
    fn not_there(&self, carrier: Hertz) -> Option<String> {
        if let Some(range) = never_keyed(carrier) {
            return Some(format!("{carrier} is a distress frequency, within {range}: it is never keyed"));
        }
        let bands = &self.job.plan.authorised;
        if bands.iter().any(|(band, _)| band.contains(carrier)) {
            return None;
        }
        let bands: Vec<String> = bands.iter().map(|(band, _)| band.to_string()).collect();
        Some(format!("{carrier} is in none of the bands of the day, {}", bands.join(", ")))
    }
}

/// Below and above this nobody's carrier is looked for: the sweep would take longer, and see no more.
const LOWEST: Hertz = Hertz::new(1e6);
const HIGHEST: Hertz = Hertz::new(1.5e9);

/// The strongest line at the connector, of those that have come up since and are stronger than `least`.
fn strongest(
    looks: &[Acquisition],
    before: Option<&[Acquisition]>,
    path: &Path,
    least: Dbm,
) -> Result<Option<Line>, PathError> {
    let mut found: Option<Line> = None;
    for (place, look) in looks.iter().enumerate() {
        let now = trace::mean_power(&look.sweeps);
        let then = before.and_then(|before| before.get(place)).map(|look| trace::mean_power(&look.sweeps));
        let highest = now.iter().copied().enumerate().filter(|(point, level)| {
            let was = then.as_ref().and_then(|then| then.get(*point)).copied();
            was.is_none_or(|was| *level > was + COMES_UP_DB)
        });
        let Some((point, level)) = highest.max_by(|one, other| one.1.total_cmp(&other.1)) else { continue };
        let frequency = look.settings.frequency_of(point);
        let line = Line { frequency, level: Dbm::new(level) + path.loss_at(frequency)?.total };
        if line.level > least && found.is_none_or(|found| line.level > found.level) {
            found = Some(line);
        }
    }
    Ok(found)
}

#[cfg(test)]
mod tests {
    use spurline_record::{AnalyserSettings, Sweep, SweepFlags};

    use super::*;
    use crate::trace::specimen;

    fn look(levels: &[f32]) -> Acquisition {
        let settings =
            AnalyserSettings { centre: Hertz::from_mhz(145.0), ..specimen(levels.len() as u32, 2e6, 300e3) };
        Acquisition {
            purpose: "overview".to_owned(),
            at: "2024-05-01T00:00:00Z".parse().unwrap(),
            keyed: true,
            settings,
            sweeps: vec![Sweep { levels: levels.to_vec() }],
            marker: None,
            flags: SweepFlags::default(),
        }
    }

    /// What was there before is not what somebody keyed, however strong it is; what came up but is weak is no carrier.
    #[test]
    fn the_strongest_line_that_came_up_is_found() {
        let path = Path::default();
        let before = [look(&[-90.0, -20.0, -90.0, -90.0, -90.0])];
        let now = [look(&[-90.0, -20.0, -90.0, -40.0, -90.0])];
        let found = |least| strongest(&now, Some(&before), &path, Dbm::new(least)).unwrap();
        let line = found(-60.0).unwrap();
        assert_eq!((line.frequency, line.level), (Hertz::from_mhz(145.5), Dbm::new(-40.0)));
        assert_eq!(found(-30.0), None);
        assert_eq!(strongest(&now, None, &path, Dbm::new(-60.0)).unwrap().unwrap().level, Dbm::new(-20.0));
    }
}
