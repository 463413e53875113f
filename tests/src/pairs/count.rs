//! What comparisons of many pairs say, held against what was shifted.

use std::ops::Range;
use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering};

use spurline_report::{Change, Comparison, Said, Terms};

use super::drawn::{Pair, Shifted};
use super::run::measured;

/// Shifts that are put in beside none and the smallest detectable one, dB; one after the other over the pairs.
const SHIFTS: [f64; 4] = [0.5, 1.0, 2.0, 3.0];
/// Where a shift stands to the smallest detectable one.
const RATIOS: [f64; 3] = [0.5, 1.0, 1.5];

/// So many out of so many.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Share {
    /// So many.
    pub hits: u32,
    /// Out of so many.
    pub of: u32,
}

impl Share {
    fn add(&mut self, hit: bool) {
        self.of += 1;
        self.hits += u32::from(hit);
    }

    fn words(&self) -> String {
        if self.of == 0 {
            return "none".to_owned();
        }
        let share = f64::from(self.hits) / f64::from(self.of);
        format!("{} of {}, {:.1} %", self.hits, self.of, 100.0 * share)
    }
}

/// What many pairs came to.
#[derive(Clone, Debug, Default)]
pub struct Count {
    /// Pairs of runs without a shift in which any reading is called shifted.
    pub false_alarms: Share,
    /// Readings in them that were asked, and those that are called shifted.
    pub false_readings: Share,
    /// Intervals that hold the true shift, of single readings, of every pair of runs.
    pub held: Share,
    /// Shifts of the smallest size that was stated as detectable, and those that are called one.
    pub at_detectable: Share,
    /// The same by the size of the shift, dB.
    pub by_size: [Share; 4],
    /// The same by its size over the smallest detectable one: below a half, to one, to one and a half, above.
    pub by_ratio: [Share; 4],
    /// Other readings that are called shifted beside one that is.
    pub beside: Share,
    /// The smallest detectable shifts of values that were stated, dB.
    pub detectable: Vec<f64>,
    /// Pairs that could not be measured or compared, and why.
    pub broken: Vec<String>,
}

impl Count {
    /// Whether false alarms are as rare as they may be, and detections as common as they must be, as far as so many pairs
    /// can tell.
    #[must_use]
    pub fn keeps_all(&self) -> bool {
        let Terms { risk, power, .. } = Terms::default();
        // Too many or too few by more than chance makes of the stated share.
        let many = at_least(self.false_alarms, risk) > 0.01;
        let missed =
            Share { hits: self.at_detectable.of - self.at_detectable.hits, of: self.at_detectable.of };
        let few = at_least(missed, 1.0 - power) > 0.01;
        many && few && self.broken.is_empty()
    }
}

/// The chance of so many hits or more where each comes with this chance.
fn at_least(share: Share, chance: f64) -> f64 {
    1.0 - (0..share.hits).map(|hits| binomial(hits, share.of, chance)).sum::<f64>()
}

fn binomial(hits: u32, of: u32, chance: f64) -> f64 {
    let (k, n) = (f64::from(hits), f64::from(of));
    let ways = libm::lgamma(n + 1.0) - libm::lgamma(k + 1.0) - libm::lgamma(n - k + 1.0);
    (ways + k * chance.ln() + (n - k) * (-chance).ln_1p()).exp()
}

/// The largest chance with which so few hits still come in 5 % of all cases (Clopper and Pearson, one side).
#[must_use]
pub fn upper_bound(share: Share) -> f64 {
    let (mut low, mut high) = (0.0, 1.0);
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        let at_most: f64 = (0..=share.hits).map(|hits| binomial(hits, share.of, middle)).sum();
        if at_most > 0.05 { low = middle } else { high = middle }
    }
    high
}

/// Measures and compares the pairs of these seeds, `threads` at a time.
#[must_use]
pub fn counted(seeds: Range<u64>, threads: usize) -> Count {
    let next = AtomicU64::new(seeds.start);
    let count = Mutex::new(Count::default());
    std::thread::scope(|scope| {
        for _ in 0..threads.max(1) {
            scope.spawn(|| {
                loop {
                    let seed = next.fetch_add(1, Ordering::Relaxed);
                    if seed >= seeds.end {
                        return;
                    }
                    let told = one(seed);
                    let mut count = count.lock().expect("no thread panics with the lock");
                    match told {
                        Ok(told) => told.add_to(&mut count),
                        Err(why) => count.broken.push(format!("{seed}: {why}")),
                    }
                }
            });
        }
    });
    count.into_inner().expect("no thread panics with the lock")
}

/// What one pair says.
struct Told {
    still: Vec<Asked>,
    shifted: Vec<Asked>,
    at_detectable: Option<Vec<Asked>>,
    by: f64,
    target: usize,
}

/// One reading of a comparison: whether it is called shifted, whether its interval holds the truth, what could be seen.
#[derive(Clone, Copy, Debug)]
struct Asked {
    is_target: bool,
    is_real: bool,
    holds: Option<bool>,
    detectable: Option<f64>,
}

