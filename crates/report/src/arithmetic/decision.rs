//! The decision about one reading, written out with its numbers.
//!
//! It shows the arithmetic; the outcome that counts is the recorded one.

use spurline_record::{Decision, Limit, Reading, RunHeader, Unit};
use spurline_units::Dbm;

use crate::limit::dbm;

/// What the level comes to against one limit.
#[derive(Debug, PartialEq)]
pub(crate) struct Judged {
    /// The arithmetic, step by step.
    pub(crate) steps: Vec<String>,
    /// What follows from it.
    pub(crate) verdict: &'static str,
}

/// The level, or the figure of another unit, and what is added to it or taken off before it is compared.
struct Level {
    unit: Unit,
    level: f64,
    /// What a bound cannot lie below, where the analyser's own product may be a part of it.
    lowest: Option<f64>,
    /// Zero without a guard band.
    guard: f64,
    /// The guard band in words; nothing without one.
    band: Option<String>,
    bound: bool,
}

/// The arithmetic for each limit of the reading; nothing if there is no level or no limit.
pub(crate) fn judged(reading: &Reading, header: &RunHeader) -> Vec<Judged> {
    let (Some(figure), Some(limit)) = (&reading.figure, &reading.limit) else { return Vec::new() };
    let expanded = reading.budget.as_ref().map_or(0.0, |budget| budget.expanded.abs());
    if let (Decision::Simple, Some(most)) = (header.decision, header.largest_uncertainty)
        && expanded > most.get()
    {
        let step = format!("U = {expanded:.3} dB is above the {most} with which the level alone decides");
        return vec![Judged { steps: vec![step], verdict: "undecided" }];
    }
    let guarded = header.decision == Decision::GuardBand;
    let level = Level {
        unit: if figure.level.is_some() { Unit::Dbm } else { figure.unit },
        level: figure.level.map_or(figure.value, Dbm::get),
        lowest: reading.proof.lowest.map(Dbm::get).filter(|_| figure.bound),
        guard: if guarded { expanded * header.guard_factor } else { 0.0 },
        band: guarded.then(|| header.guard_band()),
        bound: figure.bound,
    };
    match limit {
        Limit::Upper { level: limit, .. } => vec![level.under(limit.get())],
        Limit::Several(limits) => limits.iter().map(|limit| level.under(limit.get())).collect(),
        Limit::Window { low, high } => match (dbm(*low), dbm(*high)) {
            (Some(low), Some(high)) => {
                let words = format!("the window in dBm: low {low:.3} dBm, high {high:.3} dBm");
                vec![level.within(low, high).after(words)]
            }
            _ => Vec::new(),
        },
        Limit::Between { low: Some(low), high: Some(high), .. } => vec![level.within(*low, *high)],
        Limit::Between { low: None, high: Some(high), .. } => vec![level.under(*high)],
        Limit::Between { high: None, .. } => Vec::new(),
    }
}

impl Judged {
    /// With a step before the others.
    fn after(mut self, first: String) -> Self {
        self.steps.insert(0, first);
        self
    }
}

impl Level {
    /// Against an upper limit.
    fn under(&self, limit: f64) -> Judged {
        let what = if self.bound { "bound" } else { "level" };
        let most = self.plus(what, self.level);
        let mut steps = vec![most.against("the limit", limit)];
        if most.value <= limit {
            return Judged { steps, verdict: "complies" };
        }
        let (what, least) = match self.lowest {
            Some(lowest) => ("least that it can be", lowest),
            None if self.bound => {
                steps.push("an upper bound cannot show that a limit is exceeded".to_owned());
                return Judged { steps, verdict: "undecided" };
            }
            None => (what, self.level),
        };
        let least = self.minus(what, least);
        if self.band.is_some() || self.bound {
            steps.push(least.against("the limit", limit));
        }
        Judged { steps, verdict: if least.value > limit { "exceeds" } else { "undecided" } }
    }

    /// Between two ends.
    fn within(&self, low: f64, high: f64) -> Judged {
        let mut steps = Vec::new();
        let (inner_low, inner_high) = (self.plus("low", low), self.minus("high", high));
        steps.push(format!(
            "level {:.3} {} {}",
            self.level,
            self.unit.symbol(),
            place(self.level, &inner_low)
        ));
        steps.push(format!(
            "level {:.3} {} {}",
            self.level,
            self.unit.symbol(),
            place(self.level, &inner_high)
        ));
        if inner_low.value <= self.level && self.level <= inner_high.value {
            return Judged { steps, verdict: "complies" };
        }
        let (least, most) = (self.minus("level", self.level), self.plus("level", self.level));
        if self.band.is_some() {
            steps.push(least.against("high", high));
            steps.push(most.against("low", low));
        }
        let outside = least.value > high || most.value < low;
        Judged { steps, verdict: if outside { "exceeds" } else { "undecided" } }
    }

    fn plus(&self, what: &str, value: f64) -> Term {
        self.term(what, value, value + self.guard, '+')
    }

