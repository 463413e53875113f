//! Who sets a tone where the bench has no audio generator, and who keys where nothing else does: the person at the terminal.

use std::future::Future;
use std::io::IsTerminal;
use std::pin::Pin;

use spurline_sequencer::{Operator, Prompted, ToneWanted};

use crate::talk::{answer, tell, wrapped};

/// A person at the terminal.
#[derive(Debug)]
pub(crate) struct AtTerminal;

impl Operator for AtTerminal {
    /// The events tell, and the bell.
    fn prompted(&mut self, _: Prompted) {}

    fn set_tone(&mut self, wanted: Option<ToneWanted>) -> Pin<Box<dyn Future<Output = bool> + '_>> {
        Box::pin(async move {
            let what = match wanted {
                Some(ToneWanted { frequency, level }) => format!(
                    "give the unit's microphone input a sine of {frequency}, {:.2} mV r.m.s., and leave it on",
                    level.get() * 1e3
                ),
                None => "take the tone away from the unit's microphone input".to_owned(),
            };
            if !std::io::stdin().is_terminal() {
                tell(&wrapped(&format!("nobody is there: {what}"), 0));
                return false;
            }
            tell(&wrapped(
                &format!("the key is up. Now {what}. Press Enter when it is done, Ctrl-C to stop"),
                0,
            ));
            answer().await.is_some()
        })
    }
}

/// Of a run that is repeated: the tones were set and the unit was keyed then.
#[derive(Debug)]
pub(crate) struct LongAgo;

impl Operator for LongAgo {
    fn prompted(&mut self, _: Prompted) {}

    fn set_tone(&mut self, _: Option<ToneWanted>) -> Pin<Box<dyn Future<Output = bool> + '_>> {
        Box::pin(std::future::ready(true))
    }
}
