//! Which lines belong together: those of one modulated oscillation, as far as the filter cannot tell them apart.
//!
//! Together they carry what their envelope does: all their power without any swing if it is modulated in frequency, and
//! the swing of its voltage if it has one. Lines of different oscillations have unrelated phases and beat, and so do the
//! lines of one that the filter tells apart.

use std::cmp::Ordering;
use std::ops::Range;

use spurline_units::{Hertz, Watts};

use crate::physics::line::Line;

/// Lines that are one signal to the detector.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Signal {
    first: usize,
    end: usize,
    /// Its power over the mean at this time, as its envelope has it.
    pub(crate) swing: f64,
}

impl Signal {
    /// Whether the unit's modulation is on it.
    pub(crate) fn is_modulated(self, lines: &[Line]) -> bool {
        lines[self.first].of.is_modulated()
    }

    /// The places of its lines.
    pub(super) fn range(self) -> Range<usize> {
        self.first..self.end
    }

    /// All of it as one line, where it is strongest.
    pub(crate) fn whole(self, lines: &[Line]) -> Line {
        let power = self.of(lines).iter().map(|line| line.power).sum();
        Line { power, ..self.peak(lines) }
    }

    /// Its strongest line.
    pub(crate) fn peak(self, lines: &[Line]) -> Line {
        let stronger = |one: Line, other: Line| if other.power > one.power { other } else { one };
        self.of(lines).iter().copied().reduce(stronger).expect("a signal has a line")
    }

    /// Its lines.
    pub(crate) fn of(self, lines: &[Line]) -> &[Line] {
        &lines[self.range()]
    }
}

/// Lines of one signal that are nearer to each other than this share of the bandwidth become one.
const ALIKE: f64 = 0.05;

/// Sorts lines into signals, for a filter of this bandwidth.
pub(crate) fn signals(lines: &mut Vec<Line>, bandwidth: Hertz) -> Vec<Signal> {
    lines.sort_unstable_by(|one, other| order(one).partial_cmp(&order(other)).unwrap_or(Ordering::Equal));
    let mut signals = Vec::with_capacity(lines.len());
    let mut kept: Vec<Line> = Vec::with_capacity(lines.len());
    let belong = |one: &Line, next: &Line| {
        one.of.is_modulated() && one.of == next.of && next.frequency - one.frequency < bandwidth
    };
    for row in lines.chunk_by(belong) {
        let first = kept.len();
        merge(row, bandwidth * ALIKE, &mut kept);
        signals.push(Signal { first, end: kept.len(), swing: 1.0 });
    }
    *lines = kept;
    signals
}

/// By oscillations, and among the lines of one by frequency.
fn order(line: &Line) -> (f64, Option<f64>, f64) {
    (line.of.centre.get(), line.of.swings, line.frequency.get())
}

/// Lines within a width become one of their power, where most of it is.
fn merge(row: &[Line], width: Hertz, kept: &mut Vec<Line>) {
    let mut rest = row;
    while let [first, ..] = rest {
        let count = rest.partition_point(|line| line.frequency - first.frequency < width).max(1);
        let (group, others) = rest.split_at(count);
        let power: Watts = group.iter().map(|line| line.power).sum();
        let weighted: f64 = group.iter().map(|line| line.frequency.get() * (line.power / power)).sum();
        kept.push(Line { frequency: Hertz::new(weighted), power, of: first.of });
        rest = others;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    use crate::physics::line::Oscillation;

    /// Lines of one modulated oscillation, or of as many as there are lines.
    fn lines(modulated: bool, places: &[(f64, f64)]) -> Vec<Line> {
        let line = |(khz, watts): &(f64, f64)| {
            let bare = Line::bare(Hertz::new(khz * 1e3), Watts::new(*watts));
            let of = Oscillation { centre: Hertz::new(1e5), swings: Some(1.0) };
            if modulated { Line { of, ..bare } } else { bare }
        };
        places.iter().map(line).collect()
    }

    fn counts(mut lines: Vec<Line>, khz: f64) -> Vec<usize> {
        let found = signals(&mut lines, Hertz::new(khz * 1e3));
        found.iter().map(|signal| signal.of(&lines).len()).collect()
    }

    #[test]
    fn lines_of_one_carrier_are_one_signal_as_far_as_they_cannot_be_told_apart() {
        let places = [(110.0, 1.0), (100.0, 4.0), (300.0, 2.0), (305.0, 1.0), (295.0, 1.0)];
        assert_eq!(counts(lines(true, &places), 20.0), [2, 3]);
        assert_eq!(counts(lines(true, &places), 1.0), [1; 5]);
        assert_eq!(counts(lines(false, &places), 20.0), [1; 5]);
        // Other lines among them belong to nobody else.
        let both = [lines(true, &places), lines(false, &[(105.0, 1.0), (106.0, 1.0)])].concat();
        assert_eq!(counts(both, 20.0), [2, 3, 1, 1]);
    }

    #[test]
    fn lines_that_cannot_be_told_apart_become_one_with_their_power() {
        let mut all = lines(true, &[(100.0, 1.0), (100.4, 2.0), (100.8, 1.0), (103.0, 1.0)]);
        let found = signals(&mut all, Hertz::new(20e3));
        assert_eq!((found.len(), all.len()), (1, 2));
        assert!((all[0].frequency.get() - 100.4e3).abs() < 1e-6 && all[0].power == Watts::new(4.0));
    }
}
