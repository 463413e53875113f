//! Which lines belong together: the sidebands of one modulated carrier, as far as the filter cannot tell them apart.
//!
//! Nothing tells the phases of lines. Two lines beat. Three or more that stand nearer to each other than the filter
//! is wide are taken for one modulated carrier of steady envelope, as angle modulation makes it: its powers add, and no
//! look is higher than another. Deep amplitude modulation would peak higher.

use std::ops::Range;

use spurline_units::{Hertz, Watts};

use super::Line;

/// Lines that are one signal to the detector.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Signal {
    first: usize,
    end: usize,
}

impl Signal {
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
    pub(super) fn peak(self, lines: &[Line]) -> Line {
        let stronger = |one: Line, other: Line| if other.power > one.power { other } else { one };
        self.of(lines).iter().copied().reduce(stronger).expect("a signal has a line")
    }

    /// Its lines.
    pub(crate) fn of(self, lines: &[Line]) -> &[Line] {
        &lines[self.range()]
    }
}

/// As many lines as this in a row are one signal.
const SIDEBANDS: usize = 3;
/// Lines of one signal that are nearer to each other than this share of the bandwidth become one.
const ALIKE: f64 = 0.05;

/// Sorts lines by frequency into signals, for a filter of this bandwidth.
pub(crate) fn signals(lines: &mut Vec<Line>, bandwidth: Hertz) -> Vec<Signal> {
    lines.sort_unstable_by(|one, other| one.frequency.get().total_cmp(&other.frequency.get()));
    let mut signals = Vec::with_capacity(lines.len());
    let mut kept: Vec<Line> = Vec::with_capacity(lines.len());
    for row in lines.chunk_by(|one, next| next.frequency - one.frequency < bandwidth) {
        let first = kept.len();
        if row.len() < SIDEBANDS {
            kept.extend_from_slice(row);
            signals.extend((first..kept.len()).map(|place| Signal { first: place, end: place + 1 }));
        } else {
            merge(row, bandwidth * ALIKE, &mut kept);
            signals.push(Signal { first, end: kept.len() });
        }
    }
    *lines = kept;
    signals
}

/// Lines within a width become one of their power, where most of it is.
fn merge(row: &[Line], width: Hertz, kept: &mut Vec<Line>) {
    let mut rest = row;
    while let [first, ..] = rest {
        let count = rest.partition_point(|line| line.frequency - first.frequency < width).max(1);
        let (group, others) = rest.split_at(count);
        let power: Watts = group.iter().map(|line| line.power).sum();
        let weighted: f64 = group.iter().map(|line| line.frequency.get() * (line.power / power)).sum();
        kept.push(Line { frequency: Hertz::new(weighted), power });
        rest = others;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lines(places: &[(f64, f64)]) -> Vec<Line> {
        let line =
            |(khz, watts): &(f64, f64)| Line { frequency: Hertz::new(khz * 1e3), power: Watts::new(*watts) };
        places.iter().map(line).collect()
    }

    #[test]
    fn two_lines_are_two_signals_and_sidebands_are_one() {
        let mut all = lines(&[(110.0, 1.0), (100.0, 4.0), (300.0, 2.0), (305.0, 1.0), (295.0, 1.0)]);
        let found = signals(&mut all, Hertz::new(20e3));
        assert_eq!(all[0], lines(&[(100.0, 4.0)])[0]);
        assert_eq!(found.iter().map(|signal| signal.of(&all).len()).collect::<Vec<_>>(), [1, 1, 3]);
        // A narrow filter tells them all apart.
        assert_eq!(signals(&mut all, Hertz::new(1e3)).len(), 5);
    }

    #[test]
    fn lines_that_cannot_be_told_apart_become_one_with_their_power() {
        let mut all = lines(&[(100.0, 1.0), (100.4, 2.0), (100.8, 1.0), (103.0, 1.0)]);
        let found = signals(&mut all, Hertz::new(20e3));
        assert_eq!((found.len(), all.len()), (1, 2));
        assert!((all[0].frequency.get() - 100.4e3).abs() < 1e-6 && all[0].power == Watts::new(4.0));
    }
}
