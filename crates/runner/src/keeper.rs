//! What happens in a run, and what passes on its links, into the record.

use std::path::Path;

use spurline_record::{Event, EventKind};
use spurline_store::{Recorder, TranscriptEntry};
use spurline_transport::Tap;

use crate::room;

/// Keeps events and, with each, what passed on the links meanwhile.
pub(crate) struct Keeper<'a> {
    pub(crate) recorder: &'a mut Recorder,
    pub(crate) tap: &'a Tap,
    /// Folder of the record.
    pub(crate) folder: &'a Path,
}

impl spurline_sequencer::Recorder for Keeper<'_> {
    fn keep(&mut self, events: &[Event]) -> Result<(), Box<dyn std::error::Error + Send + Sync>> {
        let resumed = events.iter().find(|event| matches!(event.kind, EventKind::Resumed(_)));
        let mut entries: Vec<_> = resumed.map(mark).into_iter().collect();
        // The transcript is kept with what is kept anyway, in its commit: neither is there without the other, and there is
        // no commit of its own while the key is down.
        let takes = |event: &Event| {
            matches!(
                event.kind,
                EventKind::ScopeStarted { .. } | EventKind::KeyUp { .. } | EventKind::RunEnded { .. }
            )
        };
        if events.iter().any(takes) {
            entries.extend(self.tap.take().into_iter().map(transcript_entry));
        }
        self.recorder.record_with(events, &entries)?;
        Ok(())
    }

    fn ready(&mut self) -> Result<String, String> {
        room::in_folder(self.folder)
    }
}

/// What parts the messages of before from those of now.
fn mark(resumed: &Event) -> TranscriptEntry {
    let direction = spurline_store::Direction::Resumed;
    TranscriptEntry {
        at: resumed.at,
        link: "run".into(),
        direction,
        step: "connect".into(),
        bytes: Vec::new(),
    }
}

fn transcript_entry(tapped: spurline_transport::Tapped) -> TranscriptEntry {
    TranscriptEntry {
        at: tapped.at,
        link: tapped.link,
        direction: match tapped.direction {
            spurline_transport::Direction::Sent => spurline_store::Direction::To,
            spurline_transport::Direction::Received => spurline_store::Direction::From,
            spurline_transport::Direction::Unreadable => spurline_store::Direction::Unreadable,
            spurline_transport::Direction::Lost => spurline_store::Direction::Lost,
        },
        step: tapped.step,
        bytes: tapped.bytes.to_vec(),
    }
}
