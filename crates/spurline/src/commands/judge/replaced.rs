//! The job that a run was made with, and the one that it is judged by now.

use std::path::Path;

use spurline_plan::{Job, Library as _, LoadError};
use spurline_record::{Decision, Replaced, RunHeader, TextRole};
use spurline_runner::{Files, Recorded, SOFTWARE};
use spurline_store::StoredRun;

use super::Judge;
use super::texts::{Mixed, of_the_tables, pair, read_file};
use crate::talk::Failure;

/// Both jobs, and in what they differ.
pub(super) struct Jobs {
    pub(super) was: Job,
    pub(super) now: Job,
    pub(super) replaced: Vec<Replaced>,
}

impl Judge {
    pub(super) fn jobs(&self, stored: &StoredRun) -> Result<Jobs, Failure> {
        let texts = &stored.header.texts;
        let recorded = Recorded(texts);
        let name = |role| recorded.name_of(role).unwrap_or_default().to_owned();
        let (plan, bench) = (name(TextRole::Plan), name(TextRole::Bench));
        let was = Job::load(&plan, Some(&bench), &recorded)?;
        let mut replaced = Vec::new();
        let mut texts = texts.clone();
        let mut tables_replaced = Vec::new();
        for path in &self.paths {
            let (table, file) = pair("--path", path, "pad.s2p=corrected.s2p")?;
            let recorded = table_named(table, &tables(stored).collect::<Vec<_>>())?;
            let text = read_file(file)?;
            for old in texts.iter_mut().filter(|old| old.name == recorded && old.role == TextRole::Path) {
                old.text.clone_from(&text);
            }
            tables_replaced.push((recorded, file));
            replaced.push(Replaced {
                what: format!("table {recorded}"),
                from: "what the run had".to_owned(),
                to: file.to_owned(),
            });
        }
        let mut now = match &self.bench {
            Some(file) => {
                Files::from_environment().file("", file).map_err(|missing| Failure::Usage {
                    message: format!("--bench: {}", missing.message),
                    advice: "name the file from the folder that you are in".to_owned(),
                })?;
                replaced.push(Replaced { what: "bench".to_owned(), from: bench, to: file.clone() });
                Job::load(
                    &plan,
                    Some(file),
                    &Mixed { recorded: Recorded(&texts), files: Files::from_environment(), plan: &plan },
                )?
            }
            None => match Job::load(&plan, Some(&bench), &Recorded(&texts)) {
                Err(LoadError::Mistakes(mistakes)) if !tables_replaced.is_empty() => {
                    return Err(of_the_tables(&mistakes, &tables_replaced));
                }
                loaded => loaded?,
            },
        };
        self.by_rule(&mut now, &mut replaced)?;
        self.by_facts(&mut now, &mut replaced)?;
        self.by_decision(&mut now, &mut replaced)?;
        Ok(Jobs { was, now, replaced })
    }

    fn by_rule(&self, now: &mut Job, replaced: &mut Vec<Replaced>) -> Result<(), Failure> {
        let Some(name) = &self.rule else { return Ok(()) };
        let text = Files::from_environment().rule("", name).map_err(|missing| Failure::Usage {
            message: format!("--rule: {}", missing.message),
            advice: missing.advice.unwrap_or_default(),
        })?;
        let from = now.plan.rule.clone();
        *now = now.clone().by_rule(&text).map_err(LoadError::Mistakes)?;
        replaced.push(Replaced { what: "rule".to_owned(), from, to: now.plan.rule.clone() });
        Ok(())
    }

    fn by_facts(&self, now: &mut Job, replaced: &mut Vec<Replaced>) -> Result<(), Failure> {
        for fact in &self.facts {
            let (name, value) = pair("--fact", fact, "built=1976-05-01")?;
            let from = now.facts.iter().find(|(known, _)| *known == name).map(|(_, value)| value);
            now.with_fact(fact).map_err(|error| crate::commands::limit::wrong("--fact", &error))?;
            replaced.push(Replaced {
                what: format!("fact {name}"),
                from: from.unwrap_or_default(),
                to: value.to_owned(),
            });
        }
        Ok(())
    }

