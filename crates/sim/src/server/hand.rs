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
    /// What it is about to do, and whether that is letting go.
    about: Option<(JoinHandle<()>, bool)>,
}

impl Thumb {
    pub(super) fn new(truth: HandTruth, world: Arc<World>, clock: Clock) -> Self {
        Self { truth, world, clock, about: None }
    }

    /// Tells it to key.
    pub fn press(&mut self) {
        let HandTruth { reacts_in, keys, lets_go_after, .. } = self.truth;
        let (world, clock) = (self.world.clone(), self.clock);
        self.change(false, async move {
            clock.sleep(reacts_in.duration()).await;
            if keys {
                world.key_line(clock.now(), true, "a thumb pressed");
                if let Some(span) = lets_go_after {
                    clock.sleep(span.duration()).await;
                    world.key_line(clock.now(), false, "the thumb slipped");
                }
            }
        });
    }

    /// Tells it to let go. Told again meanwhile it does so no sooner and no later.
    pub fn release(&mut self) {
        if self.about.as_ref().is_some_and(|(doing, lets_go)| *lets_go && !doing.is_finished()) {
            return;
        }
        let HandTruth { reacts_in, lets_go, .. } = self.truth;
        let (world, clock) = (self.world.clone(), self.clock);
        self.change(true, async move {
            clock.sleep(reacts_in.duration()).await;
            if lets_go {
                world.key_line(clock.now(), false, "the thumb let go");
            }
        });
    }

    /// What it was about to do before is void.
    fn change(&mut self, lets_go: bool, doing: impl Future<Output = ()> + Send + 'static) {
        if let Some((before, _)) = self.about.take() {
            before.abort();
        }
        self.about = Some((tokio::spawn(doing), lets_go));
    }
}
