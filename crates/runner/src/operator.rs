//! What stands in for a person on a simulated bench.

use std::future::Future;
use std::pin::Pin;

use spurline_sequencer::{Operator, Prompted, ToneWanted};
use spurline_sim::{Speaker, Thumb};

/// The hand of a simulated bench.
#[derive(Debug)]
pub struct Simulated {
    /// What gives the tone.
    pub speaker: Speaker,
    /// What keys.
    pub thumb: Thumb,
}

impl Operator for Simulated {
    fn prompted(&mut self, what: Prompted) {
        match what {
            Prompted::Key => self.thumb.press(),
            Prompted::LetGo => self.thumb.release(),
        }
    }

    fn set_tone(&mut self, wanted: Option<ToneWanted>) -> Pin<Box<dyn Future<Output = bool> + '_>> {
        Box::pin(async move {
            self.speaker.speak(wanted.map(|wanted| (wanted.frequency, wanted.level)));
            true
        })
    }
}
