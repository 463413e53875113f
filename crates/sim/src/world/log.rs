//! When the unit transmitted, and what that did to it and to the path: keyed time and warmth.

use std::time::Duration;

use spurline_clock::Moment;

use super::timeline::Timeline;
use super::unit::Setting;

/// What ends a transmission, and how fast things warm up; times in seconds.
#[derive(Clone, Copy, Debug)]
pub(super) struct Laws {
    /// Longest transmission.
    pub(super) time_out: Option<f64>,
    /// Transmitting in all after which nothing comes any more.
    pub(super) dies_after: Option<f64>,
    /// Time constant of the unit's own warmth.
    pub(super) warms_in: f64,
}

/// Time constant of the parts of the path: that of the body of a pad of some tens of watts; common practice.
const PATH_WARMS_IN: f64 = 180.0;

/// Stretches of transmitting at one setting, in the order of time.
#[derive(Clone, Debug, Default)]
pub(super) struct Log {
    stretches: Vec<Stretch>,
}

#[derive(Clone, Copy, Debug)]
struct Stretch {
    from: Moment,
    /// Open as far as anybody knows yet.
    until: Option<Moment>,
    /// When the unit came up.
    since: Moment,
    /// The power of the setting as a ratio to the highest.
    load: f64,
    /// What there was at `from`.
    start: Worn,
}

/// What transmitting has left behind.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Worn {
    /// Seconds of transmitting in all.
    pub(super) keyed: f64,
    /// How warm the unit is, from 0 to 1.
    pub(super) unit: f64,
    /// How warm the path is, from 0 to 1.
    pub(super) path: f64,
}

impl Log {
    /// Follows changes from `now` on of what is behind a transmission: a closed key, a unit that is ready, and its
    /// setting, of which `load` tells the power as a ratio to the highest.
    pub(super) fn follow(
        &mut self,
        now: Moment,
        key: &Timeline<bool>,
        ready: &Timeline<bool>,
        setting: &Timeline<Setting>,
        laws: &Laws,
        load: impl Fn(Setting) -> f64,
    ) {
        while self.stretches.pop_if(|last| last.until.is_none_or(|until| until > now)).is_some() {}
        let settled = self.stretches.last().and_then(|last| last.until);
        let mut moments: Vec<Moment> =
            key.from(settled).chain(ready.from(settled)).chain(setting.from(settled)).collect();
        moments.sort_unstable();
        moments.dedup();
        for (i, from) in moments.iter().copied().enumerate() {
            if !(*key.at(from) && *ready.at(from)) {
                continue;
            }
            let Some(since) = key.since(from).max(ready.since(from)) else { continue };
            let start = self.worn(from, laws);
            let longest = [
                laws.time_out.map(|longest| longest - from.since(since).as_secs_f64()),
                laws.dies_after.map(|longest| longest - start.keyed),
            ];
            let longest = longest.into_iter().flatten().reduce(f64::min);
            if longest.is_some_and(|longest| longest <= 0.0) {
                continue;
            }
            let cut = longest.map(|longest| from.after(Duration::from_secs_f64(longest)));
            let next = moments.get(i + 1).copied();
            let until = [cut, next].into_iter().flatten().min();
            self.stretches.push(Stretch { from, until, since, load: load(*setting.at(from)), start });
        }
    }

    /// Since when the unit has been transmitting, if it is.
    pub(super) fn transmitting_since(&self, at: Moment) -> Option<Moment> {
        let last = self.last(at)?;
        last.until.is_none_or(|until| at < until).then_some(last.since)
    }

    /// What all transmissions up to a moment have left.
    pub(super) fn worn(&self, at: Moment, laws: &Laws) -> Worn {
        let Some(last) = self.last(at) else { return Worn::default() };
        let end = last.until.map_or(at, |until| until.min(at));
        let (on, off) = (end.since(last.from).as_secs_f64(), at.since(end).as_secs_f64());
        let warmth = |start: f64, target: f64, constant: f64| {
            let warmed = target + (start - target) * (-on / constant).exp();
            warmed * (-off / constant).exp()
        };
        Worn {
            keyed: last.start.keyed + on,
            unit: warmth(last.start.unit, 1.0, laws.warms_in),
            path: warmth(last.start.path, last.load, PATH_WARMS_IN),
        }
    }

    /// The last stretch that has begun.
    fn last(&self, at: Moment) -> Option<&Stretch> {
        self.stretches
            .partition_point(|stretch| stretch.from <= at)
            .checked_sub(1)
            .map(|i| &self.stretches[i])
    }
}

#[cfg(test)]
mod tests;
