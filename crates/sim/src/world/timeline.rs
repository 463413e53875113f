//! A value that changes at moments, past ones and some that are already settled for later.

use spurline_clock::Moment;

/// The history of one value.
#[derive(Clone, Debug)]
pub(crate) struct Timeline<T> {
    initial: T,
    /// Changes in the order of their moments; each differs from the one before.
    changes: Vec<(Moment, T)>,
}

impl<T: PartialEq + Copy> Timeline<T> {
    /// A value that has always been `initial`.
    pub(crate) fn new(initial: T) -> Self {
        Self { initial, changes: Vec::new() }
    }

    /// The value at a moment; a change counts from its moment on.
    pub(crate) fn at(&self, moment: Moment) -> &T {
        self.count_at(moment).checked_sub(1).map_or(&self.initial, |i| &self.changes[i].1)
    }

    /// Since when the value of this moment has held; `None` if always.
    pub(crate) fn since(&self, moment: Moment) -> Option<Moment> {
        self.count_at(moment).checked_sub(1).map(|i| self.changes[i].0)
    }

    /// Changes the value from `moment` on; what was settled for later is void.
    pub(crate) fn set(&mut self, moment: Moment, value: T) {
        self.changes.truncate(self.count_at(moment));
        self.set_later(moment, value);
    }

    /// Changes the value at a moment behind all others.
    pub(crate) fn set_later(&mut self, moment: Moment, value: T) {
        if *self.at(moment) != value {
            self.changes.push((moment, value));
        }
    }

    /// The moments of the changes after `from` and up to `to`.
    pub(crate) fn changes(&self, from: Moment, to: Moment) -> impl Iterator<Item = Moment> + '_ {
        let between = self.changes.get(self.count_at(from)..self.count_at(to)).unwrap_or_default();
        between.iter().map(|(at, _)| *at)
    }

    /// The moments of the changes from a moment on, or of all.
    pub(crate) fn from(&self, moment: Option<Moment>) -> impl Iterator<Item = Moment> + '_ {
        let first = moment.map_or(0, |moment| self.changes.partition_point(|(at, _)| *at < moment));
        self.changes[first..].iter().map(|(at, _)| *at)
    }

    /// All changes up to a moment.
    pub(crate) fn history(&self, until: Moment) -> impl Iterator<Item = (Moment, T)> + '_ {
        self.changes[..self.count_at(until)].iter().copied()
    }

    fn count_at(&self, moment: Moment) -> usize {
        self.changes.partition_point(|(at, _)| *at <= moment)
    }
}

#[cfg(test)]
mod tests {
    use std::time::Duration;

    use super::*;

    #[test]
    fn changes_hold_from_their_moment_on() {
        let now =
            spurline_clock::run(spurline_clock::Pace::Fast, |clock| async move { clock.now() }).unwrap();
        let at = |ms| now.after(Duration::from_millis(ms));
        let mut key = Timeline::new(false);
        key.set(at(10), true);
        key.set_later(at(20), false);
        assert_eq!([9, 10, 19, 20].map(|ms| *key.at(at(ms))), [false, true, true, false]);
        assert_eq!((key.since(at(9)), key.since(at(15))), (None, Some(at(10))));
        // Closed again before it opens: the later opening is void, and it has been closed all the time.
        key.set(at(15), true);
        assert_eq!((*key.at(at(25)), key.since(at(25))), (true, Some(at(10))));
        assert_eq!(key.history(at(99)).count(), 1);
        assert_eq!(key.changes(at(0), at(99)).collect::<Vec<_>>(), [at(10)]);
        assert_eq!(
            (key.from(None).count(), key.from(Some(at(10))).count(), key.from(Some(at(11))).count()),
            (1, 1, 0)
        );
        assert_eq!(key.changes(at(10), at(99)).count() + key.changes(at(99), at(0)).count(), 0);
    }
}
