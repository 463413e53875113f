//! A job that is judged by something else than what its plan says: another rule, other facts.

use spurline_document::{Document, Mistakes, Reader};
use spurline_limits::{FactError, Facts, Rule};
use spurline_record::TextRole;

use crate::job::{Job, kept};
use crate::library::Text;

impl Job {
    /// The same with another rule for its limits: what the plan states about the unit is told to it as far as it asks.
    /// Rules that single measurements name for themselves stay.
    ///
    /// # Errors
    ///
    /// If the text is no rule, or not one that limits emissions.
    pub fn by_rule(mut self, text: &Text) -> Result<Self, Mistakes> {
        let document = Document::parse(&text.name, &text.text)?;
        let rule = Rule::read(&document)?;
        if !rule.has_limits() {
            let mut reader = Reader::new(&document);
            let told = format!(
                "expected a rule that limits emissions, found `{}`, which has tolerances of the carrier only",
                rule.name()
            );
            reader.mistake(document.root.span, told);
            return reader.finish(None);
        }
        self.facts = self.facts_for(&rule)?;
        self.plan.rule = rule.name().to_owned();
        // The rule of the plan is the first among its texts of rules.
        let new = kept(TextRole::Rule, text);
        self.texts.retain(|old| old.role != TextRole::Rule || old.name != new.name);
        let place = self.texts.iter().position(|text| text.role == TextRole::Rule);
        self.texts.insert(place.unwrap_or(self.texts.len()), new);
        self.rule = rule;
        Ok(self)
    }

    /// States a fact, in place of what was stated before, to every rule that asks for it.
    ///
    /// # Errors
    ///
    /// If it is no `NAME=VALUE`, no rule asks for it, or its value is not one.
    pub fn with_fact(&mut self, pair: &str) -> Result<(), FactError> {
        let name = pair.split('=').next().unwrap_or_default().trim();
        let mut facts = without(&self.facts, &self.rule, name);
        let own = facts.set_pair(&self.rule, pair);
        let is_asked = self.rule.fact(name).is_some();
        if own.is_ok() {
            self.facts = facts;
        }
        let mut asked_elsewhere = false;
        for other in self.rules_in_use().filter(|other| other.rule.fact(name).is_some()) {
            let mut facts = without(&other.facts, &other.rule, name);
            facts.set_pair(&other.rule, pair)?;
            other.facts = facts;
            asked_elsewhere = true;
        }
        if is_asked || !asked_elsewhere { own } else { Ok(()) }
    }

    /// What the plan states, as far as a rule asks for it.
    fn facts_for(&self, rule: &Rule) -> Result<Facts, Mistakes> {
        let Some(node) = self.document.root.get("facts") else { return Ok(Facts::default()) };
        let mut reader = Reader::new(&self.document);
        // What only the plan's own rules ask for is no mistake, and is not told to this one.
        let mut rules = vec![rule, &self.rule];
        rules.extend(self.other_rules());
        let read = Facts::read_for(&mut reader, node, &rules);
        reader.finish(read.and_then(|facts| facts.into_iter().next()))
    }
}

/// Facts but for one.
fn without(facts: &Facts, rule: &Rule, name: &str) -> Facts {
    let mut others = Facts::default();
    for (known, value) in facts.iter().filter(|(known, _)| *known != name) {
        // What was taken once is taken again.
        drop(others.set(rule, known, &value));
    }
    others
}
