//! What key-downs ask of the unit and of the parts that it is keyed into, and how long both must rest.
//!
//! The forecast and the run ask here, so that what was promised beforehand is what is done.

use spurline_path::{Part, PathError};
use spurline_units::{Hertz, Seconds, Watts};

use crate::job::Job;
use crate::model::{Key, REST_FACTOR};
use crate::way::Way;

/// The unit is keyed only for so long in any time of this length.
pub const DUTY_WINDOW: Seconds = Seconds::new(300.0);
/// A part is warmed by no more than this share of what it may rise by: half to two thirds (common practice).
pub const MOST_RISE: f64 = 2.0 / 3.0;
/// The temperature that a part is rated at, and that at which it may be given nothing any more, in degrees Celsius
/// (common practice).
const RATED_AT: f64 = 25.0;
const HOTTEST: f64 = 125.0;

/// A part and how much a carrier warms it.
#[derive(Clone, Debug, PartialEq)]
pub struct Heating {
    /// The part.
    pub part: String,
    /// What becomes heat in it, as a share of what it is rated for: after a long time it has risen by that share.
    pub share: f64,
    /// How long it takes to come to 63 % of that.
    pub time_constant: Seconds,
}

/// How warm a part has become.
#[derive(Clone, Debug, PartialEq)]
pub struct Warmed {
    /// The part.
    pub part: String,
    /// As a share of what it may rise by.
    pub rise: f64,
}

impl Warmed {
    /// Its temperature in degrees Celsius, in a room at 25.
    #[must_use]
    pub fn temperature(&self) -> f64 {
        RATED_AT + self.rise * (HOTTEST - RATED_AT)
    }
}

/// What a part that has risen by `rise` comes to in a time in which it is given `share`; both as shares of what it is rated
/// for and may rise by.
#[must_use]
pub fn risen(rise: f64, share: f64, time: Seconds, time_constant: Seconds) -> f64 {
    share + (rise - share) * (-(time / time_constant)).exp()
}

/// How warm a part is at some moment, without what warmed it.
#[derive(Clone, Debug, PartialEq)]
pub struct Warm {
    /// The part.
    pub part: String,
    /// How far it has risen, as a share of what it may rise by.
    pub rise: f64,
    /// How long it takes to cool to 37 % of that.
    pub time_constant: Seconds,
}

impl Warm {
    /// The same once it has cooled for some time.
    #[must_use]
    pub fn cooled(self, time: Seconds) -> Self {
        Self { rise: risen(self.rise, 0.0, time, self.time_constant), ..self }
    }
}

/// A part whose power is rated at 25 degC bears so much of that in surroundings of another temperature: all of it up to
/// 25 degC, nothing at 125 degC.
#[must_use]
pub fn derated(celsius: f64) -> f64 {
    ((HOTTEST - celsius) / (HOTTEST - RATED_AT)).clamp(0.0, 1.0)
}

/// The key-downs of a run so far. Times are spans since any fixed start, and do not run backwards.
#[derive(Clone, Debug)]
pub struct Keying {
    key: Key,
    spans: Vec<Down>,
    parts: Vec<State>,
    warmest: Option<Warmed>,
}

#[derive(Clone, Copy, Debug)]
struct Down {
    from: Seconds,
    to: Seconds,
    /// Whether the unit rests only as many times as long as it was keyed, and no longer.
    brief: bool,
}

#[derive(Clone, Debug)]
struct State {
    part: String,
    rise: f64,
    at: Seconds,
    time_constant: Seconds,
}

impl State {
    fn rise_at(&self, now: Seconds) -> f64 {
        risen(self.rise, 0.0, now - self.at, self.time_constant)
    }
}

impl Keying {
    /// Nothing has been keyed.
    #[must_use]
    pub fn new(key: Key) -> Self {
        Self { key, spans: Vec::new(), parts: Vec::new(), warmest: None }
    }

    /// The same with parts that are warm at a moment, whatever warmed them.
    #[must_use]
    pub fn warm_at(mut self, at: Seconds, parts: &[Warm]) -> Self {
        self.parts = parts
            .iter()
            .map(|warm| State {
                part: warm.part.clone(),
                rise: warm.rise,
                at,
                time_constant: warm.time_constant,
            })
            .collect();
        self
    }

    /// How warm each part is.
    #[must_use]
    pub fn warm(&self, now: Seconds) -> Vec<Warm> {
        let of = |state: &State| Warm {
            part: state.part.clone(),
            rise: state.rise_at(now),
            time_constant: state.time_constant,
        };
        self.parts.iter().map(of).collect()
    }

    /// Takes note of a key-down.
    pub fn keyed(&mut self, from: Seconds, to: Seconds, heating: &[Heating]) {
        self.spans.push(Down { from, to, brief: false });
        for heating in heating {
            let begun = self.rise_of(&heating.part, from);
            let rise = risen(begun, heating.share, to - from, heating.time_constant);
            let (part, time_constant) = (heating.part.clone(), heating.time_constant);
            if self.warmest.as_ref().is_none_or(|warmest| rise > warmest.rise) {
                self.warmest = Some(Warmed { part: part.clone(), rise });
            }
            self.parts.retain(|state| state.part != part);
            self.parts.push(State { part, rise, at: to, time_constant });
        }
    }