fn one(seed: u64) -> Result<Told, String> {
    let pair = Pair::draw(seed);
    let at = |visit, by| measured(&pair, Shifted { visit, by });
    let (first, again) = (at(1, 0.0)?, at(2, 0.0)?);
    let compared = |after: &super::Measured, by| -> Result<Vec<Asked>, String> {
        let found = Comparison::of(&[first.view()], after.view(), Terms::default());
        let found = found.map_err(|error| error.to_string())?;
        let target = pair.target();
        Ok(found
            .changes
            .iter()
            .filter(|change| change.is_compared())
            .map(|c| asked(c, &target, by))
            .collect())
    };
    let target = (seed % SHIFTS.len() as u64) as usize;
    let by = SHIFTS[target];
    let still = compared(&again, 0.0)?;
    let shifted = compared(&at(3, by)?, by)?;
    let stated = still.iter().find(|asked| asked.is_target).and_then(|asked| asked.detectable);
    let at_detectable = match stated {
        Some(by) => Some(compared(&at(4, by)?, by)?),
        None => None,
    };
    Ok(Told { still, shifted, at_detectable, by, target })
}

fn asked(change: &Change, (channel, order): &(String, u32), by: f64) -> Asked {
    let is_target =
        change.place.starts_with(&format!("{channel},")) && change.title == format!("Harmonic {order}");
    let truth = if is_target { by } else { 0.0 };
    let (holds, detectable) = match &change.said {
        Said::Shift { interval: [low, high], detectable, .. } => {
            (Some(*low <= truth && truth <= *high), Some(*detectable))
        }
        _ => (None, None),
    };
    Asked { is_target, is_real: change.is_real(), holds, detectable }
}

impl Told {
    fn add_to(&self, count: &mut Count) {
        count.false_alarms.add(self.still.iter().any(|asked| asked.is_real));
        for asked in &self.still {
            count.false_readings.add(asked.is_real);
            count.detectable.extend(asked.detectable);
        }
        for asked in self.still.iter().chain(&self.shifted) {
            if let Some(holds) = asked.holds {
                count.held.add(holds);
            }
        }
        count.beside.add(self.shifted.iter().any(|asked| !asked.is_target && asked.is_real));
        if let Some(target) = self.shifted.iter().find(|asked| asked.is_target) {
            count.by_size[self.target].add(target.is_real);
            if let Some(detectable) = target.detectable {
                let ratio = self.by / detectable;
                let place = RATIOS.iter().take_while(|edge| ratio > **edge).count();
                count.by_ratio[place].add(target.is_real);
            }
        }
        if let Some(found) = &self.at_detectable {
            // A line that its own shift brought out of sight or into it is not what was asked.
            let target = found.iter().find(|asked| asked.is_target);
            count.at_detectable.add(target.is_some_and(|asked| asked.is_real));
        }
    }
}

/// The figures as text.
#[must_use]
pub fn page(count: &Count) -> String {
    let mut sorted = count.detectable.clone();
    sorted.sort_by(f64::total_cmp);
    let at = |part: f64| {
        sorted
            .get((part * sorted.len() as f64) as usize)
            .map_or_else(|| "none".to_owned(), |db| format!("{db:.2} dB"))
    };
    let mut text = format!(
        "pairs of runs without a shift, called shifted: {} (at most {:.1} % with 95 % confidence)\n\
         readings in them, called shifted: {}\n\
         intervals that hold the true shift: {}\n\
         shifts of the smallest size that was stated as detectable, found: {}\n",
        count.false_alarms.words(),
        100.0 * upper_bound(count.false_alarms),
        count.false_readings.words(),
        count.held.words(),
        count.at_detectable.words(),
    );
    for (by, share) in SHIFTS.iter().zip(&count.by_size) {
        text.push_str(&format!("shifts of {by} dB, found: {}\n", share.words()));
    }
    let names =
        ["below half of it", "from half of it to it", "from it to one and a half times it", "above that"];
    for (name, share) in names.iter().zip(&count.by_ratio) {
        text.push_str(&format!(
            "shifts against the smallest detectable one, {name}, found: {}\n",
            share.words()
        ));
    }
    text.push_str(&format!(
        "pairs of runs with a shift, another reading called shifted: {}\n",
        count.beside.words()
    ));
    text.push_str(&format!(
        "smallest detectable shifts: a tenth below {}, half below {}, nine tenths below {}\n",
        at(0.1),
        at(0.5),
        at(0.9)
    ));
    for broken in &count.broken {
        text.push_str(&format!("broken: {broken}\n"));
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    /// scipy 1.17.1: `stats.beta.ppf(0.95, 11, 490)`, and `stats.binom.sf(34, 500, 0.05)`.
    #[test]
    fn bounds_of_shares() {
        assert!((upper_bound(Share { hits: 10, of: 500 }) - BOUND).abs() < 1e-6);
        assert!((at_least(Share { hits: 35, of: 500 }, 0.05) - TAIL).abs() < 1e-6);
    }

    const BOUND: f64 = 0.033_688_27;
    const TAIL: f64 = 0.030_260_31;
}
