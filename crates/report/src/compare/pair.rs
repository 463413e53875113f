//! Which readings of two runs are of the same thing.

use spurline_record::{AnalyserSettings, Quantity, Reading};
use spurline_units::{Dbm, Hertz};

use crate::{figures, scope};

/// A reading that the other run has nothing like.
#[derive(Clone, Debug, PartialEq)]
pub struct Single {
    /// Its number in its run.
    pub ordinal: u32,
    /// What it is.
    pub title: String,
    /// In which state of unit and bench.
    pub place: String,
    /// At which frequency.
    pub frequency: Hertz,
    /// Its figure, for people.
    pub figure: String,
    /// Its outcome.
    pub outcome: spurline_record::Outcome,
    /// What is to be said of it.
    pub remark: String,
}

impl Single {
    pub(super) fn of(reading: &Reading, remark: impl Into<String>) -> Self {
        Self {
            ordinal: reading.ordinal,
            title: reading.title(),
            place: scope::name(&reading.scope),
            frequency: reading.frequency,
            figure: figures::figure(reading.figure.as_ref()),
            outcome: reading.outcome,
            remark: remark.into(),
        }
    }
}

/// One reading after the change, and those of the runs before it that are of the same thing; either may be missing.
#[derive(Clone, Debug)]
pub(super) struct Pair<'a> {
    /// One place for each run before; `None` where it has nothing like it.
    pub(super) before: Vec<Option<&'a Reading>>,
    pub(super) after: Option<&'a Reading>,
}

/// Pairs the readings of the run after with those of the runs before, in the order of the run after; those that only runs
/// before have come at the end.
pub(super) fn pairs<'a>(before: &[&'a [Reading]], after: &'a [Reading]) -> Vec<Pair<'a>> {
    let mut left: Vec<Vec<&Reading>> = before.iter().map(|readings| readings.iter().collect()).collect();
    let mut pairs: Vec<Pair<'a>> = after
        .iter()
        .map(|reading| {
            let before = left.iter_mut().map(|left| take(left, reading)).collect();
            Pair { before, after: Some(reading) }
        })
        .collect();
    for run in 0..left.len() {
        while !left[run].is_empty() {
            let first = left[run].remove(0);
            let others = left
                .iter_mut()
                .enumerate()
                .map(|(other, left)| if other == run { Some(first) } else { take(left, first) });
            pairs.push(Pair { before: others.collect(), after: None });
        }
    }
    pairs
}

/// Takes the reading that is of the same thing out of a list.
fn take<'a>(left: &mut Vec<&'a Reading>, reading: &Reading) -> Option<&'a Reading> {
    let off = |other: &Reading| (other.frequency - reading.frequency).get().abs();
    let like = left.iter().enumerate().filter(|(_, other)| is_same(other, reading));
    let place =
        like.min_by(|(_, one), (_, other)| off(one).total_cmp(&off(other))).map(|(place, _)| place)?;
    Some(left.remove(place))
}

/// Whether two readings are of the same thing.
pub(crate) fn is_same(one: &Reading, other: &Reading) -> bool {
    /// Channels of one name may have been moved; no step of a synthesiser is so fine.
    const SAME_CARRIER_HZ: f64 = 1.0;
    let (of_one, of_other) = (&one.scope, &other.scope);
    let same_carrier = (of_one.carrier - of_other.carrier).get().abs() < SAME_CARRIER_HZ;
    let same = one.quantity == other.quantity
        && of_one.channel == of_other.channel
        && same_carrier
        && of_one.power_setting == of_other.power_setting
        && of_one.supply == of_other.supply
        && of_one.path == of_other.path
        && one.order == other.order;
    if one.quantity != Quantity::Spurious {
        return same && one.name == other.name;
    }
    // What a search found has no name of its own: it is where it is, as well as the filter tells.
    let within = bandwidth(one).max(bandwidth(other));
    same && (one.frequency - other.frequency).get().abs() <= within.get()
}

/// The filter that a reading was read with.
fn bandwidth(reading: &Reading) -> Hertz {
    settings(reading).map_or(Hertz::default(), |settings| settings.rbw)
}

/// The settings of the look that the figure of a reading comes from.
pub(super) fn settings(reading: &Reading) -> Option<&AnalyserSettings> {
    let place = reading.proof.read_from?.checked_sub(1)?;
    reading.acquisitions.get(place as usize).map(|look| &look.settings)
}

/// What the search of a run saw at a frequency that another run found something at; `None` where it did not look.
pub(crate) fn seen_by_search(readings: &[Reading], found: &Reading) -> Option<Dbm> {
    let search = readings.iter().find(|reading| {
        reading.quantity == Quantity::Search && reading.scope == found.scope && reading.series.is_some()
    })?;
    let [frequency, keyed, ..] = search.series.as_ref()?.columns.as_slice() else { return None };
    let at = found.frequency.get();
    let places: Vec<f64> = frequency.values.iter().map(|value| value.unwrap_or(f64::NAN)).collect();
    let (first, last) = (*places.first()?, *places.last()?);
    if !(first <= at && at <= last) {
        return None;
    }
    // The drawing is thinned to the highest of each step: the line is in the nearest one, or in one beside it.
    let off = |place: &usize| (places[*place] - at).abs();
    let nearest = (0..places.len()).min_by(|one, other| off(one).total_cmp(&off(other)))?;
    let near = nearest.saturating_sub(1)..=(nearest + 1).min(places.len() - 1);
    let levels = near.filter_map(|place| keyed.values.get(place).copied().flatten());
    levels.reduce(f64::max).map(Dbm::new)
}
