//! Scenarios that must never fool the measurement, each swept over what nobody knows.
//!
//! A scenario is a file with a function that makes its scenes, and an entry in [`ALL`]. One that fools the measurement
//! so far stands there as open, with the reason; the tests leave it out, `scripts/truth --cases` does not. What the simulator can be told
//! beyond what a [`Subject`] knows goes into `more` of the subject, of its unit or of its analyser.

mod ahead;
mod ambient;
mod blind;
mod strong;

use std::collections::BTreeMap;

use serde::Serialize;
use spurline_record::Outcome;

use super::crowd::Crowd;
use super::subject::Subject;

/// How finely a scenario is swept.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sweep {
    /// As far as an ordinary test has time for.
    Small,
    /// As finely as it takes to be sure.
    Whole,
}

/// One scenario.
#[derive(Clone, Copy, Debug)]
pub struct Case {
    /// Its name.
    pub name: &'static str,
    /// What it is about.
    pub says: &'static str,
    /// Why it fools the measurement so far, if it does.
    pub open: Option<&'static str>,
    scenes: fn(Sweep) -> Vec<Scene>,
}

/// One point of a sweep: a subject, and what must never be said of one of its harmonics.
#[derive(Clone, Debug)]
pub(super) struct Scene {
    subject: Subject,
    order: u32,
    never: Outcome,
}

/// Every scenario.
pub const ALL: [Case; 6] = [
    Case {
        name: "blind-phase",
        says: "the analyser's own product lies on the harmonic, with every phase and up to twice as strong",
        open: None,
        scenes: blind::scenes,
    },
    Case {
        name: "better-than-guaranteed",
        says: "the same, from an analyser that is 6 dB better than it is guaranteed to be",
        open: None,
        scenes: blind::better,
    },
    Case {
        name: "stronger-carrier",
        says: "the same, from a carrier that is stronger than the plan expects",
        open: None,
        scenes: strong::scenes,
    },
    Case {
        name: "on-the-air",
        says: "something else is on the air where the harmonic is",
        open: None,
        scenes: ambient::scenes,
    },
    Case {
        name: "on-the-air-in-noise",
        says: "the same where neither stands far out of the noise",
        open: None,
        scenes: ambient::in_noise,
    },
    Case {
        name: "ahead-of-the-attenuator",
        says: "a limiter at the analyser's input makes the same harmonic, whatever the attenuation",
        open: None,
        scenes: ahead::scenes,
    },
];

/// What a scenario came to.
#[derive(Clone, Debug, Serialize)]
pub struct Stood {
    /// Its name.
    pub name: &'static str,
    /// How many scenes there were.
    pub scenes: usize,
    /// Those in which what must never be said was said, by their names.
    pub fooled: Vec<String>,
    /// Those that broke off, and why.
    pub broken: Vec<(String, String)>,
    /// What was said of the harmonic, by the word.
    pub outcomes: BTreeMap<&'static str, usize>,
}

impl Case {
    /// Goes through all scenes of a sweep, `threads` at a time.
    #[must_use]
    pub fn sweep(&self, sweep: Sweep, threads: usize) -> Stood {
        let scenes = (self.scenes)(sweep);
        let crowd = Crowd::measure(scenes.len(), threads, |number| scenes[number].subject.clone());
        let mut stood = Stood {
            name: self.name,
            scenes: scenes.len(),
            fooled: Vec::new(),
            broken: Vec::new(),
            outcomes: BTreeMap::new(),
        };
        for (scene, member) in scenes.iter().zip(crowd.0) {
            let readings = match member.ran {
                Ok(ran) => ran.readings,
                Err(why) => {
                    stood.broken.push((member.name, why.to_string()));
                    continue;
                }
            };
            let said = readings.iter().find(|held| held.order == scene.order).map(|held| held.outcome);
            *stood.outcomes.entry(said.map_or("not read", Outcome::word)).or_insert(0) += 1;
            if said == Some(scene.never) {
                stood.fooled.push(member.name);
            }
        }
        stood
    }
}

impl Stood {
    /// Whether nothing was said that must never be said, and every scene was measured.
    #[must_use]
    pub fn stands(&self) -> bool {
        self.fooled.is_empty() && self.broken.is_empty() && self.scenes > 0
    }

    /// In words.
    #[must_use]
    pub fn words(&self) -> String {
        let outcomes: Vec<String> =
            self.outcomes.iter().map(|(word, count)| format!("{count} {word}")).collect();
        let shown = |names: &[String]| match names {
            [] => String::new(),
            [first, ..] => format!("; FOOLED {} times, first: {first}", names.len()),
        };
        let broken = self.broken.first().map_or(String::new(), |(name, why)| {
            format!("; {} BROKE OFF, first: {name}: {why}", self.broken.len())
        });
        format!(
            "{}: {} scenes: {}{}{broken}",
            self.name,
            self.scenes,
            outcomes.join(", "),
            shown(&self.fooled)
        )
    }
}

/// A unit whose harmonic of an order lies `above` its limit, dB, on a bench without any error of its own, and what must
/// never be said of it.
fn scene(name: String, order: u32, above: f64) -> Scene {
    let mut subject = Subject::exact(name);
    subject.unit.up_to = order;
    let [_, limit] = subject.limits(order);
    subject.unit.harmonics = vec![(order, limit + above)];
    let never = if above > 0.0 { Outcome::Complies } else { Outcome::Exceeds };
    Scene { subject, order, never }
}
