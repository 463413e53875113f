//! From levels to places: a scale that is never empty and never unending, whatever the levels are.

/// Levels beyond this are drawn at the edge: no receiver and no transmitter is that far out.
const FAR_DB: f64 = 300.0;
/// The shortest scale: a carrier and its window are often less than this apart.
const SHORTEST_DB: f64 = 2.0;
/// Room beside the outermost levels, as a part of the distance between them.
const ROOM: f64 = 0.08;
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

    /// How far up the scale a level is: 0 at the bottom, 1 at the top.
    pub(crate) fn part(&self, level: f64) -> f64 {
        (level.clamp(self.bottom, self.top) - self.bottom) / (self.top - self.bottom)
    }

    /// The levels that get a line, each with its words.
    pub(crate) fn lines(&self) -> impl Iterator<Item = (f64, String)> + use<> {
        let Self { top, bottom, step } = *self;
        let digits = usize::from(step < 1.0);
        let steps = ((top - bottom) / step).round() as u32;
        (0..=steps).map(move |line| {
            let level = bottom + f64::from(line) * step;
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
    fn a_short_scale_has_lines_at_part_of_a_decibel() {
        let scale = Scale::over([36.5, 36.6].into_iter(), 6).unwrap();
        let lines: Vec<_> = scale.lines().map(|(_, words)| words).collect();
        assert_eq!(lines, ["35.5", "36.0", "36.5", "37.0", "37.5", "38.0"]);
    }
}
