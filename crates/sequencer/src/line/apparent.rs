//! What several looks at one line come to: its level, and how far the analyser's own product may have moved it.
//!
//! A line and a product of the analyser's own have one frequency and an unknown phase. From a look that reads V, and in
//! which the product is at most O, the line lies between V - O and V + O as voltages; looks with different attenuation
//! have different products, and the line lies in all of their ranges at once.

use spurline_judge::{StepRange, StepReading, range_by_steps};
use spurline_path::Distorted;
use spurline_plan::CARRIER_CHANGE_DB;
use spurline_record::ReasonCode;
use spurline_units::{Db, Dbm};

use super::evidence::Evidence;
use super::unkeyed::more;

/// The own product may take this much less than the line and be a small uncertainty; closer, the range is kept.
const OWN_PROVEN_DB: f64 = 20.0;
/// From here on a range can be given by its half width.
const OWN_RESOLVED_DB: f64 = 10.0;
/// Steps that leave no more than this to either side make a value, and what they leave a part of its uncertainty.
const LEFT_DB: f64 = 1.0;
/// Noise so far below a line adds 0.04 dB to it.
const NOISE_COUNTS_DB: f64 = 20.0;
/// Looks are held against each other by as many standard uncertainties of each.
const SURE: f64 = 2.0;

/// A line as all looks together show it.
#[derive(Clone, Copy, Debug)]
pub(super) struct Apparent {
    /// The look that the figure comes from.
    pub(super) best: usize,
    /// The figure: a value, or the most that the line can be.
    pub(super) level: Dbm,
    /// Why the figure is a bound, if it is one.
    pub(super) bound: Option<ReasonCode>,
    /// The least that the line can be, where own products count; nothing for a line in the noise.
    pub(super) lowest: Option<Dbm>,
    /// The most that it can be.
    pub(super) highest: Option<Dbm>,
    /// By how much the own product lies below the line in that look, if somebody guarantees it.
    pub(super) own_below: Option<Db>,
    /// Whether the line is hidden by noise in every look.
    in_noise: bool,
    /// By how much two looks contradict each other beyond what they may.
    pub(super) apart: Option<Db>,
    /// Half of what steps of the attenuator leave of it, where nobody does.
    pub(super) left_by_steps: Option<Db>,
    /// Noise of the unit's own that was counted as a part of it.
    pub(super) noise: Option<Dbm>,
}

impl Apparent {
    /// Of all looks; `None` if there is none.
    ///
    /// `step` is the standard uncertainty of one setting of the attenuator, `ahead` what was made before it.
    pub(super) fn of(looks: &[Evidence], order: u32, step: Db, ahead: &Distorted) -> Option<Self> {
        let apparent = Self { apart: apart(looks, step), ..Self::by_guarantee(looks)? };
        let range = by_steps(looks, order, step).and_then(|range| beside(range, ahead));
        Some(range.map_or(apparent, |range| apparent.narrowed(range)))
    }

    /// What the guaranteed products leave.
    fn by_guarantee(looks: &[Evidence]) -> Option<Self> {
        let tightest = looks.iter().enumerate().filter_map(|(place, look)| Some((place, look.most()?)));
        let tightest = tightest.min_by(|(_, one), (_, other)| one.get().total_cmp(&other.get()));
        let clear = looks.iter().enumerate().filter(|(_, look)| !look.hidden);
        // With the most attenuation that still clears the noise the analyser's own product is the least.
        let best = clear.max_by(|(_, one), (_, other)| {
            let attenuation = one.settings.attenuation.get().total_cmp(&other.settings.attenuation.get());
            attenuation.then(other.random.get().total_cmp(&one.random.get()))
        });
        match best {
            Some((place, look)) => Some(Self::of_line(place, look, looks, tightest)),
            None => Self::in_the_noise(looks, tightest),
        }
    }

