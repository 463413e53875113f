//! What was found held against what was planted.

use std::collections::BTreeMap;
use std::fmt::Write;
use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering};

use spurline_record::{Outcome, Quantity, Reading};

use super::drawn::{Kind, Line, Planted};
use super::run::{Searched, searched};

/// What searches came to.
#[derive(Clone, Debug, Default)]
pub struct Count {
    /// Units that were searched, each on two channels.
    pub units: usize,
    /// Those that could not be, and why.
    pub broken: Vec<String>,
    /// Planted lines of the keyed unit.
    pub planted: usize,
    /// Those that stand 6 dB or more above the floor of the sweep.
    pub clear: usize,
    /// Of those, what was not found.
    pub missed: Vec<String>,
    /// Planted lines that were found, clear or not.
    pub found: usize,
    /// Of those, the ones with another family than was planted.
    pub wrong_family: Vec<String>,
    /// Spurious readings where nothing of the unit's was planted.
    pub invented: Vec<String>,
    /// Lines of others, of the receiver and of the analyser, and those of them that were charged to the unit.
    pub others: usize,
    /// See `others`.
    pub blamed: Vec<String>,
    /// Spurious readings that exceed although the planted level is below the limit by its uncertainty or more, or comply
    /// although it is above by as much.
    pub wrong_outcome: Vec<String>,
    /// Time from the beginning of a keyed sweep to that of the next in the same piece, in seconds, and what
    /// holds x k x span / RBW² comes to.
    pub swept: f64,
    /// See `swept`.
    pub formula: f64,
    /// Points of all keyed sweeps.
    pub points: usize,
    /// Searches by their outcome.
    pub complies: usize,
    /// See `complies`.
    pub undecided: usize,
    /// Why searches are undecided, by the code and by what was planted that hides the unit's: how many, and the words of
    /// one of them.
    pub why: BTreeMap<String, (usize, String)>,
    /// Key-downs and how long they took, in seconds.
    pub key_downs: usize,
    /// See `key_downs`.
    pub keyed: f64,
}

/// A zoomed look shows a line so well, in hertz.
const PLACE: f64 = 4e3;
/// How much above the floor a line must be found.
const CLEAR_DB: f64 = 6.0;
/// What the mismatch of unit and path makes of a planted level at most: 20 log10(1 / (1 - 0.23 x 0.048)) and a little.
const MISMATCH_DB: f64 = 0.3;
/// Sweep time over span / RBW² of the profile that is used.
const K: f64 = 2.5;

/// Searches the units of these seeds, `threads` at a time.
#[must_use]
pub fn counted(seeds: std::ops::Range<u64>, threads: usize) -> Count {
    let next = AtomicU64::new(seeds.start);
    let total = Mutex::new(Count::default());
    std::thread::scope(|scope| {
        for _ in 0..threads {
            scope.spawn(|| {
                loop {
                    let seed = next.fetch_add(1, Ordering::Relaxed);
                    if seed >= seeds.end {
                        return;
                    }
                    let planted = Planted::draw(seed);
                    let ran = searched(&planted);
                    let mut total = total.lock().expect("no thread panics with the lock");
                    total.units += 1;
                    match ran {
                        Ok(ran) => total.add(&planted, &ran),
                        Err(why) => total.broken.push(format!("seed {seed}: {why}")),
                    }
                }
            });
        }
    });
    total.into_inner().expect("no thread panics with the lock")
}

impl Count {
    fn add(&mut self, planted: &Planted, ran: &Searched) {
        self.key_downs += ran.key_downs;
        self.keyed += ran.keyed;
        for carrier in planted.carriers {
            let of_scope = |reading: &&Reading| (reading.scope.carrier.get() - carrier).abs() < 1.0;
            let readings: Vec<&Reading> = ran.readings.iter().filter(of_scope).collect();
            self.add_scope(planted, carrier, &readings);
        }
    }

