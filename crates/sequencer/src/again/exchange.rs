//! The lines of what counts now in place of those of then, in an uncertainty as it was recorded.
//!
//! A line of then that is not in the record is told, and never passed over: the uncertainty would be one of another path.

use spurline_judge::Budget;
use spurline_record::{Budget as Recorded, BudgetLine};

use crate::conversion;

/// What a reading was uncertain by, then and now.
pub(super) struct Exchange {
    pub(super) then: Budget,
    pub(super) now: Budget,
}

/// Values of one line that are nearer to each other than this are one value.
const SAME: f64 = 1e-6;

/// A recorded uncertainty after these exchanges, worked out anew; as it was where they change nothing.
///
/// # Errors
///
/// In words, the line that is not there to be exchanged or that cannot be worked with.
pub(super) fn exchanged(recorded: &Recorded, exchanges: &[Exchange]) -> Result<Recorded, String> {
    let mut lines = recorded.lines.clone();
    let mut touched = false;
    for Exchange { then, now } in exchanges {
        let (then, now) = (conversion::budget(then).lines, conversion::budget(now).lines);
        for gone in without(&then, &now) {
            let place = lines.iter().position(|own| is_line(own, &gone));
            let place = place.ok_or_else(|| {
                format!("the line `{}` ({}) is not in its recorded uncertainty", gone.name, gone.source)
            })?;
            lines.remove(place);
            touched = true;
        }
        let come = without(&now, &then);
        touched |= !come.is_empty();
        lines.extend(come);
    }
    if !touched {
        return Ok(recorded.clone());
    }
    let contributions = lines.iter().map(|line| {
        conversion::contribution(line).ok_or_else(|| {
            format!("nothing is known of how its line `{}` is distributed: {}", line.name, line.distribution)
        })
    });
    let lines = contributions.collect::<Result<_, _>>()?;
    Ok(Recorded { unit: recorded.unit, ..conversion::budget(&Budget { lines }) })
}

/// Whether every line of an uncertainty stands in a recorded one.
pub(super) fn holds(recorded: &Recorded, lines: &Budget) -> bool {
    conversion::budget(lines).lines.iter().all(|line| recorded.lines.iter().any(|own| is_line(own, line)))
}

/// The lines of one list that the other has not, each as often as it has it more.
fn without(these: &[BudgetLine], others: &[BudgetLine]) -> Vec<BudgetLine> {
    let mut left: Vec<&BudgetLine> = others.iter().collect();
    let mut more = Vec::new();
    for line in these {
        match left.iter().position(|other| *other == line) {
            Some(place) => {
                left.remove(place);
            }
            None => more.push(line.clone()),
        }
    }
    more
}

fn is_line(one: &BudgetLine, other: &BudgetLine) -> bool {
    one.name == other.name && one.source == other.source && (one.value - other.value).abs() < SAME
}

#[cfg(test)]
mod tests {
    use spurline_judge::{Contribution, Distribution};
    use spurline_units::Db;

    use super::*;

    fn line(name: &str, value: f64) -> Contribution {
        Contribution::new(name, Db::new(value), Distribution::Normal { k: 2.0 }, "bench.yaml: pad")
    }

    fn budget(lines: &[(&str, f64)]) -> Budget {
        Budget { lines: lines.iter().map(|(name, value)| line(name, *value)).collect() }
    }

    fn exchange(then: &[(&str, f64)], now: &[(&str, f64)]) -> [Exchange; 1] {
        [Exchange { then: budget(then), now: budget(now) }]
    }

    /// Closed form: 0.6 and 0.8 dB for k = 2 are 1 dB together.
    #[test]
    fn a_line_takes_the_place_of_another() {
        let recorded = conversion::budget(&budget(&[("level", 0.6), ("path: pad", 0.1)]));
        let found = exchanged(&recorded, &exchange(&[("path: pad", 0.1)], &[("path: pad", 0.8)])).unwrap();
        assert!((found.expanded - 1.0).abs() < 1e-9 && found.lines.len() == 2, "{found:?}");
    }

    /// A part that came to the path has no line to take the place of, and counts all the same.
    #[test]
    fn a_line_that_comes_takes_no_place() {
        let recorded = conversion::budget(&budget(&[("path: pad", 0.6)]));
        let now = [("path: pad", 0.6), ("path: cable", 0.8)];
        let found = exchanged(&recorded, &exchange(&[("path: pad", 0.6)], &now)).unwrap();
        assert!((found.expanded - 1.0).abs() < 1e-9, "{found:?}");
    }

    #[test]
    fn a_line_that_is_not_there_is_told() {
        let recorded = conversion::budget(&budget(&[("level", 0.6), ("path: attenuator", 0.1)]));
        let why = exchanged(&recorded, &exchange(&[("path: pad", 0.1)], &[("path: pad", 0.8)])).unwrap_err();
        assert!(why.contains("`path: pad` (bench.yaml: pad) is not in"), "{why}");
    }

    /// Two parts of one table are two lines.
    #[test]
    fn lines_that_are_alike_are_counted() {
        let recorded = conversion::budget(&budget(&[("path: pad", 0.1), ("path: pad", 0.1)]));
        let pads = [("path: pad", 0.1), ("path: pad", 0.1)];
        let found =
            exchanged(&recorded, &exchange(&pads, &[("path: pad", 0.6), ("path: pad", 0.8)])).unwrap();
        assert!((found.expanded - 1.0).abs() < 1e-9 && found.lines.len() == 2, "{found:?}");
        let one = conversion::budget(&budget(&[("path: pad", 0.1)]));
        assert!(exchanged(&one, &exchange(&pads, &[])).is_err());
    }

    /// With an echo that dominates the factor is that of its distribution, not of what was there before.
    #[test]
    fn the_factor_is_found_anew() {
        let echo = Contribution::mismatch("mismatch: unit to pad", Db::new(1.5), "bench.yaml: vswr");
        let recorded = conversion::budget(&budget(&[("path: pad", 0.2)]));
        let now = Budget { lines: vec![line("path: pad", 0.2), echo] };
        let exchanges = [Exchange { then: budget(&[("path: pad", 0.2)]), now: now.clone() }];
        assert_eq!(exchanged(&recorded, &exchanges).unwrap(), conversion::budget(&now));
        assert!(conversion::budget(&now).coverage_factor < 2.0);
    }
}
