//! What several looks at one line come to: its level, and how far the analyser's own product may have moved it.
//!
//! A line and a product of the analyser's own have one frequency and an unknown phase. From a look that reads V, and in
//! which the product is at most O, the line lies between V - O and V + O as voltages; looks with different attenuation
//! have different products, and the line lies in all of their ranges at once.

use spurline_record::ReasonCode;
use spurline_units::{Db, Dbm};

use super::evidence::Evidence;

/// The own product may take this much less than the line and be a small uncertainty; closer, the range is kept.
const OWN_PROVEN_DB: f64 = 20.0;
/// From here on a range can be given by its half width.
const OWN_RESOLVED_DB: f64 = 10.0;

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
}

impl Apparent {
    /// Of all looks; `None` if there is none.
    pub(super) fn of(looks: &[Evidence]) -> Option<Self> {
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
        })
    }

    /// Whether the own product is proven to be too small to matter.
    pub(super) fn is_proven(&self) -> bool {
        self.bound.is_none() && self.own_below.is_some_and(|below| below.get() >= OWN_PROVEN_DB)
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

fn voltage_sum(one: Dbm, other: Dbm) -> Dbm {
    one + Db::new(20.0 * (other - one).amplitude_ratio().ln_1p() / std::f64::consts::LN_10)
}

/// `None` if the other is as large as the one.
fn voltage_difference(one: Dbm, other: Dbm) -> Option<Dbm> {
    let ratio = (other - one).amplitude_ratio();
    (ratio < 1.0).then(|| one + Db::new(20.0 * (-ratio).ln_1p() / std::f64::consts::LN_10))
}
