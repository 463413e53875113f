//! A line at the foot of the terminal that says where the run stands: readings done, key and keyed time, what is
//! being done. The lines of the events scroll above it.

use std::fmt::Write;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::time::Duration;

use indicatif::{ProgressBar, ProgressState, ProgressStyle};
use jiff::Timestamp;
use spurline_clock::Pace;
use spurline_record::{Event, EventKind};
use spurline_sequencer::Listener;

use super::lines;
use crate::paint;

/// Lines on a terminal, and where the run stands below them.
pub(super) struct Bar {
    bar: ProgressBar,
    key: Arc<Key>,
    down: Option<Timestamp>,
}

/// The key as the foot of the terminal shows it, drawn from another thread.
struct Key {
    down: AtomicBool,
    /// For how long, in milliseconds of the run's own time, when it was last heard of.
    heard: AtomicU64,
    /// Whether the terminal's time is the run's own.
    real: bool,
    coloured: bool,
}

const TICK: Duration = Duration::from_millis(100);

impl Bar {
    pub(super) fn new(readings: usize, pace: Pace) -> Self {
        let real = pace == Pace::Real;
        let coloured = crate::talk::style() == spurline_document::Style::Coloured;
        let key = Arc::new(Key { down: AtomicBool::new(false), heard: AtomicU64::new(0), real, coloured });
        let shown = key.clone();
        // A template that is a constant reads, or the first run of any test of it shows that it does not.
        let style = ProgressStyle::with_template("{pos:>3}/{len} {key} {wide_msg}")
            .unwrap_or_else(|_| ProgressStyle::default_bar())
            .with_key("key", move |state: &ProgressState, out: &mut dyn Write| shown.write(state, out));
        let bar = ProgressBar::new(readings as u64).with_style(style);
        bar.enable_steady_tick(TICK);
        Self { bar, key, down: None }
    }

    fn set_key(&mut self, down: Option<Timestamp>) {
        self.down = down;
        self.key.heard.store(0, Ordering::Relaxed);
        self.key.down.store(down.is_some(), Ordering::Relaxed);
        self.bar.reset_elapsed();
    }

    /// Which channel it is stands in the lines above: what is done must fit beside the key.
    fn message(&self, what: &str) {
        self.bar.set_message(what.to_owned());
    }
}

impl Key {
    fn write(&self, state: &ProgressState, out: &mut dyn Write) {
        let text = if self.down.load(Ordering::Relaxed) {
            let heard = Duration::from_millis(self.heard.load(Ordering::Relaxed));
            let held = if self.real { heard.max(state.elapsed()) } else { heard };
            let text = format!("KEY DOWN {:4.1} s", held.as_secs_f64());
            // What draws the foot of the terminal does not ask whether colours are wanted.
            if self.coloured { paint::key_down(&text) } else { text }
        } else {
            let since = if self.real { state.elapsed() } else { Duration::ZERO };
            format!("key up {:6.1} s", since.as_secs_f64())
        };
        // What cannot be drawn is not drawn.
        out.write_str(&text).ok();
    }
}

impl Listener for Bar {
    fn hear(&mut self, event: &Event) {
        if let Some(since) = self.down {
            let held = event.at.duration_since(since).as_millis();
            self.key.heard.store(u64::try_from(held).unwrap_or(0), Ordering::Relaxed);
        }
        match &event.kind {
            EventKind::KeyDown { .. } => self.set_key(Some(event.at)),
            EventKind::KeyUp { .. } => self.set_key(None),
            EventKind::Doing(what) => self.message(what),
            EventKind::ReadingFinished(reading) => {
                self.message(&reading.short_title());
                self.bar.inc(1);
            }
            // Whoever is to key may look at the unit and not at the screen.
            EventKind::Prompt(_) => self.bar.suspend(crate::talk::sound),
            EventKind::RunEnded { .. } => self.bar.finish_and_clear(),
            EventKind::RunStarted(_)
            | EventKind::InstrumentFound(_)
            | EventKind::ScopeStarted { .. }
            | EventKind::Interlocks(_)
            | EventKind::PartFinished(_)
            | EventKind::Resumed(_)
            | EventKind::Note(_)
            | EventKind::Failed(_) => {}
        }
        if let Some(line) = lines::line(&event.kind) {
            self.bar.suspend(|| crate::talk::say(&line));
        }
    }
}

impl Drop for Bar {
    fn drop(&mut self) {
        // A run that broke off must not leave its last line below the message that says why.
        self.bar.finish_and_clear();
    }
}
