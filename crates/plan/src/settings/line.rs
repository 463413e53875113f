//! The look at one line: the least time that leaves room for the noise below it and for the analyser's own product.

use spurline_judge::RESOLVED_DB;
use spurline_profile::AnalyserProfile;
use spurline_record::{AnalyserSettings, Detector, Preamplifier};
use spurline_units::{Db, Dbm, Hertz, Seconds};

use super::front_end::{least_attenuation, more_at_mixer, own_product_at_input, steps};
use super::noise::{noise_at_input, noise_height};
use super::{Look, VIDEO, reference, sweep_time};

/// One line that is to be read.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LineTask {
    /// Where it should be.
    pub frequency: Hertz,
    /// Its order; 1 for a line that is no harmonic of the carrier, where nothing of the analyser's own lies.
    pub order: u32,
    /// The full carrier at the analyser's input.
    pub carrier_at_input: Dbm,
    /// The limit there; `None` where the rule has no number.
    pub limit_at_input: Option<Dbm>,
    /// What is uncertain beforehand, k = 2.
    pub expanded: Db,
    /// How wide the line is: zero without modulation.
    pub occupied: Hertz,
    /// The bandwidth that the rule refers to, if it names one.
    pub reference: Option<Hertz>,
    /// No narrower bandwidth is used: the modulation would pass it by. Zero if any will do.
    pub narrowest: Hertz,
    /// The width of the sweep, where the usual one is too wide.
    pub span: Option<Hertz>,
}

/// A line is looked for within the RBW and this much carrier error for each order.
pub const CARRIER_ERROR: Hertz = Hertz::new(2.5e3);

/// What keeps a reading from being decided.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Hindrance {
    /// The noise hides the line.
    Floor,
    /// The analyser's own product may be part of what was read, which stood at this level at the input.
    OwnProduct(Dbm),
    /// The sweeps differ too much.
    Scatter,
}

/// How far noise and own product stay below what they may be.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Rooms {
    /// Below the highest floor at which a line at it is still shown to comply.
    pub(crate) floor: Db,
    /// Below the highest own product with which that still holds; `None` where nobody guarantees one.
    pub(crate) own: Option<Db>,
    /// The limit over the own product.
    distance: Option<Db>,
}

const BANDWIDTHS: [f64; 9] = [1e6, 300e3, 100e3, 30e3, 10e3, 3e3, 1e3, 300.0, 100.0];
/// Less takes too long over the usual span.
const NARROWEST: f64 = 1e3;
/// Without modulation nothing is won by more, and less shows the carrier's own jitter.
const WIDEST: f64 = 30e3;
/// What a rule that names no bandwidth is taken to mean below 1 GHz and above (common practice).
const REFERENCE: [f64; 2] = [100e3, 1e6];
/// How wide the sweep over a line without modulation is, in hertz.
pub(crate) const LINE_SPAN: f64 = 300e3;
/// A modulated line is at most so many bandwidths wide.
const WIDTHS: f64 = 20.0;
/// A modulated line takes no more than this share of its span.
const SHARE: f64 = 0.4;
const TIME: f64 = 0.05;
const POINTS: u32 = 401;
const SWEEPS: [u32; 3] = [5, 15, 45];
/// The first look at a line takes no longer: ten orders must fit into a key-down, and more is for those that need it.
const FIRST_TIME: f64 = 1.0;
/// With so much room the noise takes half a decibel from a line at the limit, and own products add 0.8 dB at most.
const AMPLE_FLOOR: f64 = 7.0;
const AMPLE_OWN: f64 = 20.0;
/// A line and an own product of its size make twice the voltage.
const EQUAL_DB: f64 = 6.020_6;
/// More effort must bring the floor down by as much.
const WORTH_DB: f64 = 1.5;
/// A line that is read with more attenuation must still stand this far above the noise.
const CLEAR_DB: f64 = 6.0;
/// Where no limit is known, one is taken this far below the carrier.
const BELOW_CARRIER: f64 = 60.0;

impl LineTask {
    fn limit(&self) -> Dbm {
        self.limit_at_input.unwrap_or(self.carrier_at_input - Db::new(BELOW_CARRIER))
    }

    /// The same with as little attenuation as the analyser bears without compression: what it makes behind its attenuator
    /// by itself falls with that. The carrier's own products rise, so that this is for places where none lies.
    #[must_use]
    pub fn with_least_attenuation(self, profile: &AnalyserProfile) -> Self {
        Self { carrier_at_input: self.carrier_at_input - more_at_mixer(profile), ..self }
    }

