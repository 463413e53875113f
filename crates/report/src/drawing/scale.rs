//! From levels to places: a scale that is never empty and never unending, whatever the levels are.

/// Levels beyond this are drawn at the edge: no receiver and no transmitter is that far out.
const FAR_DB: f64 = 300.0;
/// The shortest scale: a carrier and its window are often less than this apart.
const SHORTEST_DB: f64 = 2.0;
/// Room beside the outermost levels, as a part of the distance between them.
const ROOM: f64 = 0.08;
/// Figures of other units beyond this are drawn at the edge.
const FAR: f64 = 1e4;
/// The shortest scale of other units, as a part of the largest figure, and at all.
const SHORTEST: f64 = 0.02;
const LEAST: f64 = 1e-3;
/// Two lines of a scale that differ by less than this part of a step are one.
const SAME: f64 = 1e-9;
const STEPS_DB: [f64; 8] = [0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0];

/// The levels that a drawing reaches from and to, and at which it has lines.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Scale {
    top: f64,
    bottom: f64,
    step: f64,
}

impl Scale {
    /// A scale that holds all finite `levels`, with about `most` steps; `None` if there is no level.
    pub(crate) fn over(levels: impl Iterator<Item = f64> + Clone, most: u32) -> Option<Self> {
        let levels = levels.filter(|level| level.is_finite()).map(|level| level.clamp(-FAR_DB, FAR_DB));
        let (high, low) = (levels.clone().reduce(f64::max)?, levels.reduce(f64::min)?);
        let room = ((high - low) * ROOM).max((SHORTEST_DB - (high - low)) / 2.0);
        let (high, low) = (high + room, low - room);
        let widest = STEPS_DB[STEPS_DB.len() - 1];
        let fits = |step: &f64| (high - low) / step <= f64::from(most);
        let step = STEPS_DB.into_iter().find(fits).unwrap_or(widest);
        Some(Self { top: (high / step).ceil() * step, bottom: (low / step).floor() * step, step })
    }

    /// A scale that holds all finite `figures` of any size, with about `most` steps; it begins and ends at a line.
    pub(crate) fn of_figures(figures: impl Iterator<Item = f64> + Clone, most: u32) -> Option<Self> {
        let inner = Self::within(figures, most)?;
        let step = inner.step;
        let (top, bottom) =
            (step * (inner.top / step - SAME).ceil(), step * (inner.bottom / step + SAME).floor());
        Some(Self { top, bottom, step })
    }

    /// A scale that reaches little beyond all finite `figures` of any size, with about `most` steps.
    pub(crate) fn within(figures: impl Iterator<Item = f64> + Clone, most: u32) -> Option<Self> {
        let figures = figures.filter(|figure| figure.is_finite()).map(|figure| figure.clamp(-FAR, FAR));
        let (high, low) = (figures.clone().reduce(f64::max)?, figures.reduce(f64::min)?);
        let shortest = (high.abs().max(low.abs()) * SHORTEST).max(LEAST);
        let room = ((high - low) * ROOM / 2.0).max((shortest - (high - low)) / 2.0);
        // What is never below nothing is not drawn as if it could be.
        let bottom = if low >= 0.0 { (low - room).max(0.0) } else { low - room };
        let top = high + room;
        let coarse = (top - bottom) / f64::from(most);
        let decade = 10f64.powf(coarse.log10().floor());
        let step = [1.0, 2.0, 5.0].map(|times| times * decade).into_iter().find(|step| *step >= coarse);
        Some(Self { top, bottom, step: step.unwrap_or(10.0 * decade) })
    }

    /// How far up the scale a level is: 0 at the bottom, 1 at the top.
    pub(crate) fn part(&self, level: f64) -> f64 {
        (level.clamp(self.bottom, self.top) - self.bottom) / (self.top - self.bottom)
    }

    /// The levels that get a line, each with its words.
    pub(crate) fn lines(&self) -> impl Iterator<Item = (f64, String)> + use<> {
        let Self { top, bottom, step } = *self;
        let digits = (-step.log10() - SAME).ceil().max(0.0) as usize;
        let (first, last) = ((bottom / step - SAME).ceil() as i64, (top / step + SAME).floor() as i64);
        (first..=last).map(move |line| {
            let level = line as f64 * step;
            (level, format!("{level:.digits$}"))
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn any_levels_give_a_finite_scale_with_few_lines() {
        for levels in [
            vec![0.0],
            vec![-40.0, -40.0],
            vec![f64::NAN, -30.0, f64::INFINITY],
            vec![f64::MAX, f64::MIN],
            vec![36.8, -38.5],
            vec![36.02, 36.8, 37.4],
        ] {
            let scale = Scale::over(levels.iter().copied(), 6).unwrap();
            for level in levels.into_iter().filter(|level| level.is_finite()) {
                assert!((0.0..=1.0).contains(&scale.part(level)), "{level}: {scale:?}");
            }
            assert!((2..=9).contains(&scale.lines().count()), "{scale:?}");
        }
        assert_eq!(Scale::over([f64::NAN].into_iter(), 6), None);
    }

    #[test]
    fn higher_levels_are_further_up_and_the_outermost_are_not_at_the_edge() {
        let scale = Scale::over([36.8, -38.5].into_iter(), 6).unwrap();
        assert!(0.0 < scale.part(-38.5) && scale.part(-38.5) < scale.part(0.0));
        assert!(scale.part(0.0) < scale.part(36.8) && scale.part(36.8) < 1.0);
        let lines: Vec<_> = scale.lines().map(|(level, _)| level).collect();
        assert_eq!(lines, [-60.0, -40.0, -20.0, 0.0, 20.0, 40.0, 60.0]);
    }

    #[test]
    fn any_figures_give_a_finite_scale_with_few_lines() {
        for (figures, first, last) in [
            (vec![0.0], "0.0000", "0.0005"),
            (vec![6.0, 8.4], "6.0", "8.0"),
            (vec![4.62, 4.70], "4.62", "4.70"),
            (vec![0.0, 60.0], "0", "60"),
            (vec![1.297, 1.5], "1.30", "1.50"),
            (vec![f64::MIN, f64::MAX, f64::NAN], "-10000", "10000"),
        ] {
            let scale = Scale::within(figures.iter().copied(), 6).unwrap();
            let words: Vec<_> = scale.lines().map(|(_, words)| words).collect();
            assert_eq!((words.first().unwrap().as_str(), words.last().unwrap().as_str()), (first, last));
            assert!((2..=8).contains(&words.len()), "{words:?}");
            let whole = Scale::of_figures(figures.iter().copied(), 6).unwrap();
            assert!((2..=9).contains(&whole.lines().count()), "{whole:?}");
            for figure in figures.into_iter().filter(|figure| figure.is_finite()) {
                let held = |part: f64| (0.0..=1.0).contains(&part);
                assert!(held(scale.part(figure)) && held(whole.part(figure)), "{figure}: {scale:?}");
            }
        }
        assert_eq!(Scale::within([f64::INFINITY].into_iter(), 6), None);
    }

    #[test]
    fn a_short_scale_has_lines_at_part_of_a_decibel() {
        let scale = Scale::over([36.5, 36.6].into_iter(), 6).unwrap();
        let lines: Vec<_> = scale.lines().map(|(_, words)| words).collect();
        assert_eq!(lines, ["35.5", "36.0", "36.5", "37.0", "37.5", "38.0"]);
    }
}
