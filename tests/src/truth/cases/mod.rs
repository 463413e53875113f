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
    /// Whether nineteen of twenty scenes must be decided; else they may stay undecided.
    pub decides: bool,
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
pub const ALL: [Case; 7] = [
    Case {
        name: "blind-phase",
        says: "the analyser's own product lies on the harmonic, with every phase and up to twice as strong",
        open: None,
        decides: false,
        scenes: blind::scenes,
    },
    Case {
        name: "seen-through",
        says: "the same, where more attenuation tells them apart: it must be decided",
        open: None,
        decides: true,
        scenes: blind::seen_through,
    },
    Case {
        name: "better-than-guaranteed",
        says: "the same, from an analyser that is 6 dB better than it is guaranteed to be",
        open: None,
        decides: false,
        scenes: blind::better,
    },
    Case {
        name: "stronger-carrier",
        says: "the same, from a carrier that is stronger than the plan expects",
        open: None,
        decides: false,
        scenes: strong::scenes,
    },
    Case {
        name: "on-the-air",
        says: "something else is on the air where the harmonic is",
        open: None,
        decides: false,
        scenes: ambient::scenes,
    },
    Case {
        name: "on-the-air-in-noise",
        says: "the same where neither stands far out of the noise",
        open: None,
        decides: false,
        scenes: ambient::in_noise,
    },
    Case {
        name: "ahead-of-the-attenuator",
        says: "a limiter at the analyser's input makes the same harmonic, whatever the attenuation",
        open: None,
        decides: false,
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
    /// How many of them may stay without a decision.
    pub most_undecided: usize,
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
            most_undecided: if self.decides { scenes.len() / 20 } else { scenes.len() },
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
    /// Whether nothing was said that must never be said, every scene was measured, and as many decided as must be.
    #[must_use]
    pub fn stands(&self) -> bool {
        let decided: usize = ["complies", "exceeds"].iter().filter_map(|word| self.outcomes.get(word)).sum();
        let undecided = self.scenes - decided;
        self.fooled.is_empty()
            && self.broken.is_empty()
            && self.scenes > 0
            && undecided <= self.most_undecided
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
        let too_many = if self.most_undecided < self.scenes {
            format!("; at most {} may stay undecided", self.most_undecided)
        } else {
            String::new()
        };
        format!(
            "{}: {} scenes: {}{}{broken}{too_many}",
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
