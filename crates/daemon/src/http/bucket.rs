//! How often something may happen: so many at once, and so many in a second after that.

use std::sync::{Mutex, PoisonError};

use spurline_clock::{Clock, Moment};

/// A supply that is used up, and fills again.
#[derive(Debug)]
pub(super) struct Bucket {
    clock: Clock,
    most: f64,
    in_a_second: f64,
    level: Mutex<(f64, Moment)>,
}

impl Bucket {
    pub(super) fn new(most: f64, in_a_second: f64, clock: Clock) -> Self {
        Self { clock, most, in_a_second, level: Mutex::new((most, clock.now())) }
    }

    /// Takes one; `false` if there is none.
    pub(super) fn take(&self) -> bool {
        let mut level = self.level.lock().unwrap_or_else(PoisonError::into_inner);
        let now = self.clock.now();
        let filled = level.0 + self.in_a_second * now.since(level.1).as_secs_f64();
        *level = (filled.min(self.most), now);
        let has = level.0 >= 1.0;
        if has {
            level.0 -= 1.0;
        }
        has
    }
}

#[cfg(test)]
mod tests {
    use std::time::Duration;

    use spurline_clock::{Pace, run};

    use super::*;

    #[test]
    fn so_many_at_once_and_then_so_many_in_a_second() {
        run(Pace::Fast, |clock| async move {
            let bucket = Bucket::new(3.0, 2.0, clock);
            assert!((0..3).all(|_| bucket.take()));
            assert!(!bucket.take());
            clock.sleep(Duration::from_millis(501)).await;
            assert!(bucket.take() && !bucket.take());
            clock.sleep(Duration::from_secs(3600)).await;
            assert_eq!((0..10).filter(|_| bucket.take()).count(), 3);
        })
        .unwrap();
    }
}