    fn add_scope(&mut self, planted: &Planted, carrier: f64, readings: &[&Reading]) {
        let seed = planted.seed;
        let lines = planted.with_carrier(carrier);
        let spurious: Vec<&Reading> =
            readings.iter().copied().filter(|reading| reading.quantity == Quantity::Spurious).collect();
        let Some(search) = readings.iter().find(|reading| reading.quantity == Quantity::Search) else {
            self.broken.push(format!("seed {seed}: no search at {carrier}"));
            return;
        };
        match search.outcome {
            Outcome::Complies => self.complies += 1,
            Outcome::Undecided => {
                self.undecided += 1;
                if let Some(reason) = &search.reason {
                    let words = || format!("seed {seed} at {:.4} MHz: {}", carrier / 1e6, reason.text);
                    let hiding = hiding(planted, search, &lines);
                    let why = format!("{}, with {hiding} at the limit", reason.code.code());
                    self.why.entry(why).or_insert_with(|| (0, words())).0 += 1;
                }
            }
            _ => self
                .broken
                .push(format!("seed {seed}: the search is {:?}: {:?}", search.outcome, search.reason)),
        }
        self.time(search);
        let near = |line: &Line| {
            spurious.iter().copied().find(|reading| (reading.frequency.get() - line.at).abs() <= PLACE)
        };
        for line in &lines {
            let words = format!("seed {seed} at {:.4} MHz: {line:?}", carrier / 1e6);
            if !line.kind.is_of_the_unit() {
                self.others += 1;
                let charged = near(line).filter(|reading| reading.outcome != Outcome::Invalid);
                let open = |reading: &&Reading| {
                    let told =
                        reading.name.as_ref().is_some_and(|name| name.contains("image in the analyser"));
                    !(line.kind == Kind::Image && told && reading.outcome != Outcome::Exceeds)
                };
                if let Some(reading) = charged.filter(open) {
                    self.blamed.push(format!("{words}: {:?} {:?}", reading.name, reading.outcome));
                }
                continue;
            }
            self.planted += 1;
            let above = above_floor(planted, search, line);
            let clear = above.is_some_and(|above| above >= CLEAR_DB + MISMATCH_DB);
            self.clear += usize::from(clear);
            match near(line) {
                None if clear => {
                    self.missed.push(format!("{words}: {:.1} dB above the floor", above.unwrap_or(0.0)))
                }
                None => {}
                Some(reading) => {
                    self.found += 1;
                    let name = reading.name.clone().unwrap_or_default();
                    if !name.starts_with(&line.kind.family()) {
                        self.wrong_family.push(format!("{words}: `{name}`"));
                    }
                    if let Some(wrong) = wrong(line, reading) {
                        self.wrong_outcome.push(format!("{words}: {wrong}"));
                    }
                }
            }
        }
        for reading in spurious {
            let is_known = lines.iter().any(|line| (reading.frequency.get() - line.at).abs() <= PLACE);
            if !is_known && reading.outcome != Outcome::Invalid {
                let (name, at) = (&reading.name, reading.frequency);
                self.invented.push(format!("seed {seed} at {:.4} MHz: {name:?} at {at}", carrier / 1e6));
            }
        }
    }

    /// How long the keyed sweeps took, and how long they had to.
    fn time(&mut self, search: &Reading) {
        let keyed: Vec<_> = search.acquisitions.iter().filter(|look| look.keyed).collect();
        self.points += keyed.iter().map(|look| look.settings.points as usize).sum::<usize>();
        for pair in keyed.windows(2) {
            let settings = &pair[0].settings;
            let formula = 3.0 * K * settings.span.get() / settings.rbw.get().powi(2);
            let took = pair[1].at.duration_since(pair[0].at).as_secs_f64();
            // Between two key-downs the unit rests.
            if took < formula + 5.0 {
                self.swept += took;
                self.formula += formula;
            }
        }
    }
}

/// How far a planted line stands above the mean of what a peak detector shows of noise, by the noise that the bench has
/// and the settings that the record tells.
fn above_floor(planted: &Planted, search: &Reading, line: &Line) -> Option<f64> {
    let look = search.acquisitions.iter().filter(|look| look.keyed).find(|look| {
        let settings = &look.settings;
        (line.at - settings.centre.get()).abs() <= settings.span.get() / 2.0
    })?;
    let settings = &look.settings;
    // A Gaussian filter passes noise like a rectangle of 1.0645 times its width.
    let noise = planted.noise + 10.0 * (1.0645 * settings.rbw.get()).log10() + settings.attenuation.get();
    let dwell = settings.sweep_time.get() / f64::from(settings.points);
    let looks = (3.2 * settings.rbw.get() * dwell).max(1.0) * 3.0;
    // The mean of the highest of so many exponential looks is the harmonic number: about ln + 0.5772 + 1/2n.
    let peak = 10.0 * (looks.ln() + 0.577_216 + 0.5 / looks).log10();
    Some(line.level - planted.loss - (noise + peak))
}