    fn of_line(best: usize, look: &Evidence, looks: &[Evidence], tightest: Option<(usize, Dbm)>) -> Self {
        let highest = tightest.map(|(_, level)| level);
        let own_below = look.own.map(|own| look.level - own);
        let lowest = looks.iter().filter_map(Evidence::least).reduce(Dbm::max);
        // Ranges that miss each other by what the sweeps scatter meet in one point.
        let (lowest, highest) = match lowest.zip(highest) {
            Some((low, high)) if low > high => (Some(high), highest),
            _ => (lowest, highest),
        };
        let resolved = own_below.is_some_and(|below| below.get() >= OWN_RESOLVED_DB);
        // A bound is told with the look that it comes from.
        let from = tightest.map(|(place, _)| place).filter(|_| !resolved).unwrap_or(best);
        Self {
            best: from,
            level: if resolved { look.level } else { highest.unwrap_or(look.level) },
            bound: (!resolved).then_some(ReasonCode::OwnDistortion),
            lowest,
            highest,
            own_below,
            in_noise: false,
            apart: None,
            left_by_steps: None,
            noise: None,
        }
    }

    fn in_the_noise(looks: &[Evidence], tightest: Option<(usize, Dbm)>) -> Option<Self> {
        let highest = tightest.map(|(_, level)| level);
        let lowest_bound = |(_, one): &(usize, &Evidence), (_, other): &(usize, &Evidence)| {
            one.level.get().total_cmp(&other.level.get())
        };
        let lowest = looks.iter().enumerate().min_by(lowest_bound)?.0;
        let best = tightest.map_or(lowest, |(place, _)| place);
        let look = &looks[best];
        let own_below = look.own.map(|own| look.level - own);
        let code = match highest {
            // Nothing of the look is certain if the analyser may have cancelled what it should have shown.
            None => ReasonCode::OwnDistortion,
            Some(high) if (high - look.level).get() > 1.0 => ReasonCode::OwnDistortion,
            Some(_) => ReasonCode::FloorTooHigh,
        };
        Some(Self {
            best,
            level: highest.unwrap_or(look.level),
            bound: Some(code),
            lowest: None,
            highest,
            own_below,
            in_noise: true,
            apart: None,
            left_by_steps: None,
            noise: None,
        })
    }

    /// With what the steps of the attenuator tell beside: they count where the product is not guaranteed to be small.
    fn narrowed(self, range: StepRange) -> Self {
        if self.bound != Some(ReasonCode::OwnDistortion) || self.in_noise {
            return self;
        }
        let Some(high) = range.highest else { return self };
        let highest = self.highest.map_or(high, |most| most.min(high));
        let lowest = match (self.lowest, range.lowest) {
            (Some(one), Some(other)) => Some(one.max(other)),
            (one, other) => one.or(other),
        };
        let lowest = lowest.map(|low| low.min(highest));
        let half = lowest.map(|low| (highest - low) / 2.0).filter(|half| half.get() <= LEFT_DB);
        match (half, lowest) {
            (Some(half), Some(low)) => Self {
                level: low + half,
                bound: None,
                lowest,
                highest: Some(highest),
                left_by_steps: Some(half),
                ..self
            },
            _ => Self { level: highest, lowest, highest: Some(highest), ..self },
        }
    }

    /// With noise of the unit's own beside the line, which may be a part of the emission: it counts for the most that
    /// the emission can be, never for the least.
    pub(super) fn with_noise(self, noise: Dbm) -> Self {
        let Some(highest) = self.highest.filter(|_| (self.level - noise).get() < NOISE_COUNTS_DB) else {
            return self;
        };
        let most = more(highest, noise);
        let lowest = self.lowest.or((!self.in_noise).then_some(self.level));
        Self {
            level: most,
            bound: Some(ReasonCode::NoiseLike),
            lowest,
            highest: Some(most),
            left_by_steps: None,
            noise: Some(noise),
            ..self
        }
    }

    /// Whether the own product is proven to be too small to matter.
    pub(super) fn is_proven(&self) -> bool {
        self.bound.is_none() && self.own_below.is_some_and(|below| below.get() >= OWN_PROVEN_DB)
    }
}

