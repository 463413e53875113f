//! What the key really did, with times, in a file for whoever proves that it comes up.
//!
//! One line a change: seconds on the machine's monotonic clock (on a fast clock: since the bench started), `down` or
//! `up`, the date and time, and why.

use std::fs::File;
use std::io::{self, Write};
use std::path::Path;
use std::sync::Arc;

use rustix::time::{ClockId, clock_gettime};
use spurline_clock::{Clock, Pace};

use crate::world::{KeyChange, World};

/// An open log.
#[derive(Debug)]
pub(super) struct KeyLog {
    file: File,
    clock: Clock,
}

impl KeyLog {
    pub(super) fn open(path: &Path, clock: Clock) -> io::Result<Self> {
        Ok(Self { file: File::create(path)?, clock })
    }

    /// Has every change written from now on, at once.
    pub(super) fn follow(self, world: &World) {
        let Self { mut file, clock } = self;
        world.tell_key(Box::new(move |change: KeyChange| {
            let at = match clock.pace() {
                Pace::Real => {
                    let now = clock_gettime(ClockId::Monotonic);
                    let late = clock.now().since(change.at).as_secs_f64();
                    now.tv_sec as f64 + now.tv_nsec as f64 * 1e-9 - late
                }
                Pace::Fast => clock.elapsed().as_secs_f64(),
            };
            let state = if change.down { "down" } else { "up" };
            // A log that cannot be written is missed by whoever reads it.
            drop(writeln!(file, "{at:.6} {state} {} {}", clock.timestamp(), change.why));
        }));
    }
}

/// Notes when the key comes up by itself, which nobody tells it to.
pub(super) async fn watch(world: Arc<World>, clock: Clock) {
    let mut opens = world.key_opens();
    loop {
        let at = *opens.borrow_and_update();
        match at {
            Some(at) => tokio::select! {
                biased;
                changed = opens.changed() => if changed.is_err() { return },
                () = clock.sleep_until(at) => {
                    world.note_key(clock.now(), "it opened by itself");
                    if opens.changed().await.is_err() {
                        return;
                    }
                }
            },
            None => {
                if opens.changed().await.is_err() {
                    return;
                }
            }
        }
    }
}