    /// The bandwidth that the limit refers to: the rule's, or where it names none the usual one.
    #[must_use]
    pub fn reference_bandwidth(&self) -> Hertz {
        self.reference.unwrap_or_else(|| usual_reference(self.frequency))
    }

    /// The bandwidths that may be used, the widest first; at least one.
    fn bandwidths(&self, profile: &AnalyserProfile) -> Vec<Hertz> {
        let reference = self.reference_bandwidth().get();
        let occupied = self.occupied.get();
        let widest = if occupied > 0.0 { reference } else { WIDEST.min(reference) };
        let range = profile.ranges.rbw;
        let allowed: Vec<Hertz> = BANDWIDTHS
            .into_iter()
            .map(Hertz::new)
            .filter(|rbw| rbw.get() <= widest && range.contains(*rbw))
            .filter(|rbw| self.span.is_some() || rbw.get() >= NARROWEST)
            .collect();
        // Where there are too few points for a bandwidth a line falls between them.
        let seen: Vec<Hertz> = allowed
            .iter()
            .copied()
            .filter(|rbw| *rbw >= self.narrowest)
            .filter(|rbw| {
                points_of(self.span.unwrap_or_else(|| span_of(self.occupied)), *rbw)
                    <= profile.ranges.most_points
            })
            .collect();
        let allowed = if seen.is_empty() { allowed } else { seen };
        // What is wider than the bandwidth is integrated: with too narrow a one that takes for ever.
        let quick: Vec<Hertz> =
            allowed.iter().copied().filter(|rbw| rbw.get() * WIDTHS >= occupied).collect();
        match (quick.is_empty(), allowed.first()) {
            (false, _) => quick,
            (true, Some(widest)) => vec![*widest],
            (true, None) => vec![Hertz::new(widest).max(range.low()).min(range.high())],
        }
    }

    fn look(&self, profile: &AnalyserProfile, rbw: Hertz, attenuation: Db, sweeps: u32) -> Look {
        let span = self.span.unwrap_or_else(|| span_of(self.occupied));
        let points = POINTS.max(points_of(span, rbw)).min(profile.ranges.most_points);
        let settings = AnalyserSettings {
            centre: self.frequency,
            span,
            rbw,
            vbw: Hertz::new(rbw.get() * VIDEO),
            points,
            sweep_time: sweep_time(profile, span, rbw, TIME),
            detector: Detector::Rms,
            attenuation,
            preamplifier: Preamplifier::Off,
            reference_level: reference(self.limit()),
        };
        Look { settings, sweeps }
    }

    fn looks<'a>(&self, profile: &'a AnalyserProfile) -> impl Iterator<Item = Look> + use<'a> {
        let task = *self;
        let least = least_attenuation(profile, self.carrier_at_input);
        self.bandwidths(profile).into_iter().flat_map(move |rbw| {
            steps(profile).filter(move |attenuation| *attenuation >= least).flat_map(move |attenuation| {
                SWEEPS.map(|sweeps| task.look(profile, rbw, attenuation, sweeps))
            })
        })
    }
}

/// What a rule that names no bandwidth is taken to mean at an emission.
pub(crate) fn usual_reference(emission: Hertz) -> Hertz {
    Hertz::new(REFERENCE[usize::from(emission.get() > 1e9)])
}

/// As many points as show the top of a line wherever it lies: five for each bandwidth, which leave 0.12 dB of a Gaussian
/// filter.
fn points_of(span: Hertz, rbw: Hertz) -> u32 {
    (span / rbw * 5.0).ceil() as u32 + 1
}

/// How wide the sweep over a line of this width is.
pub(crate) fn span_of(occupied: Hertz) -> Hertz {
    Hertz::new(LINE_SPAN.max(occupied.get() / SHARE))
}

/// What a look leaves for the noise and for the analyser's own product.
pub(crate) fn rooms(profile: &AnalyserProfile, task: &LineTask, look: &Look) -> Rooms {
    let (rbw, attenuation) = (look.settings.rbw, look.settings.attenuation);
    let most = task.limit() - task.expanded;
    let own = (task.order > 1)
        .then(|| own_product_at_input(profile, task.order, task.carrier_at_input, attenuation))
        .flatten();
    // The noise within a modulated line is that of all its width, and of where it is looked for.
    let searched = (rbw + CARRIER_ERROR * f64::from(task.order)) * 2.0;
    let width = if task.occupied.get() > 0.0 { searched + task.occupied } else { rbw };
    let floor = noise_at_input(profile, width, attenuation);
    Rooms {
        floor: most - Db::new(RESOLVED_DB) - noise_height(look) - floor,
        own: own.map(|own| most - Db::new(EQUAL_DB) - own),
        distance: own.map(|own| task.limit() - own),
    }
}

