//! What stays possible while something is missing: every case of it, and each outcome once.

use std::collections::BTreeSet;

use crate::condition::Truth;
use crate::rule::{Part, Rule};
use crate::value::Value;
use crate::world::World;

/// The name of something that must be known first.
pub(crate) struct Missing(pub(crate) String);

/// One case of what is missing, and what follows from it.
pub(crate) struct Case<F> {
    pub(crate) supposing: Vec<String>,
    pub(crate) finding: F,
}

/// Looks at cases of one part of a rule.
pub(crate) struct Explorer<'a, F> {
    pub(crate) rule: &'a Rule,
    pub(crate) part: Part,
    pub(crate) judge: &'a dyn Fn(&World<'_>) -> Result<F, Missing>,
    /// Whether two outcomes are one and the same.
    pub(crate) same: fn(&F, &F) -> bool,
}

impl<F> Explorer<'_, F> {
    /// All that is missing besides `name`, and every outcome that stays possible.
    pub(crate) fn explore(&self, world: &World<'_>, name: String) -> (BTreeSet<String>, Vec<Case<F>>) {
        let (mut missing, mut possible) = (BTreeSet::new(), Vec::new());
        self.descend(world, name, &mut missing, &mut possible);
        (missing, possible)
    }

    fn descend(
        &self,
        world: &World<'_>,
        name: String,
        missing: &mut BTreeSet<String>,
        possible: &mut Vec<Case<F>>,
    ) {
        for value in self.rule.classes_of(self.part, world, &name) {
            let words = self.words_like(world, &name, &value);
            let mut world = world.suppose(&name, value);
            let tests = self.rule.tests_of(self.part, &name);
            let sentences = match words {
                Some(words) => vec![format!("`{name}` is {words}")],
                None => tests.iter().map(|test| test.bare(&world)).collect(),
            };
            for sentence in sentences {
                if !world.suppositions.contains(&sentence) {
                    world.suppositions.push(sentence);
                }
            }
            match (self.judge)(&world) {
                Ok(finding) => {
                    if !possible.iter().any(|case| (self.same)(&case.finding, &finding)) {
                        possible.push(Case { supposing: world.suppositions, finding });
                    }
                }
                // A figure that goes with the offset has no cases: it must be given.
                Err(Missing(next)) if next == name => {}
                Err(Missing(next)) => self.descend(&world, next, missing, possible),
            }
        }
        missing.insert(name);
    }

    /// Of a fact that is a word, all words that make no difference from this one.
    fn words_like(&self, world: &World<'_>, name: &str, value: &Value) -> Option<String> {
        let Value::Word(_) = value else { return None };
        let tests = self.rule.tests_of(self.part, name);
        let outcomes = |value: Value| -> Vec<Truth> {
            let supposed = world.suppose(name, value);
            tests.iter().map(|test| test.truth(&supposed)).collect()
        };
        let wanted = outcomes(value.clone());
        let alike = |word: &&String| outcomes(Value::Word((*word).clone())) == wanted;
        let words: Vec<String> =
            self.rule.fact(name)?.words().iter().filter(alike).map(|word| format!("`{word}`")).collect();
        Some(words.join(" or "))
    }
}