/// What was planted, none of it the unit's, that is shown as high as the limit of the search less its uncertainty: no
/// method could tell what the unit emits there.
fn hiding(planted: &Planted, search: &Reading, lines: &[Line]) -> String {
    let (limit, expanded) = match (&search.limit, &search.budget) {
        (Some(spurline_record::Limit::Upper { level, .. }), Some(budget)) => (level.get(), budget.expanded),
        _ => return "no one limit".to_owned(),
    };
    let shown = |line: &&Line| {
        let look = search.acquisitions.iter().find(|look| {
            let settings = &look.settings;
            look.keyed && (line.at - settings.centre.get()).abs() <= settings.span.get() / 2.0
        });
        // What the analyser makes behind its attenuator is shown higher by that.
        let behind = look.filter(|_| line.kind == Kind::Residual).map(|look| look.settings.attenuation.get());
        line.level + behind.unwrap_or(0.0) + planted.loss > limit - expanded
    };
    let of_others =
        |line: &&Line| matches!(line.kind, Kind::Ambient | Kind::Residual | Kind::Image) && shown(line);
    let mut kinds: Vec<String> =
        lines.iter().filter(of_others).map(|line| format!("{:?}", line.kind).to_lowercase()).collect();
    kinds.sort();
    kinds.dedup();
    if kinds.is_empty() { "nothing planted".to_owned() } else { kinds.join(" and ") }
}

/// What is wrong with the outcome of a line's reading.
fn wrong(line: &Line, reading: &Reading) -> Option<String> {
    let limit = match reading.limit {
        Some(spurline_record::Limit::Upper { level, .. }) => level.get(),
        _ => return None,
    };
    let expanded = reading.budget.as_ref()?.expanded;
    let level = reading.level()?;
    let wrong = match reading.outcome {
        Outcome::Exceeds => line.level < limit,
        Outcome::Complies => line.level > limit,
        _ => false,
    };
    wrong.then(|| format!("{:?} with {level}, limit {limit:.2} dBm, U {expanded:.2} dB", reading.outcome))
}

/// The count as a page for people.
#[must_use]
pub fn page(count: &Count) -> String {
    let mut text = String::new();
    let mut line = |words: String| writeln!(text, "{words}").expect("a string takes everything");
    line(format!("units searched on two channels each: {}, broken {}", count.units, count.broken.len()));
    line(format!("searches that comply {}, undecided {}", count.complies, count.undecided));
    for (why, (times, words)) in &count.why {
        line(format!("undecided by {why}: {times}, such as {words}"));
    }
    line(format!(
        "planted lines {}, 6 dB above the floor {}, of these missed {}",
        count.planted,
        count.clear,
        count.missed.len()
    ));
    line(format!("found {}, with the wrong family {}", count.found, count.wrong_family.len()));
    line(format!("lines of others {}, charged to the unit {}", count.others, count.blamed.len()));
    line(format!("invented {}, wrong outcomes {}", count.invented.len(), count.wrong_outcome.len()));
    line(format!(
        "keyed sweeps {:.1} s, by the formula {:.1} s: {:.3}",
        count.swept,
        count.formula,
        count.swept / count.formula
    ));
    line(format!(
        "points of the keyed sweeps {}; {} key-downs of {:.0} s together",
        count.points, count.key_downs, count.keyed
    ));
    let lists = [
        ("broken", &count.broken),
        ("missed", &count.missed),
        ("wrong family", &count.wrong_family),
        ("blamed", &count.blamed),
        ("invented", &count.invented),
        ("wrong outcome", &count.wrong_outcome),
    ];
    for (what, list) in lists {
        for item in list.iter() {
            line(format!("{what}: {item}"));
        }
    }
    text
}

/// The share of families that must be right.
const FAMILIES: f64 = 0.95;
/// Keyed sweeps take at most so many times what their formula says, beside what settling and round trips take.
const SLOWER: f64 = 1.05;

impl Count {
    /// Whether every target is kept.
    #[must_use]
    pub fn keeps_all(&self) -> bool {
        let lists = [&self.broken, &self.missed, &self.blamed, &self.invented, &self.wrong_outcome];
        lists.iter().all(|list| list.is_empty())
            && self.wrong_family.len() as f64 <= (1.0 - FAMILIES) * self.found as f64
            && self.swept <= SLOWER * self.formula
    }
}
