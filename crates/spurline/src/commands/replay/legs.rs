//! The legs of a run: from its beginning to where it broke off, and from each time that it went on.

use spurline_record::{Event, EventKind, Reading, RunState};
use spurline_sequencer::Kept;
use spurline_store::{Direction, StoredRun, TranscriptEntry};

/// One leg of a run: what it added, as a run of its own, and what was there before it.
pub(super) struct Leg {
    pub(super) run: StoredRun,
    pub(super) entries: Vec<TranscriptEntry>,
    /// What was kept when it went on; `None` for the first leg.
    pub(super) kept: Option<Kept>,
}

/// The legs of a run, in order, each with its part of the transcript.
pub(super) fn of(stored: &StoredRun, entries: Vec<TranscriptEntry>) -> Vec<Leg> {
    let mut parts = vec![Vec::new()];
    for entry in entries {
        match entry.direction {
            Direction::Resumed => parts.push(Vec::new()),
            _ => parts.last_mut().expect("there is a first part").push(entry),
        }
    }
    let resumed = |event: &Event| matches!(event.kind, EventKind::Resumed(_));
    let ends = stored.events.iter().enumerate().filter(|(_, event)| resumed(event)).map(|(place, _)| place);
    let starts: Vec<usize> = std::iter::once(0).chain(ends).chain([stored.events.len()]).collect();
    let mut parts = parts.into_iter();
    starts
        .windows(2)
        .map(|pair| {
            let (before, events) = (&stored.events[..pair[0]], &stored.events[pair[0]..pair[1]]);
            let stood = match stored.events.get(pair[1]).map(|event| &event.kind) {
                Some(EventKind::Resumed(resumption)) => resumption.stood,
                _ => stored.state,
            };
            let run = StoredRun {
                state: stood,
                readings: readings(events),
                events: events.to_owned(),
                header: stored.header.clone(),
                instruments: Vec::new(),
                set_aside: Vec::new(),
                prunings: Vec::new(),
                ..*stored
            };
            let kept = events.first().and_then(|first| kept(before, first));
            Leg { run, entries: parts.next().unwrap_or_default(), kept }
        })
        .collect()
}

fn readings(events: &[Event]) -> Vec<Reading> {
    let of = |event: &Event| match &event.kind {
        EventKind::ReadingFinished(reading) => Some(Reading::clone(reading)),
        _ => None,
    };
    events.iter().filter_map(of).collect()
}

/// What a leg that begins with this event goes on with.
fn kept(before: &[Event], first: &Event) -> Option<Kept> {
    let EventKind::Resumed(resumption) = &first.kind else { return None };
    let earlier = before.iter().flat_map(|event| match &event.kind {
        EventKind::Resumed(resumption) => resumption.set_aside.as_slice(),
        _ => &[],
    });
    let earlier: Vec<u32> = earlier.copied().collect();
    let mut counting = readings(before);
    counting.retain(|reading| !earlier.contains(&reading.ordinal));
    let stood: RunState = resumption.stood;
    let kept = Kept::of(before, &counting, stood, &resumption.software);
    Some(Kept { went_on: Some(first.at), ..kept })
}
