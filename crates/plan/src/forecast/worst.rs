//! Of several mistakes at one place only the gravest is told: mending it mends the others.

use spurline_document::{Mistakes, Reader};

use crate::job::Job;
use crate::way::Place;

/// One mistake, and how grave it is among those at the same place.
struct Overload {
    place: Place,
    gravity: f64,
    message: String,
    hint: &'static str,
}

/// The gravest mistake at each place.
#[derive(Default)]
pub(super) struct Worst(Vec<Overload>);

impl Worst {
    /// Notes a mistake, unless a graver one is known at its place.
    pub(super) fn note(&mut self, place: Place, gravity: f64, message: String, hint: &'static str) {
        let overload = Overload { place, gravity, message, hint };
        match self.0.iter_mut().find(|known| known.place == place) {
            Some(known) if known.gravity >= gravity => {}
            Some(known) => *known = overload,
            None => self.0.push(overload),
        }
    }

    /// All of them, each in the text that it stands in.
    pub(super) fn told(self, job: &Job) -> Result<(), Mistakes> {
        let (mut plan, mut bench) = (Reader::new(&job.document), Reader::new(&job.bench.document));
        for Overload { place, message, hint, .. } in self.0 {
            match place {
                Place::Plan(span) => plan.mistake(span, message).hint(hint),
                Place::Bench(span) => bench.mistake(span, message).hint(hint),
            }
        }
        plan.adopt(bench.finish(Some(())));
        plan.finish(Some(()))
    }
}