/// By how much the least by one look is above the most by another, beyond what scatter, switching and a carrier that may
/// change can make of it.
fn apart(looks: &[Evidence], step: Db) -> Option<Db> {
    let uncertain = |look: &Evidence| look.random.get().hypot(step.get());
    let mut most: Option<Db> = None;
    for one in looks {
        let Some(least) = one.least() else { continue };
        for other in looks {
            let Some(highest) = other.most() else { continue };
            let allowed = SURE * uncertain(one).hypot(uncertain(other)) + CARRIER_CHANGE_DB;
            let gap = least - highest;
            if gap.get() > allowed {
                most = Some(most.map_or(gap, |known| known.max(gap)));
            }
        }
    }
    most
}

/// The range of the line by its looks that are clear of the noise.
fn by_steps(looks: &[Evidence], order: u32, step: Db) -> Option<StepRange> {
    let reading = |look: &Evidence| StepReading {
        attenuation: look.settings.attenuation,
        level: look.level,
        within: Db::new(step.get().hypot(look.random.get()) * SURE),
    };
    let clear: Vec<StepReading> = looks.iter().filter(|look| !look.hidden).map(reading).collect();
    range_by_steps(&clear, order)
}

/// What steps leave where something is made ahead of the attenuator too; `None` if nobody says how little.
fn beside(range: StepRange, ahead: &Distorted) -> Option<StepRange> {
    match ahead {
        Distorted::Not => Some(range),
        Distorted::AtMost(most) => Some(StepRange {
            lowest: range.lowest.and_then(|low| voltage_difference(low, *most)),
            highest: range.highest.map(|high| voltage_sum(high, *most)),
        }),
        Distorted::Unknown(_) => None,
    }
}

impl Evidence {
    /// The most that the line can be by this look; `None` where nobody guarantees the own product.
    fn most(&self) -> Option<Dbm> {
        self.own.map(|own| voltage_sum(self.level, own))
    }

    /// The least that it can be; `None` where that is nothing, or nobody guarantees the own product.
    fn least(&self) -> Option<Dbm> {
        if self.hidden {
            return None;
        }
        self.own.and_then(|own| voltage_difference(self.level, own))
    }
}

pub(crate) fn voltage_sum(one: Dbm, other: Dbm) -> Dbm {
    one + Db::new(20.0 * (other - one).amplitude_ratio().ln_1p() / std::f64::consts::LN_10)
}

