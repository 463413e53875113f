//! What really happened on a bench, for tests that must know more than the wire tells.

use std::time::Duration;

/// The truth about a served bench up to the moment it was asked for. Moments count from the start of serving.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Observations {
    /// Every change of the key line's contact: when, and whether it closed.
    pub key_history: Vec<(Duration, bool)>,
    /// Whether the contact is closed.
    pub keyed: bool,
    /// Whether the unit transmits.
    pub transmitting: bool,
    /// The longest time that the contact was closed without a break.
    pub longest_key_down: Duration,
    /// When the analyser's input broke, if it did.
    pub analyser_damaged: Option<Duration>,
}

impl Observations {
    pub(crate) fn new(
        now: Duration,
        key_history: Vec<(Duration, bool)>,
        keyed: bool,
        transmitting: bool,
        analyser_damaged: Option<Duration>,
    ) -> Self {
        let ends = key_history.iter().skip(1).map(|(at, _)| *at).chain([now]);
        let spans: Vec<Duration> = key_history
            .iter()
            .zip(ends)
            .filter(|((_, closed), _)| *closed)
            .map(|((start, _), end)| end.saturating_sub(*start))
            .collect();
        Self {
            longest_key_down: spans.iter().copied().max().unwrap_or_default(),
            key_history,
            keyed,
            transmitting,
            analyser_damaged,
        }
    }
}
