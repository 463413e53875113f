//! Which signals of a scene matter in which buckets of a sweep: found once, followed from point to point.

use spurline_units::{Hertz, Watts};

use super::settings::Settings;
use crate::physics::detector::Signal;
use crate::physics::filter::Filter;
use crate::physics::line::Line;

/// The signals that matter at one point after the other.
#[derive(Debug, Default)]
pub(super) struct Nearby {
    /// All signals that matter somewhere, in the order of their first points.
    all: Vec<Span>,
    /// How many of them have begun.
    begun: usize,
    /// Those at the point that was asked for last, and their last points.
    near: Vec<Signal>,
    last: Vec<usize>,
}

/// The points at which a signal matters, both ends among them.
#[derive(Clone, Copy, Debug)]
struct Span {
    first: usize,
    last: usize,
    signal: Signal,
}

/// A line this far below the noise, as a power ratio, is left out.
const NEGLIGIBLE: f64 = 1e-4;

impl Nearby {
    /// Among `lines` behind `filter` with `noise` there.
    pub(super) fn new(
        lines: &[Line],
        signals: &[Signal],
        filter: Filter,
        noise: Watts,
        settings: &Settings,
    ) -> Self {
        let span = |signal: &Signal| {
            let edges = signal.of(lines).iter().filter_map(|line| {
                let reach = filter.reach(NEGLIGIBLE * (noise / line.power))?;
                points(settings, line.frequency, reach)
            });
            edges.reduce(|one, other| (one.0.min(other.0), one.1.max(other.1)))
        };
        let spans = signals.iter().filter_map(|signal| {
            let (first, last) = span(signal)?;
            Some(Span { first, last, signal: *signal })
        });
        let mut all: Vec<Span> = spans.collect();
        all.sort_by_key(|span| span.first);
        Self { all, ..Self::default() }
    }

    /// Begins again at the first point.
    pub(super) fn rewind(&mut self) {
        self.begun = 0;
        self.near.clear();
        self.last.clear();
    }

    /// Those that matter at a point; points are asked for in rising order.
    pub(super) fn at(&mut self, point: usize) -> &mut [Signal] {
        let mut place = 0;
        while place < self.near.len() {
            if self.last[place] < point {
                self.near.remove(place);
                self.last.remove(place);
            } else {
                place += 1;
            }
        }
        while let Some(span) = self.all.get(self.begun).filter(|span| span.first <= point) {
            self.begun += 1;
            if span.last >= point {
                self.near.push(span.signal);
                self.last.push(span.last);
            }
        }
        &mut self.near
    }
}

/// The first and the last point whose bucket comes within `reach` hertz of a line.
fn points(settings: &Settings, line: Hertz, reach: f64) -> Option<(usize, usize)> {
    let last = settings.points as usize - 1;
    let step = settings.span / last as f64;
    let from_first = line.get() - settings.frequency_of(0);
    if step == 0.0 {
        return (from_first.abs() <= reach).then_some((0, last));
    }
    let reach = reach + step / 2.0;
    let (first, end) = ((from_first - reach) / step, (from_first + reach) / step);
    (end >= 0.0 && first <= last as f64).then(|| (first.max(0.0) as usize, end.min(last as f64) as usize))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::physics::detector::signals;
    use crate::physics::filter::Shape;
    use spurline_units::Range;

    /// At every point those are near that are within reach of its bucket, found there one by one.
    #[test]
    fn it_forgets_none_and_keeps_none_too_long() {
        let range = Range::new(Hertz::new(9e3), Hertz::new(3e9)).unwrap();
        for span in [0.0, 50e3, 1e6, 30e6] {
            let settings = Settings { centre: 100e6, span, points: 301, ..Settings::reset(range) };
            let line = |khz: f64, power| Line::bare(Hertz::new(100e6 + khz * 1e3), Watts::new(power));
            let mut lines = vec![
                line(-900.0, 1e-3),
                line(3.0, 1e-9),
                line(-3.0, 1e-12),
                line(500.0, 1e-6),
                line(14e3, 1e-4),
                line(4.0, 1e-5),
            ];
            let filter = Filter::new(Shape::Gaussian, Hertz::new(10e3));
            let noise = Watts::new(1e-12);
            let signals = signals(&mut lines, Hertz::new(10e3));
            let mut nearby = Nearby::new(&lines, &signals, filter, noise, &settings);
            let half = span / 300.0 / 2.0;
            let mut seen = 0;
            for point in 0..301 {
                let centre = settings.frequency_of(point);
                let near = nearby.at(point).to_vec();
                for signal in &signals {
                    let matters = signal.of(&lines).iter().any(|line| {
                        let f = line.frequency.get();
                        let offset = f - f.clamp(centre - half, centre + half);
                        line.power.get() * filter.passes(offset) > 1.000_1 * NEGLIGIBLE * noise.get()
                    });
                    assert!(!matters || near.contains(signal), "span {span}, point {point}: {signal:?}");
                }
                seen += near.len();
            }
            assert!(span == 0.0 || seen < 301 * signals.len() * 2 / 3, "span {span}: {seen}");
        }
    }
}