/// `None` if the other is as large as the one.
pub(crate) fn voltage_difference(one: Dbm, other: Dbm) -> Option<Dbm> {
    let ratio = (other - one).amplitude_ratio();
    (ratio < 1.0).then(|| one + Db::new(20.0 * (-ratio).ln_1p() / std::f64::consts::LN_10))
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;
    use spurline_record::AnalyserSettings;

    use super::*;
    use crate::trace::{Peak, specimen};

    const STEP: f64 = 0.05;

    fn evidence(attenuation: f64, level: Dbm, own: Option<Dbm>, hidden: bool) -> Evidence {
        let settings = AnalyserSettings { attenuation: Db::new(attenuation), ..specimen(401, 300e3, 10e3) };
        Evidence {
            look: 0,
            settings,
            peak: Peak { point: 200, frequency: settings.centre, level },
            floor: None,
            scatter: None,
            marker: None,
            level,
            raw: level,
            removed: Db::new(0.0),
            hidden,
            own,
            random: Db::new(0.0),
            width: None,
        }
    }

    /// What is read of a line and a product of the analyser's own of some phase: their sum as voltages.
    fn read(line: Dbm, own: Dbm, phase: f64) -> Dbm {
        let ratio = (own - line).amplitude_ratio();
        let sum = 1.0 + ratio * ratio + 2.0 * ratio * phase.cos();
        line + Db::new(10.0 * sum.max(1e-9).log10())
    }

    proptest! {
        /// Whatever the phase, whatever share of the guaranteed product is really there: the line lies in the range.
        #[test]
        fn the_line_lies_in_the_range(
            line in -60.0..0.0f64, below in -10.0..30.0f64, better in 0.0..20.0f64, phase in 0.0..6.3f64,
            order in 2u32..4, steps in 1usize..4,
        ) {
            let line = Dbm::new(line);
            let falls = 10.0 * f64::from(order - 1);
            let looks: Vec<Evidence> = (0..steps)
                .map(|step| {
                    let guaranteed = line - Db::new(below + falls * step as f64);
                    let seen = read(line, guaranteed - Db::new(better), phase);
                    evidence(20.0 + 10.0 * step as f64, seen, Some(guaranteed), false)
                })
                .collect();
            let apparent = Apparent::of(&looks, order, Db::new(STEP), &Distorted::Not).unwrap();
            prop_assert!(apparent.highest.unwrap().get() >= line.get() - 1e-6, "{apparent:?}");
            prop_assert!(apparent.lowest.is_none_or(|low| low.get() <= line.get() + 1e-6), "{apparent:?}");
            if let Some(half) = apparent.left_by_steps {
                prop_assert!((apparent.level - line).abs() <= half + Db::new(1e-6));
            } else if apparent.bound.is_some() {
                prop_assert!(apparent.level.get() >= line.get() - 1e-6);
            } else {
                // A product at least 10 dB below what is read has added at most 3.3 dB to the line, or taken 2.4 dB off.
                let error = (apparent.level - line).get();
                prop_assert!((-2.39..3.31).contains(&error), "{error} {apparent:?}");
            }
        }
    }

    /// 10 log10(10^-4 + 10^-4.5) is -38.8070 dBm (numpy 2.4.6).
    #[test]
    fn noise_of_the_units_own_makes_a_bound() {
        let looks = [evidence(20.0, Dbm::new(-40.0), Some(Dbm::new(-140.0)), false)];
        let apparent = Apparent::of(&looks, 2, Db::new(STEP), &Distorted::Not).unwrap();
        let noisy = apparent.with_noise(Dbm::new(-45.0));
        assert_eq!((noisy.bound, noisy.highest), (Some(ReasonCode::NoiseLike), Some(noisy.level)));
        assert!((noisy.level.get() - -38.807).abs() < 1e-3, "{noisy:?}");
        assert!((noisy.lowest.unwrap().get() - -40.0).abs() < 1e-3, "{noisy:?}");
        assert_eq!(apparent.with_noise(Dbm::new(-61.0)).bound, None);
    }

    /// A line that is there in one look and not in the next is none that the analyser makes.
    #[test]
    fn looks_that_contradict_each_other_are_told() {
        let far = Some(Dbm::new(-110.0));
        let of = |levels: [f64; 2]| {
            let looks = levels.map(|level| evidence(20.0, Dbm::new(level), far, false));
            Apparent::of(&looks, 2, Db::new(STEP), &Distorted::Not).unwrap().apart
        };
        assert!(of([-14.0, -24.0]).is_some_and(|by| (by.get() - 10.0).abs() < 0.1));
        assert_eq!(of([-14.0, -14.4]), None);
        let hidden =
            [evidence(20.0, Dbm::new(-14.0), far, false), evidence(20.0, Dbm::new(-40.0), far, true)];
        assert!(Apparent::of(&hidden, 2, Db::new(STEP), &Distorted::Not).unwrap().apart.is_some());
    }

    #[test]
    fn nobody_guarantees_nothing_is_certain() {
        let apparent =
            Apparent::of(&[evidence(20.0, Dbm::new(-40.0), None, false)], 2, Db::new(STEP), &Distorted::Not)
                .unwrap();
        assert_eq!(apparent.bound, Some(ReasonCode::OwnDistortion));
        assert!(apparent.highest.is_none() && apparent.lowest.is_none());
    }

    /// The look with the most attenuation counts, as long as it is clear of the noise.
    #[test]
    fn the_most_attenuated_clear_look_counts() {
        let far = Some(Dbm::new(-90.0));
        let looks = [
            evidence(10.0, Dbm::new(-40.0), far, false),
            evidence(20.0, Dbm::new(-40.2), far, false),
            evidence(30.0, Dbm::new(-38.0), far, true),
        ];
        let apparent = Apparent::of(&looks, 2, Db::new(STEP), &Distorted::Not).unwrap();
        assert_eq!((apparent.best, apparent.level, apparent.bound), (1, Dbm::new(-40.2), None));
    }
}
