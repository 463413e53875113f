//! What a person sees while a run goes on: a line per reading, and on a terminal where the run stands.

mod bar;
mod lines;

use std::io::IsTerminal;

use spurline_clock::Pace;
use spurline_record::Event;
use spurline_sequencer::Listener;

/// The listener that fits: none for programs, plain lines for files and pipes, lines and a bar on a terminal.
pub(crate) fn listener(unheard: bool, readings: usize, pace: Pace) -> Box<dyn Listener> {
    if unheard || crate::talk::is_quiet() {
        Box::new(Quiet)
    } else if std::io::stderr().is_terminal() {
        Box::new(bar::Bar::new(readings, pace))
    } else {
        Box::new(lines::Lines)
    }
}

/// Says nothing.
struct Quiet;

impl Listener for Quiet {
    fn hear(&mut self, _: &Event) {}
}
