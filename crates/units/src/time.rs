//! Time spans.

use std::time::Duration;

use crate::notation::Notation;
use crate::quantity::{additive, quantity};

pub(crate) const TIME: Notation = Notation {
    what: "a time",
    example: "20 s",
    units: &[("s", 1.0), ("ms", 1e-3), ("us", 1e-6), ("min", 60.0), ("h", 3600.0)],
    least: 0.0,
    most: 1e9,
    bound: "a time is at most 1000000000 s",
    digits: None,
};

quantity!(
    /// A time span, in seconds; never below zero when it is read from text.
    Seconds, TIME, "seconds"
);
additive!(Seconds);

impl Seconds {
    /// The same span for the clock; a span below zero becomes zero, one beyond what can be read from text
    /// becomes that.
    #[must_use]
    pub fn duration(self) -> Duration {
        Duration::from_secs_f64(self.get().clamp(0.0, TIME.most))
    }
}

impl From<Duration> for Seconds {
    fn from(span: Duration) -> Self {
        Self::new(span.as_secs_f64())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reads_and_prints() {
        assert_eq!("90 min".parse(), Ok(Seconds::new(5400.0)));
        assert_eq!(Seconds::new(0.5).to_string(), "500 ms");
        assert_eq!(Seconds::new(5400.0).to_string(), "90 min");
        assert_eq!(Seconds::new(100.0).to_string(), "100 s");
        // The micro sign and the Greek letter look alike.
        for text in ["20 us", "20 \u{b5}s", "20 \u{3bc}s"] {
            assert_eq!(text.parse(), Ok(Seconds::new(20e-6)), "{text}");
        }
    }

    #[test]
    fn the_clock_gets_a_span_that_it_can_hold() {
        assert_eq!(Seconds::new(-1.0).duration(), Duration::ZERO);
        assert_eq!(Seconds::new(1e300).duration(), Duration::from_secs(1_000_000_000));
        assert_eq!(Seconds::from(Duration::from_millis(1500)), Seconds::new(1.5));
    }
}
