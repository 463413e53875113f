//! The search for the level at which a tone makes what it should: in proportion at first, then between the two levels
//! that hold it. It knows no instruments.

use spurline_units::Volts;

/// A search, with what it has seen so far.
#[derive(Clone, Debug)]
pub(crate) struct Search {
    /// What is looked for, in the unit of the figures.
    pub(crate) target: f64,
    /// Between these it is found.
    pub(crate) window: [f64; 2],
    pub(crate) start: Volts,
    pub(crate) least: Volts,
    pub(crate) most: Volts,
    /// Levels and what they made.
    pub(crate) seen: Vec<(Volts, f64)>,
}

/// What comes next.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Next {
    /// Try this level.
    Try(Volts),
    /// The last level makes what it should.
    Found,
    /// No level will.
    Fails(Why),
}

/// Why no level makes what it should.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Why {
    /// The highest level that is allowed makes too little.
    TooLittle { level: Volts, made: f64 },
    /// The lowest level that can be had makes too much.
    TooMuch { level: Volts, made: f64 },
    /// More level makes no more.
    Held { level: Volts, made: f64 },
    /// No more looks.
    NotNearEnough { level: Volts, made: f64 },
}

/// No step changes the level by more than this: what was seen so far may have been noise.
const LARGEST_STEP: f64 = 10.0;
/// Figures below this share of the target say that there is a tone, not how far it goes.
const FAINT: f64 = 0.05;
/// Half as much level again that makes only so much more: a limiter holds it.
const MORE_LEVEL: f64 = 1.5;
const NO_MORE: f64 = 1.05;
/// Modulators that go by another power of the level than between these are taken to be at the end of it.
const STEEPNESS: [f64; 2] = [0.25, 4.0];
/// Between two levels the next one keeps this share of the way to either.
const INNER: f64 = 0.1;

impl Search {
    /// What to do after at most `looks` in all.
    pub(crate) fn next(&self, looks: usize) -> Next {
        let Some((level, made)) = self.seen.last().copied() else { return Next::Try(self.start) };
        if (self.window[0]..=self.window[1]).contains(&made) {
            return Next::Found;
        }
        if let Some(why) = self.hopeless() {
            return Next::Fails(why);
        }
        if self.seen.len() >= looks {
            return Next::Fails(Why::NotNearEnough { level, made });
        }
        let below = self.below().map(|(level, _)| level);
        let above = self.above().map(|(level, _)| level);
        Next::Try(match (below, above) {
            (Some(_), Some(_)) => self.between(),
            _ => {
                let factor = if made < self.target * FAINT {
                    LARGEST_STEP
                } else {
                    (self.target / made).powf(self.steepness().recip())
                };
                let factor = factor.clamp(1.0 / LARGEST_STEP, LARGEST_STEP);
                (level * factor).max(self.least).min(self.most)
            }
        })
    }

    /// The highest level that made too little.
    fn below(&self) -> Option<(Volts, f64)> {
        let below = self.seen.iter().copied().filter(|(_, made)| *made < self.window[0]);
        below.max_by(|one, other| one.0.get().total_cmp(&other.0.get()))
    }

    /// The lowest level that made too much.
    fn above(&self) -> Option<(Volts, f64)> {
        let above = self.seen.iter().copied().filter(|(_, made)| *made > self.window[1]);
        above.min_by(|one, other| one.0.get().total_cmp(&other.0.get()))
    }

    fn hopeless(&self) -> Option<Why> {
        if self.above().is_none() {
            let (level, made) = self.below()?;
            if level >= self.most {
                return Some(Why::TooLittle { level, made });
            }
            let weaker = self.seen.iter().filter(|(weaker, _)| *weaker * MORE_LEVEL <= level);
            let held = weaker
                .filter(|(_, before)| *before > self.target * FAINT)
                .any(|(_, before)| made < before * NO_MORE);
            return held.then_some(Why::Held { level, made });
        }
        if self.below().is_none() {
            let (level, made) = self.above()?;
            return (level <= self.least).then_some(Why::TooMuch { level, made });
        }
        None
    }

    /// By which power of the level the figure goes, from the last two looks: 1 for a modulator in line.
    fn steepness(&self) -> f64 {
        let [.., (level, before), (next, made)] = self.seen.as_slice() else { return 1.0 };
        let power = (made / before).ln() / (*next / *level).ln();
        if *before > self.target * FAINT && power.is_finite() {
            power.clamp(STEEPNESS[0], STEEPNESS[1])
        } else {
            1.0
        }
    }

    /// Between the two that hold it: where a straight line through both in logarithms meets the target.
    fn between(&self) -> Volts {
        let (Some((low, less)), Some((high, more))) = (self.below(), self.above()) else { return self.start };
        let part = (self.target / less).ln() / (more / less).ln();
        let part = if part.is_finite() { part.clamp(INNER, 1.0 - INNER) } else { 0.5 };
        Volts::new(low.get() * (high.get() / low.get()).powf(part))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn search() -> Search {
        Search {
            target: 2500.0,
            window: [2425.0, 2575.0],
            start: Volts::new(0.005),
            least: Volts::new(1e-4),
            most: Volts::new(1.0),
            seen: Vec::new(),
        }
    }

    /// Runs it against a modulator; the level and the looks, or why not.
    fn run(modulator: impl Fn(f64) -> f64) -> Result<(f64, usize), Why> {
        let mut search = search();
        loop {
            match search.next(12) {
                Next::Try(level) => search.seen.push((level, modulator(level.get()))),
                Next::Found => return Ok((search.seen.last().unwrap().0.get(), search.seen.len())),
                Next::Fails(why) => return Err(why),
            }
        }
    }

    /// In a linear modulator the second look has it; where nothing was seen at first, ten times the level is tried.
    #[test]
    fn a_linear_modulator_takes_two_looks() {
        for sensitivity in [60e3, 250e3, 900e3] {
            let (level, looks) = run(|level| sensitivity * level).unwrap();
            assert!((level * sensitivity - 2500.0).abs() < 1e-6 && looks <= 3, "{sensitivity}: {looks}");
        }
        let (level, looks) = run(|level| if level < 0.02 { 0.0 } else { 50e3 * level }).unwrap();
        assert!((level - 0.05).abs() < 0.0015 && looks <= 4, "{level} {looks}");
    }

    /// Any rising modulator is found, however bent.
    #[test]
    fn a_bent_modulator_is_held_between_two_levels() {
        for power in [0.3, 0.5, 2.0, 3.0] {
            let (level, looks) = run(|level| 2500.0 * (level / 0.04f64).powf(power)).unwrap();
            let made = 2500.0 * (level / 0.04f64).powf(power);
            assert!((made / 2500.0 - 1.0).abs() <= 0.03 && looks <= 8, "{power}: {made} after {looks}");
        }
    }

    #[test]
    fn what_cannot_be_had_is_told() {
        assert!(matches!(run(|_| 0.0), Err(Why::TooLittle { level, .. }) if level == Volts::new(1.0)));
        assert!(
            matches!(run(|level| (1e6 * level).min(1800.0)), Err(Why::Held { made, .. }) if made == 1800.0)
        );
        assert!(matches!(run(|_| 9000.0), Err(Why::TooMuch { level, .. }) if level == Volts::new(1e-4)));
        // A step over the target: nothing is in between.
        let stepped = run(|level| if level < 0.01 { 1000.0 } else { 4000.0 });
        assert!(matches!(stepped, Err(Why::NotNearEnough { .. })));
    }
}