    /// Takes note of a glimpse.
    pub fn glimpsed(&mut self, from: Seconds, to: Seconds, heating: &[Heating]) {
        self.keyed(from, to, heating);
        if let Some(last) = self.spans.last_mut() {
            last.brief = self.key.has_brief();
        }
    }

    fn rise_of(&self, part: &str, now: Seconds) -> f64 {
        self.parts.iter().find(|state| state.part == part).map_or(0.0, |state| state.rise_at(now))
    }

    /// The part that has become warmest at the end of a key-down.
    #[must_use]
    pub fn warmest(&self) -> Option<&Warmed> {
        self.warmest.as_ref()
    }

    /// How long the unit must rest from `now` until it may be keyed for as long as it ever is.
    ///
    /// # Errors
    ///
    /// The part that becomes too warm in such a key-down however long it rests, and how warm.
    pub fn wait(&self, now: Seconds, heating: &[Heating]) -> Result<Seconds, Warmed> {
        let until = self.rested().max(self.below_duty());
        let mut wait = (until - now).max(Seconds::default());
        for heating in heating {
            wait = wait.max(self.cooled(now, heating)?);
        }
        Ok(wait)
    }

    fn rested(&self) -> Seconds {
        self.spans
            .last()
            .map_or(Seconds::default(), |last| last.to + self.rest_after(last.to - last.from, last.brief))
    }

    /// How long the unit rests at least after a key-down; after a `brief` one, however long it rests otherwise.
    pub(crate) fn rest_after(&self, held: Seconds, brief: bool) -> Seconds {
        let least = if brief { Seconds::default() } else { self.key.rest };
        least.max(held * f64::from(REST_FACTOR))
    }

    /// When the longest key-down may begin without any window holding more than it may: what lies before it in its window
    /// must leave room for it.
    fn below_duty(&self) -> Seconds {
        let room = self.key.most_in_5_min - self.key.longest;
        let mut taken = Seconds::default();
        for Down { from, to, .. } in self.spans.iter().rev() {
            let span = *to - *from;
            if taken + span > room {
                // The window begins where only as much of this one is left as there is room for.
                let begins = *to - (room - taken).max(Seconds::default());
                return begins + DUTY_WINDOW - self.key.longest;
            }
            taken = taken + span;
        }
        Seconds::default()
    }

    /// How long a part must cool so that the longest key-down does not make it too warm.
    fn cooled(&self, now: Seconds, heating: &Heating) -> Result<Seconds, Warmed> {
        let Heating { part, share, time_constant } = heating;
        let cold = risen(0.0, *share, self.key.longest, *time_constant);
        if cold > MOST_RISE {
            return Err(Warmed { part: part.clone(), rise: cold });
        }
        // How much of a rise at the beginning is left at the end.
        let left = (-(self.key.longest / *time_constant)).exp();
        let most = (MOST_RISE - cold) / left;
        let rise = self.rise_of(part, now);
        if rise <= most {
            return Ok(Seconds::default());
        }
        Ok(*time_constant * (rise / most.max(f64::MIN_POSITIVE)).ln())
    }
}

impl Job {
    /// What a carrier warms on a way and on that of the power meter: every part with a rating.
    ///
    /// # Errors
    ///
    /// If the path does not cover the carrier.
    pub fn heating(&self, way: &Way, carrier: Hertz, power: Watts) -> Result<Vec<Heating>, PathError> {
        let mut found: Vec<Heating> = Vec::new();
        for branch in std::iter::once(&way.branch).chain(&self.bench.meter) {
            let powers = branch.path.power_into_each(power, carrier)?;
            for (power, part) in powers.into_iter().zip(&branch.path.parts) {
                let Some(rated) = part.rated.filter(|rated| rated.get() > 0.0) else { continue };
                if found.iter().all(|known| known.part != part.name) {
                    let share = power.dissipated / rated;
                    found.push(Heating {
                        part: part.name.clone(),
                        share,
                        time_constant: time_constant(part),
                    });
                }
            }
        }
        Ok(found)
    }
}

/// The body of an attenuator of some watts takes minutes to warm (common practice).
const TIME_CONSTANT: Seconds = Seconds::new(180.0);

