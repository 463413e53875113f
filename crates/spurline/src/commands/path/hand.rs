//! Who moves the cables: a person who is asked each time, or what stands in for one on a simulated bench.

use std::future::Future;
use std::pin::Pin;

use spurline_plan::Bench;
use spurline_record::Role;
use spurline_sequencer::{Connection, Mover};
use spurline_sim::{Connected, End, Section, Served};

use crate::talk::{answer, tell, wrapped};

/// A person at the bench.
pub(super) struct Person<'a> {
    pub(super) bench: &'a Bench,
}

impl Mover for Person<'_> {
    fn connect<'m>(&'m mut self, what: Connection<'m>) -> Pin<Box<dyn Future<Output = bool> + 'm>> {
        Box::pin(async move {
            tell(&wrapped(&self.words(&what), 0));
            let Some(answer) = answer().await else { return false };
            let answer = answer.trim().to_ascii_lowercase();
            !matches!(answer.as_str(), "n" | "no" | "q" | "quit" | "stop")
        })
    }
}

impl Person<'_> {
    fn words(&self, what: &Connection<'_>) -> String {
        let Connection { stretch, with, through, number, of } = *what;
        let through_parts = self.bench.generator.iter().flat_map(|used| &used.through);
        let before: Vec<&str> = through_parts.map(|part| part.name.as_str()).collect();
        let generator = if before.is_empty() {
            "the generator".to_owned()
        } else {
            format!("the generator, through {},", before.join(" and "))
        };
        let instrument =
            if with == Role::PowerMeter { "the power meter's sensor" } else { "the analyser's input" };
        let place = if !through {
            format!("connect {generator} straight to {instrument}")
        } else if stretch.whole {
            format!(
                "connect {generator} to where the unit's connector is, and {instrument} to the end of the path `{}`",
                stretch.name
            )
        } else {
            format!(
                "connect {generator} to the first of these parts and {instrument} to the last: {}",
                stretch.names.join(", ")
            )
        };
        let mut words = format!(
            "connection {number} of {of}. The key is up and the generator's output is off. {}",
            if number == 1 {
                "Take the unit off the path; never key a transmitter into a generator. Now "
            } else {
                "Now "
            }
        );
        words.push_str(&place);
        if through {
            words.push_str(". Every arm that is left open needs its load");
        }
        words.push_str(
            ". Tighten every connector as always. Press Enter when it is connected, `n` and Enter to stop",
        );
        words
    }
}

/// The hand of a simulated bench.
pub(super) struct Simulator<'a>(pub(super) &'a Served);

impl Mover for Simulator<'_> {
    fn connect<'m>(&'m mut self, what: Connection<'m>) -> Pin<Box<dyn Future<Output = bool> + 'm>> {
        Box::pin(async move {
            let Connection { stretch, with, through, .. } = what;
            let (from, to) = if !through {
                (0, 0)
            } else if stretch.whole {
                (stretch.parts.start, usize::MAX)
            } else {
                (stretch.parts.start, stretch.parts.end)
            };
            self.0.connect(Connected::Section(Section {
                of: if stretch.way.is_some() { End::Analyser } else { End::PowerMeter },
                from,
                to,
                read_by: if with == Role::PowerMeter { End::PowerMeter } else { End::Analyser },
            }));
            true
        })
    }
}
