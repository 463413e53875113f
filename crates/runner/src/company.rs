//! Who is with a run while it goes on.

use std::future::Future;
use std::pin::Pin;

use spurline_clock::Pace;
use spurline_record::RunId;
use spurline_sequencer::{Listener, Operator};

/// Whoever started a run: hears it, may stop it, and does by hand what nothing else does.
pub trait Company {
    /// Something that a person should know, in one or more lines.
    fn say(&mut self, text: &str);

    /// The run has its name, and nothing was keyed yet.
    fn named(&mut self, id: &RunId);

    /// Who hears its events; so many readings are still due.
    fn listener(&mut self, readings: usize, pace: Pace) -> Box<dyn Listener>;

    /// Who sets a tone and keys on a bench that has nothing else for it.
    fn operator(&mut self) -> Box<dyn Operator>;

    /// Ready when the run is to stop, key up first.
    fn stop(&mut self) -> Pin<Box<dyn Future<Output = ()>>>;
}