fn time_constant(part: &Part) -> Seconds {
    part.time_constant.unwrap_or(TIME_CONSTANT)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn s(seconds: f64) -> Seconds {
        Seconds::new(seconds)
    }

    fn key(longest: f64, rest: f64, most: f64) -> Key {
        Key {
            longest: s(longest),
            rest: s(rest),
            most_in_5_min: s(most),
            own_timer: None,
            comes_within: s(60.0),
            span: None,
        }
    }

    /// 1 - exp(-t / 180 s) by the exponential of Python 3.11: 0.153518, 0.283469, 0.632121, 0.964326.
    #[test]
    fn a_part_warms_by_its_time_constant() {
        for (time, rise) in [(30.0, 0.153_518), (60.0, 0.283_469), (180.0, 0.632_121), (600.0, 0.964_326)] {
            let found = risen(0.0, 1.0, s(time), s(180.0));
            assert!((found - rise).abs() < 1e-6, "{time} s: {found}");
        }
        let warm = Warmed { part: "pad".to_owned(), rise: 0.5 };
        assert!((warm.temperature() - 75.0).abs() < 1e-9);
    }

    /// Linear derating of 50 W at 25 degC with nothing left at 125 degC: 25 W at 75 degC, 12.5 W at 100 degC (an
    /// attenuator maker's usual curve).
    #[test]
    fn a_part_bears_less_where_it_is_warm() {
        for (celsius, watts) in [(25.0, 50.0), (75.0, 25.0), (100.0, 12.5), (125.0, 0.0), (0.0, 50.0)] {
            assert!((50.0 * derated(celsius) - watts).abs() < 1e-9, "{celsius}");
        }
    }

    /// By hand: three key-downs of 20 s fill 60 s; the fourth waits until the first has left the window that ends with it.
    #[test]
    fn no_window_holds_more_than_it_may() {
        let mut keying = Keying::new(key(20.0, 0.0, 60.0));
        for from in [0.0, 80.0, 160.0] {
            assert_eq!(keying.wait(s(from), &[]).unwrap(), s(0.0), "{from}");
            keying.keyed(s(from), s(from + 20.0), &[]);
        }
        // The window from 20 s to 320 s holds 40 s of before, and 20 s from 300 s on.
        assert_eq!(keying.wait(s(240.0), &[]).unwrap(), s(60.0));
    }

    #[test]
    fn a_part_that_is_warm_must_cool_and_one_that_cannot_bear_it_is_told() {
        let hot = [Heating { part: "pad".to_owned(), share: 1.0, time_constant: s(180.0) }];
        let mut keying = Keying::new(key(120.0, 0.0, 300.0));
        keying.keyed(s(0.0), s(120.0), &hot);
        // 1 - exp(-2/3) = 0.4866; it may begin at (0.6667 - 0.4866) / 0.5134 = 0.3508: 180 s ln(0.4866 / 0.3508) = 58.9 s.
        let wait = keying.cooled(s(120.0), &hot[0]).unwrap();
        assert!((wait.get() - 58.9).abs() < 0.1, "{wait}");
        let begins = s(120.0) + wait;
        keying.keyed(begins, begins + s(120.0), &hot);
        assert!((keying.warmest().unwrap().rise - MOST_RISE).abs() < 1e-9);
        let never = Keying::new(key(300.0, 0.0, 300.0)).wait(s(0.0), &hot).unwrap_err();
        assert!((never.rise - 0.811).abs() < 1e-3, "{never:?}");
    }

    /// What was keyed before warms what is keyed now: split over two or not, a part comes to the same.
    #[test]
    fn warmth_is_carried_on() {
        let hot = [Heating { part: "pad".to_owned(), share: 1.0, time_constant: s(180.0) }];
        let mut whole = Keying::new(key(120.0, 0.0, 300.0));
        whole.keyed(s(0.0), s(60.0), &hot);
        whole.keyed(s(90.0), s(150.0), &hot);
        let mut first = Keying::new(key(120.0, 0.0, 300.0));
        first.keyed(s(0.0), s(60.0), &hot);
        let warm: Vec<Warm> = first.warm(s(60.0)).into_iter().map(|warm| warm.cooled(s(30.0))).collect();
        // 1 - exp(-1/3) = 0.283469, cooled by exp(-1/6) = 0.846482.
        assert!((warm[0].rise - 0.283_469 * 0.846_482).abs() < 1e-6, "{warm:?}");
        let mut second = Keying::new(key(120.0, 0.0, 300.0)).warm_at(s(0.0), &warm);
        second.keyed(s(0.0), s(60.0), &hot);
        let rise = |keying: &Keying| keying.warmest().unwrap().rise;
        assert!((rise(&second) - rise(&whole)).abs() < 1e-12);
    }

    proptest! {
        /// Whenever it keys after the wait, no 5 min hold more than they may, and no part is warmer than it may be.
        #[test]
        fn what_waits_keeps_within_both(downs in prop::collection::vec((0.1..20.0f64, 0.0..90.0f64), 1..30), share in 0.0..5.0f64) {
            let heating = [Heating { part: "pad".to_owned(), share, time_constant: s(180.0) }];
            let mut keying = Keying::new(key(20.0, 0.0, 60.0));
            let mut now = 0.0;
            for (held, idle) in downs {
                now += idle;
                let Ok(wait) = keying.wait(s(now), &heating) else { return Ok(()) };
                now += wait.get();
                keying.keyed(s(now), s(now + held), &heating);
                now += held;
                let begins = now - DUTY_WINDOW.get();
                let inside: f64 = keying.spans.iter().map(|Down { from, to, .. }| (to.get() - from.get().max(begins)).max(0.0)).sum();
                prop_assert!(inside <= 60.0 + 1e-6, "{inside}");
                prop_assert!(keying.warmest().is_none_or(|warmest| warmest.rise <= MOST_RISE + 1e-9));
            }
        }
    }
}