impl Rooms {
    fn is_ample(&self) -> bool {
        self.floor.get() >= AMPLE_FLOOR && self.distance.is_none_or(|distance| distance.get() >= AMPLE_OWN)
    }

    fn is_enough(&self) -> bool {
        self.least().get() >= 0.0
    }

    fn least(&self) -> Db {
        self.own.map_or(self.floor, |own| own.min(self.floor))
    }
}

/// The first look at a line: of those with ample room for both, the quickest; else of those with enough; else the one
/// with the most.
///
/// # Panics
///
/// Never: there is at least one bandwidth, and one attenuation that keeps the mixer at its usual level or is the most.
#[must_use]
pub fn first_look(profile: &AnalyserProfile, task: &LineTask) -> Look {
    let looks: Vec<(Look, Rooms)> = task
        .looks(profile)
        .filter(|look| look.time().get() <= FIRST_TIME)
        .map(|look| (look, rooms(profile, task, &look)))
        .collect();
    let quickest = |good: fn(&Rooms) -> bool| {
        looks.iter().filter(|(_, rooms)| good(rooms)).min_by(|(one, of_one), (other, of_other)| {
            let time = one.time().get().total_cmp(&other.time().get());
            time.then(of_other.least().get().total_cmp(&of_one.least().get()))
        })
    };
    let most = || {
        looks.iter().max_by(|(_, one), (_, other)| one.least().get().total_cmp(&other.least().get())).copied()
    };
    let quick = || {
        let all = task.looks(profile).map(|look| (look, rooms(profile, task, &look)));
        all.min_by(|(one, _), (other, _)| one.time().get().total_cmp(&other.time().get()))
    };
    let found = quickest(Rooms::is_ample)
        .or_else(|| quickest(Rooms::is_enough))
        .copied()
        .or_else(most)
        .or_else(quick);
    found.map(|(look, _)| look).expect("there is at least one bandwidth and one attenuation")
}