    fn by_decision(&self, now: &mut Job, replaced: &mut Vec<Replaced>) -> Result<(), Failure> {
        if let Some(word) = &self.decision {
            let decision = match word.as_str() {
                "guard-band" => Decision::GuardBand,
                "simple" => Decision::Simple,
                other => {
                    return Err(Failure::Usage {
                        message: format!("--decision: expected `guard-band` or `simple`, found `{other}`"),
                        advice:
                            "guard-band keeps U away from the limit, simple compares with it as it stands"
                                .to_owned(),
                    });
                }
            };
            let from = words(now.plan.decision).to_owned();
            now.plan.decision = decision;
            replaced.push(Replaced { what: "decision".to_owned(), from, to: words(decision).to_owned() });
        }
        if let Some(text) = &self.guard_factor {
            let factor = text.parse::<f64>().ok().filter(|factor| (0.0..=MOST_GUARD).contains(factor));
            let factor = factor.ok_or_else(|| Failure::Usage {
                message: format!("--guard-factor: expected a number from 0 to {MOST_GUARD}, found `{text}`"),
                advice: "1 keeps all of U away from the limit".to_owned(),
            })?;
            let from = now.plan.guard_factor.to_string();
            now.plan.guard_factor = factor;
            replaced.push(Replaced { what: "guard factor".to_owned(), from, to: factor.to_string() });
        }
        Ok(())
    }
}

const MOST_GUARD: f64 = 10.0;

const fn words(decision: Decision) -> &'static str {
    match decision {
        Decision::GuardBand => "guard-band",
        Decision::Simple => "simple",
    }
}

/// The tables of the path that a run was made with.
fn tables(stored: &StoredRun) -> impl Iterator<Item = &str> {
    let texts = stored.header.texts.iter().filter(|text| text.role == TextRole::Path);
    texts.map(|text| text.name.as_str())
}

/// The table that is meant: by its whole name, or by the last part of it where no other ends so.
fn table_named<'t>(name: &str, known: &[&'t str]) -> Result<&'t str, Failure> {
    let wrong = |message: String, known: &[&str]| Failure::Usage {
        message: format!("--path: {message}"),
        advice: if known.is_empty() {
            "its bench names none: replace the whole bench file with `--bench FILE`".to_owned()
        } else {
            let names: Vec<String> = known.iter().map(|known| format!("`{known}`")).collect();
            format!("name one of these, or what only one of them ends with: {}", names.join(", "))
        },
    };
    if let Some(whole) = known.iter().find(|known| **known == name) {
        return Ok(whole);
    }
    let ending: Vec<&'t str> =
        known.iter().copied().filter(|known| Path::new(known).ends_with(name)).collect();
    match ending.as_slice() {
        [one] => Ok(one),
        [] => Err(wrong(format!("the run was made with no table `{name}`"), known)),
        several => Err(wrong(format!("`{name}` may be one of several tables of the run"), several)),
    }
}

/// The header of a run as it reads with another job.
pub(super) fn header(now: &Job, was: &RunHeader) -> RunHeader {
    RunHeader {
        bench: now.bench.title.clone(),
        rule: now.plan.rule.clone(),
        rule_source: format!("{}; {}", now.rule.source_text(), now.rule_file()),
        rule_status: now.rule.status().to_string(),
        decision: now.plan.decision,
        guard_factor: now.plan.guard_factor,
        largest_uncertainty: now.plan.largest_uncertainty,
        software: SOFTWARE.to_owned(),
        layout: now.layout(),
        texts: now.texts.clone(),
        reservations: now.reservations(),
        ..was.clone()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_table_is_named_by_its_end_where_that_is_the_only_one() {
        let known = ["../paths/pad.s2p", "../paths/old/pad.s2p", "../paths/cable.s2p"];
        let named = |name| table_named(name, &known).ok();
        assert_eq!(named("cable.s2p"), Some("../paths/cable.s2p"));
        assert_eq!(named("old/pad.s2p"), Some("../paths/old/pad.s2p"));
        assert_eq!(named("../paths/pad.s2p"), Some("../paths/pad.s2p"));
        for unclear in ["pad.s2p", "ad.s2p", "able.s2p", "", "other.s2p"] {
            let Err(Failure::Usage { message, advice }) = table_named(unclear, &known) else {
                panic!("`{unclear}` was taken");
            };
            assert!(
                message.contains(&format!("`{unclear}`")) && advice.contains("`../paths/pad.s2p`"),
                "{advice}"
            );
        }
    }
}
