//! A hand at the unit's own key, which no program holds.

use std::sync::Arc;

use spurline_clock::Clock;
use tokio::task::JoinHandle;

use crate::bench::HandTruth;
use crate::world::World;

/// A thumb on the unit's key. What it is told it does a moment later; dropped, it stays where it is.
#[derive(Debug)]
pub struct Thumb {
    truth: HandTruth,
    world: Arc<World>,
    clock: Clock,
    /// What it is about to do: to key, and to let go.
    presses: Option<JoinHandle<()>>,
    releases: Option<JoinHandle<()>>,
}

impl Thumb {
    pub(super) fn new(truth: HandTruth, world: Arc<World>, clock: Clock) -> Self {
        Self { truth, world, clock, presses: None, releases: None }
    }

    /// Tells it to key: whatever it was about to do before is void.
    pub fn press(&mut self) {
        for doing in [self.presses.take(), self.releases.take()].into_iter().flatten() {
            doing.abort();
        }
        let HandTruth { reacts_in, keys, lets_go_after, .. } = self.truth;
        let (world, clock) = (self.world.clone(), self.clock);
        self.presses = Some(tokio::spawn(async move {
            clock.sleep(reacts_in.duration()).await;
            if keys {
                world.key_line(clock.now(), true, "a thumb pressed");
                if let Some(span) = lets_go_after {
                    clock.sleep(span.duration()).await;
                    world.key_line(clock.now(), false, "the thumb slipped");
                }
            }
        }));
    }

    /// Tells it to let go. Told again meanwhile it does so no sooner and no later; a thumb on its way to the key comes down
    /// all the same, and then goes up.
    pub fn release(&mut self) {
        if self.releases.as_ref().is_some_and(|doing| !doing.is_finished()) {
            return;
        }
        let HandTruth { reacts_in, lets_go, .. } = self.truth;
        let (world, clock) = (self.world.clone(), self.clock);
        self.releases = Some(tokio::spawn(async move {
            clock.sleep(reacts_in.duration()).await;
            if lets_go {
                world.key_line(clock.now(), false, "the thumb let go");
            }
        }));
    }
}