    fn minus(&self, what: &str, value: f64) -> Term {
        self.term(what, value, value - self.guard, '-')
    }

    fn term(&self, what: &str, value: f64, sum: f64, sign: char) -> Term {
        let unit = self.unit.symbol();
        let words = match &self.band {
            Some(band) => {
                format!("{what} {sign} {band} = {value:.3} {sign} {:.3} = {sum:.3} {unit}", self.guard)
            }
            None => format!("{what} = {value:.3} {unit}"),
        };
        Term { value: sum, words, unit }
    }
}

/// A term of the arithmetic in numbers and in words.
struct Term {
    value: f64,
    words: String,
    unit: &'static str,
}

impl Term {
    fn against(&self, what: &str, limit: f64) -> String {
        format!("{} is {} {what} {limit:.3} {}", self.words, side(self.value, limit), self.unit)
    }
}

fn place(level: f64, term: &Term) -> String {
    format!("is {} {}", side(level, term.value), term.words)
}

/// On which side of the other a number lies; two that only look alike are told apart.
fn side(one: f64, other: f64) -> String {
    let alike = one != other && format!("{one:.3}") == format!("{other:.3}");
    let side = if one > other {
        "above"
    } else if one < other {
        "below"
    } else {
        "equal to"
    };
    if alike { format!("before rounding {side}") } else { side.to_owned() }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn level(level: f64, bound: bool) -> Level {
        Level { unit: Unit::Dbm, level, lowest: None, guard: 0.5, band: Some("U".to_owned()), bound }
    }

    #[test]
    fn a_level_below_the_guard_band_takes_one_step() {
        let judged = level(-20.0, false).under(-16.0);
        assert_eq!(judged.verdict, "complies");
        assert_eq!(
            judged.steps,
            ["level + U = -20.000 + 0.500 = -19.500 dBm is below the limit -16.000 dBm"]
        );
    }

    #[test]
    fn a_level_above_it_takes_two() {
        let judged = level(-15.0, false).under(-16.0);
        assert_eq!(judged.verdict, "exceeds");
        assert_eq!(
            judged.steps,
            [
                "level + U = -15.000 + 0.500 = -14.500 dBm is above the limit -16.000 dBm",
                "level - U = -15.000 - 0.500 = -15.500 dBm is above the limit -16.000 dBm",
            ]
        );
        let judged = level(-15.8, false).under(-16.0);
        assert_eq!(judged.verdict, "undecided");
        assert!(judged.steps[1].ends_with("is below the limit -16.000 dBm"));
    }

    #[test]
    fn a_level_on_the_edge_complies_and_does_not_exceed() {
        assert_eq!(level(-16.5, false).under(-16.0).verdict, "complies");
        assert_eq!(level(-15.5, false).under(-16.0).verdict, "undecided");
    }

    #[test]
    fn a_bound_never_exceeds() {
        let judged = level(0.0, true).under(-16.0);
        assert_eq!(judged.verdict, "undecided");
        assert_eq!(judged.steps[1], "an upper bound cannot show that a limit is exceeded");
    }

    #[test]
    fn the_simple_rule_leaves_u_out() {
        let level = Level { guard: 0.0, band: None, ..level(-16.0004, false) };
        let judged = level.under(-16.0002);
        assert_eq!(judged.verdict, "complies");
        assert_eq!(judged.steps, ["level = -16.000 dBm is before rounding below the limit -16.000 dBm"]);
        assert_eq!(level.under(-17.0).verdict, "exceeds");
    }

    #[test]
    fn a_window_is_approached_from_both_sides() {
        let (low, high) = (dbm(4.0).unwrap(), dbm(5.5).unwrap());
        let judged = level(36.7, false).within(low, high);
        assert_eq!(judged.verdict, "complies");
        assert_eq!(
            judged.steps,
            [
                "level 36.700 dBm is above low + U = 36.021 + 0.500 = 36.521 dBm",
                "level 36.700 dBm is below high - U = 37.404 - 0.500 = 36.904 dBm",
            ]
        );
        let judged = level(35.0, false).within(low, high);
        assert_eq!(judged.verdict, "exceeds");
        assert!(judged.steps[3].ends_with("= 35.500 dBm is below low 36.021 dBm"), "{:?}", judged.steps);
        assert_eq!(level(37.0, false).within(low, high).verdict, "undecided");
    }

    /// By hand: -9 less 0.5 is above -10 though the line may be anything from -9 to -8.
    #[test]
    fn a_range_beyond_the_limit_exceeds() {
        let judged = Level { lowest: Some(-9.0), ..level(-8.0, true) }.under(-10.0);
        assert_eq!(judged.verdict, "exceeds");
        assert_eq!(
            judged.steps[1],
            "least that it can be - U = -9.000 - 0.500 = -9.500 dBm is above the limit -10.000 dBm"
        );
        assert_eq!(Level { lowest: Some(-9.8), ..level(-8.0, true) }.under(-10.0).verdict, "undecided");
    }
}
