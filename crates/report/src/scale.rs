//! From levels to heights: a scale that is never empty and never unending, whatever the levels are.

use crate::svg::{Anchor, Drawing};

/// Levels beyond this are drawn at the edge: no receiver and no transmitter is that far out.
const FAR_DB: f64 = 300.0;
/// Room left below the lowest level, so that a stem at the floor is still seen.
const ROOM_DB: f64 = 6.0;
const MOST_STEPS: f64 = 8.0;

/// The levels that a drawing reaches from and to, and where they lie in it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Scale {
    top: f64,
    bottom: f64,
    step: f64,
    above: f64,
    height: f64,
}

impl Scale {
    /// A scale that holds all finite `levels`, drawn over `height` below `above`; `None` if there is none.
    pub(crate) fn over(levels: impl Iterator<Item = f64> + Clone, above: f64, height: f64) -> Option<Self> {
        let levels = levels.filter(|level| level.is_finite()).map(|level| level.clamp(-FAR_DB, FAR_DB));
        let high = levels.clone().reduce(f64::max)?;
        let low = levels.reduce(f64::min)? - ROOM_DB;
        let mut step = 10.0;
        while (high - low) / step > MOST_STEPS {
            step *= 2.0;
        }
        let (top, bottom) = ((high / step).ceil() * step, (low / step).floor() * step);
        Some(Self { top, bottom, step, above, height })
    }

    /// The height at which a level is drawn.
    pub(crate) fn y(&self, level: f64) -> f64 {
        let level = level.clamp(self.bottom, self.top);
        self.above + (self.top - level) / (self.top - self.bottom) * self.height
    }

    /// The lowest level.
    pub(crate) const fn bottom(&self) -> f64 {
        self.bottom
    }

    /// Draws a line from `left` to `right` at every step, with its level beside it.
    pub(crate) fn draw(&self, drawing: &mut Drawing, left: f64, right: f64) {
        for level in self.lines() {
            let y = self.y(level);
            drawing.line((left, y), (right, y), "grid");
            drawing.text((left - 6.0, y + 4.0), Anchor::End, "axis", &format!("{level:.0}"));
        }
    }

    /// The levels that get a line.
    fn lines(&self) -> impl Iterator<Item = f64> + use<> {
        let Self { bottom, step, .. } = *self;
        let steps = ((self.top - bottom) / step).round() as u32;
        (0..=steps).map(move |line| bottom + f64::from(line) * step)
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
        ] {
            let scale = Scale::over(levels.iter().copied(), 10.0, 200.0).unwrap();
            for level in levels.into_iter().filter(|level| level.is_finite()) {
                assert!((10.0..=210.0).contains(&scale.y(level)), "{level}: {scale:?}");
            }
            assert!((2..=11).contains(&scale.lines().count()), "{scale:?}");
        }
        assert_eq!(Scale::over([f64::NAN].into_iter(), 0.0, 1.0), None);
    }

    #[test]
    fn higher_levels_are_drawn_higher() {
        let scale = Scale::over([36.8, -38.5].into_iter(), 16.0, 240.0).unwrap();
        assert!(scale.y(36.8) < scale.y(0.0) && scale.y(0.0) < scale.y(-38.5));
        assert_eq!(scale.lines().collect::<Vec<_>>(), [-60.0, -40.0, -20.0, 0.0, 20.0, 40.0]);
    }
}
