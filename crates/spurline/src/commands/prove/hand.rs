//! Who connects the generator: a person who is asked, or what stands in for one on a simulated bench.

use std::future::Future;
use std::pin::Pin;

use spurline_sequencer::{Fitting, Hand};
use spurline_sim::{Connected, Served};

use crate::talk::{answer, tell, wrapped};

/// A person at the bench.
pub(super) struct Person {
    /// Whether it is connected already.
    pub(super) connected: bool,
}

impl Hand for Person {
    fn connect(&mut self, what: Fitting) -> Pin<Box<dyn Future<Output = ()> + '_>> {
        Box::pin(async move {
            if self.connected {
                return;
            }
            let place = match what {
                Fitting::Generator => {
                    "connect the generator where the unit's connector is, in the unit's place. Never key a transmitter \
                     into a generator: its power destroys the output"
                }
                Fitting::Both => {
                    "connect unit and generator through one combiner where the unit's connector is, the generator \
                     behind all the isolation that the bench file states: the unit's power destroys its output \
                     otherwise"
                }
            };
            tell(&wrapped(
                &format!(
                    "the key is up and the generator's output is off. Now {place}. Pads and loads may still be hot. \
                     Press Enter when it is connected, Ctrl-C to stop"
                ),
                0,
            ));
            // Whether it could be read or not, nothing more will come.
            drop(answer().await);
        })
    }
}

/// The hand of a simulated bench.
pub(super) struct Simulator<'a>(pub(super) &'a Served);

impl Hand for Simulator<'_> {
    fn connect(&mut self, what: Fitting) -> Pin<Box<dyn Future<Output = ()> + '_>> {
        Box::pin(async move {
            self.0.connect(match what {
                Fitting::Generator => Connected::Generator,
                Fitting::Both => Connected::Both,
            });
        })
    }
}
