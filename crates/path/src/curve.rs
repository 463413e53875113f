//! A quantity known at some frequencies and read between them along a straight line.

/// Points with ascending frequency in hertz; at least one.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Curve(Vec<(f64, f64)>);

/// How far beyond an end a frequency may lie, as a share of it: rounding when units are converted, not a step
/// into the unknown.
const ROUNDING: f64 = 1e-12;

impl Curve {
    /// A curve through points that the caller has found to be ascending and not empty.
    pub(crate) fn new(points: Vec<(f64, f64)>) -> Self {
        debug_assert!(!points.is_empty() && points.windows(2).all(|pair| pair[0].0 < pair[1].0));
        Self(points)
    }

    /// The value at a frequency; `None` beyond the first or the last point.
    pub(crate) fn at(&self, frequency: f64) -> Option<f64> {
        let ((low, first), (high, last)) = (*self.0.first()?, *self.0.last()?);
        if frequency < low * (1.0 - ROUNDING) || frequency > high * (1.0 + ROUNDING) {
            return None;
        }
        let above = self.0.partition_point(|point| point.0 <= frequency);
        Some(match (above.checked_sub(1).and_then(|below| self.0.get(below)), self.0.get(above)) {
            (Some(left), Some(right)) => {
                let share = (frequency - left.0) / (right.0 - left.0);
                left.1 * (1.0 - share) + right.1 * share
            }
            (None, _) => first,
            (_, None) => last,
        })
    }

    /// The highest value of its points.
    pub(crate) fn highest(&self) -> f64 {
        self.0.iter().fold(f64::MIN, |highest, point| highest.max(point.1))
    }

    /// The lowest and the highest frequency.
    pub(crate) fn ends(&self) -> (f64, f64) {
        let (first, last) = (self.0.first(), self.0.last());
        let (first, last) = first.zip(last).expect("a curve has at least one point");
        (first.0, last.0)
    }
}