/// A further look at a line that could not be decided so far, within the time that is left; `None` if no setting of
/// this analyser would bring it on.
#[must_use]
pub fn next_look(
    profile: &AnalyserProfile,
    task: &LineTask,
    tried: &[Look],
    hindrance: Hindrance,
    left: Seconds,
) -> Option<Look> {
    let last = tried.last()?;
    let quickest = |good: &dyn Fn(&Look) -> bool| {
        task.looks(profile)
            .filter(|look| look.time() <= left && good(look))
            .min_by(|one, other| one.time().get().total_cmp(&other.time().get()))
    };
    let attenuation = |look: &Look| look.settings.attenuation;
    match hindrance {
        Hindrance::Floor => {
            let room = |look: &Look| rooms(profile, task, look);
            let best = tried.iter().map(|look| room(look).floor).reduce(Db::max)?;
            let own = |look: &Look| room(look).own.is_none_or(|own| own.get() >= 0.0);
            quickest(&|look| {
                let kept = attenuation(look) >= attenuation(last) || own(look);
                kept && room(look).floor >= best + Db::new(WORTH_DB)
            })
        }
        Hindrance::OwnProduct(line) => {
            let most = tried.iter().map(attenuation).reduce(Db::max)?;
            let next = steps(profile).find(|step| *step > most)?;
            let clear = |look: &Look| {
                let floor = noise_at_input(profile, look.settings.rbw.max(task.occupied), attenuation(look));
                line - floor >= noise_height(look) + Db::new(CLEAR_DB)
            };
            quickest(&|look| attenuation(look) == next && clear(look))
        }
        Hindrance::Scatter => {
            let more = SWEEPS.into_iter().find(|sweeps| *sweeps > last.sweeps)?;
            let look = Look { sweeps: more, ..*last };
            (look.time() <= left).then_some(look)
        }
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;
    use spurline_profile::Kind;

    use super::*;

    fn profile() -> AnalyserProfile {
        let name = "analyser-generic.yaml";
        let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../../config/profiles");
        let text = std::fs::read_to_string(folder.join(name)).unwrap();
        let document = spurline_document::Document::parse(name, &text).unwrap();
        match spurline_profile::Profile::read(&document).unwrap().kind {
            Kind::Analyser(profile) => *profile,
            _ => unreachable!("it is an analyser's"),
        }
    }

    fn task(order: u32, carrier: f64, limit: f64) -> LineTask {
        LineTask {
            frequency: Hertz::from_mhz(145.0 * f64::from(order)),
            order,
            carrier_at_input: Dbm::new(carrier),
            limit_at_input: Some(Dbm::new(limit)),
            expanded: Db::new(1.5),
            occupied: Hertz::new(0.0),
            reference: None,
            narrowest: Hertz::new(0.0),
            span: None,
        }
    }

    /// By hand: of a carrier of 0 dBm an intercept of 45 dBm makes -65 dBm at 20 dB of attenuation, -75 dBm at 30 dB. Below
    /// a limit of -50 dBm the one is 15 dB, the other 25 dB; noise of -148 + 40 + 30 dBm in 10 kHz, -77.7 dBm, has room.
    #[test]
    fn ample_room_for_both() {
        let (profile, task) = (profile(), task(2, 0.0, -50.0));
        let look = first_look(&profile, &task);
        assert!(rooms(&profile, &task, &look).is_ample(), "{look:?}");
        assert_eq!(look.settings.attenuation, Db::new(30.0), "{look:?}");
    }

    proptest! {
        /// No look drives the mixer beyond its usual level, uses a bandwidth above the rule's, or sweeps too fast.
        #[test]
        fn every_look_is_sound(
            order in 2u32..11, carrier in -30.0..10.0f64, below in 20.0..90.0f64, wide in 0.0..150e3f64,
            narrow in prop::option::of(1e3..1e6f64),
        ) {
            let profile = profile();
            let task = LineTask {
                occupied: Hertz::new(if wide < 20e3 { 0.0 } else { wide }),
                reference: narrow.map(Hertz::new),
                ..task(order, carrier, carrier - below)
            };
            let first = first_look(&profile, &task);
            let mut tried = vec![first];
            for hindrance in [
                Hindrance::Floor, Hindrance::OwnProduct(Dbm::new(carrier - below)), Hindrance::Scatter,
            ] {
                tried.extend(next_look(&profile, &task, &tried, hindrance, Seconds::new(5.0)));
            }
            for look in &tried {
                let set = &look.settings;
                prop_assert!(carrier - set.attenuation.get() <= -20.0 + 1e-9, "{set:?}");
                prop_assert!(task.reference.is_none_or(|most| set.rbw <= most), "{set:?}");
                prop_assert!(set.rbw <= Hertz::new(30e3) || task.occupied.get() > 0.0, "{set:?}");
                let k = set.sweep_time.get() * set.rbw.get().powi(2) / set.span.get();
                prop_assert!(k >= profile.ranges.sweep_factor - 1e-9, "{k}");
                prop_assert!(set.spacing().get() <= set.rbw.get() / 2.0 + 1e-6, "{set:?}");
                prop_assert!(set.span.get() * SHARE >= task.occupied.get() - 1e-6, "{set:?}");
            }
            prop_assert!(tried[1..].iter().all(|look| look.time() <= Seconds::new(5.0)));
        }

        /// More effort does bring something: less noise, or more attenuation with the line still clear.
        #[test]
        fn further_looks_go_on(carrier in -25.0..5.0f64, below in 30.0..80.0f64, line in 30.0..80.0f64) {
            let (profile, task) = (profile(), task(2, carrier, carrier - below));
            let tried = [first_look(&profile, &task)];
            let left = Seconds::new(10.0);
            if let Some(next) = next_look(&profile, &task, &tried, Hindrance::Floor, left) {
                let gained = rooms(&profile, &task, &next).floor - rooms(&profile, &task, &tried[0]).floor;
                prop_assert!(gained >= Db::new(WORTH_DB));
            }
            let line = Dbm::new(carrier - line);
            if let Some(next) = next_look(&profile, &task, &tried, Hindrance::OwnProduct(line), left) {
                prop_assert!(next.settings.attenuation > tried[0].settings.attenuation);
                let floor = noise_at_input(&profile, next.settings.rbw, next.settings.attenuation);
                prop_assert!(line - floor >= Db::new(CLEAR_DB));
            }
        }
    }
}
