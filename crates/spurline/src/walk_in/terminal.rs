//! The terminal of a test day.

use std::future::Future;
use std::io::{BufRead, IsTerminal};
use std::pin::Pin;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

use spurline_clock::Pace;
use spurline_record::{RunId, VisitOutcome};
use spurline_runner::Company;
use spurline_sequencer::{Listener, Operator};
use spurline_walkin::{Audience, Day, Front, Show, Visit, summary_text, typeset, verdict};
use tokio::sync::mpsc::{UnboundedReceiver, unbounded_channel};
use tokio::sync::watch;

use super::letters::large;
use super::lines::FewLines;
use super::paper::Slips;
use crate::commands::operator::AtTerminal;
use crate::paint;
use crate::stop::told_to_stop;
use crate::talk::{self, Failure, say, sound, wrapped};

/// Somebody wants the program to end. It is listened for all the time, so that no moment between two pieces of work loses it.
#[derive(Clone, Debug)]
pub(crate) struct Stopped(watch::Receiver<bool>);

impl Stopped {
    /// Listens from now on.
    pub(crate) fn listening() -> Result<Self, Failure> {
        let (sender, told) = watch::channel(false);
        let (begun, begins) = std::sync::mpsc::channel();
        // The thread may outlive the program's work: it holds nothing.
        std::thread::spawn(move || {
            let listened = spurline_clock::run(Pace::Real, |_| async {
                let told = told_to_stop();
                if begun.send(()).is_ok() {
                    told.await;
                }
            });
            // What cannot be listened for any more ends the day as well.
            drop(listened);
            sender.send_replace(true);
        });
        begins.recv().map_err(|_| Failure::runtime(std::io::Error::other("nobody listens for the end")))?;
        Ok(Self(told))
    }

    pub(crate) fn is_wanted(&self) -> bool {
        *self.0.borrow()
    }

    /// Ready once it is wanted, also if that was before.
    fn wanted(&self) -> impl Future<Output = ()> + 'static {
        let mut told = self.0.clone();
        async move {
            if told.wait_for(|wanted| *wanted).await.is_err() {
                std::future::pending::<()>().await;
            }
        }
    }
}

/// What came of waiting for a line.
#[derive(Debug)]
pub(crate) enum Waited {
    /// A line, and whether it was typed before it was asked for.
    Line(String, bool),
    /// Nobody types any more.
    End,
    /// The program is to end.
    Stopped,
    /// The time is over.
    Later,
}

/// The person at the terminal. What is typed while a radio is measured waits for its turn.
pub(crate) struct Terminal {
    /// Each with whether it was typed while nothing was asked.
    lines: UnboundedReceiver<(String, bool)>,
    /// Whether nothing is asked at this moment.
    busy: Arc<AtomicBool>,
    stopped: Stopped,
    slips: Slips,
}

impl Terminal {
    /// Begins to read what is typed. The thread that reads may outlive the program's work: it holds nothing.
    pub(crate) fn new(slips: Slips, stopped: Stopped) -> Self {
        let (sender, lines) = unbounded_channel();
        let busy = Arc::new(AtomicBool::new(true));
        let is_busy = busy.clone();
        // What comes out of a file or from another program is a list that is worked off; a person types too early.
        let person = std::io::stdin().is_terminal();
        std::thread::spawn(move || {
            for line in std::io::stdin().lock().lines() {
                let Ok(line) = line else { return };
                // One line answers what was asked; what comes behind it was typed too early.
                let early = is_busy.swap(true, Ordering::SeqCst);
                if sender.send((line, person && early)).is_err() {
                    return;
                }
            }
        });
        Self { lines, busy, stopped, slips }
    }

    /// Asks, and waits for a line, at most for a time, if one is given.
    pub(crate) fn ask(&mut self, prompt: &str, at_most: Option<Duration>) -> Result<Waited, Failure> {
        self.busy.store(false, Ordering::SeqCst);
        say("");
        show_lines(prompt, 2);
        let waited = self.wait(at_most);
        self.busy.store(true, Ordering::SeqCst);
        waited
    }

    fn wait(&mut self, at_most: Option<Duration>) -> Result<Waited, Failure> {
        let (lines, stopped) = (&mut self.lines, self.stopped.wanted());
        let waited = spurline_clock::run(Pace::Real, |clock| async move {
            let later = async {
                match at_most {
                    Some(span) => clock.sleep(span).await,
                    None => std::future::pending().await,
                }
            };
            tokio::select! {
                biased;
                () = stopped => Waited::Stopped,
                line = lines.recv() => line.map_or(Waited::End, |(line, waited)| Waited::Line(line, waited)),
                () = later => Waited::Later,
            }
        });
        waited.map_err(Failure::runtime)
    }
}

impl Company for Terminal {
    fn say(&mut self, text: &str) {
        say(&wrapped(text, 2));
    }

    fn named(&mut self, _: &RunId) {}

    fn listener(&mut self, _: usize, _: Pace) -> Box<dyn Listener> {
        Box::new(FewLines::default())
    }

    fn operator(&mut self) -> Box<dyn Operator> {
        Box::new(AtTerminal)
    }

    fn stop(&mut self) -> Pin<Box<dyn Future<Output = ()>>> {
        Box::pin(self.stopped.wanted())
    }
}

impl Front for Terminal {
    fn show(&mut self, day: &Day, what: Show<'_>) {
        match what {
            Show::Words(words) => show_lines(words, 2),
            Show::Verdict(visit) => show_verdict(visit),
            Show::Slip(visit) => {
                if let Err(failure) = self.slips.deliver(day, visit) {
                    // A slip can be had again; what is measured is kept.
                    talk::report(&failure, false);
                }
            }
            Show::Summary(ledger) => show_lines(&summary_text(day, ledger, Audience::Private), 5),
        }
    }
}

/// Lines at a terminal: broken between words, and never within a figure.
fn show_lines(text: &str, indent: usize) {
    text.lines().for_each(|line| say(&wrapped(&typeset(line), indent)));
}

/// The verdict, to be read at three metres; the word itself says it, whatever the colour.
fn show_verdict(visit: &Visit) {
    let Some(result) = visit.result() else { return };
    sound();
    let word = verdict(result.outcome);
    say(&format!("\n{}\n", paint::verdict(result.outcome, &large(&word))));
    let who = if visit.label.is_empty() { String::new() } else { format!(" {}", visit.label) };
    say(&format!("no. {}{who}: {word}, {:.0} s", visit.number, result.seconds));
    if let Some(why) = result.why.as_ref().filter(|_| result.outcome != VisitOutcome::Complies) {
        say(&wrapped(&typeset(&format!("  {why}")), 2));
    }
}
