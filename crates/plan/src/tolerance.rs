//! How far a carrier may lie from its channel, as the plan or a rule says.
//!
//! The forecast and the run ask here, so that what was promised beforehand is what is done.

use spurline_limits::{Question, ToleranceFinding, ToleranceVerdict};
use spurline_units::{Hertz, Watts};

use crate::job::Job;
use crate::measure::Tolerance;

/// How far a carrier may lie from its channel.
#[derive(Clone, Debug, PartialEq)]
pub struct AskedTolerance {
    /// Every tolerance that stays possible, to either side, each once and the tightest first; empty without a number.
    pub possible: Vec<Hertz>,
    /// Whether there is none in some case that stays possible.
    pub open: bool,
    /// The facts that would settle it.
    pub missing: Vec<String>,
    /// Where it stands.
    pub source: String,
    /// How it follows, a line a step.
    pub steps: Vec<String>,
}

impl AskedTolerance {
    /// What must be known first, in words, if anything must.
    #[must_use]
    pub fn needs(&self) -> Option<String> {
        (!self.missing.is_empty()).then(|| format!("the rule needs to know: {}", self.missing.join(", ")))
    }
}

impl Job {
    /// How far a carrier of one of these powers may lie from its channel; `None` if the plan does not ask.
    #[must_use]
    pub fn tolerance(&self, carrier: Hertz, powers: &[Watts]) -> Option<AskedTolerance> {
        let file = self.document.source.name();
        let asked = self.plan.measure.spectrum.frequency.as_ref()?;
        match asked {
            Tolerance::Share(_) | Tolerance::Hertz(_) => Some(AskedTolerance {
                possible: asked.at(carrier).into_iter().collect(),
                open: false,
                missing: Vec::new(),
                source: format!("{file}: measure.frequency.within"),
                steps: Vec::new(),
            }),
            Tolerance::Rule(_) => {
                let (rule, facts) = self.frequency_rule()?;
                let questions = powers.iter().filter_map(|power| Question::new(carrier, *power).ok());
                of_findings(&questions.map(|question| rule.tolerance(&question, facts)).collect::<Vec<_>>())
            }
        }
    }
}

fn of_findings(findings: &[ToleranceFinding]) -> Option<AskedTolerance> {
    let first = findings.first()?;
    let same = findings.iter().all(|finding| finding.row == first.row && finding.verdict == first.verdict);
    let considered = if same { &findings[..1] } else { findings };
    let mut asked = AskedTolerance {
        possible: Vec::new(),
        open: false,
        missing: Vec::new(),
        source: first.source.clone(),
        steps: first.derivation.clone(),
    };
    for finding in considered {
        if let ToleranceVerdict::Undetermined { missing, possible } = &finding.verdict {
            asked.missing.extend(missing.iter().cloned());
            asked.open |= possible.is_empty();
        }
        for branch in finding.branches() {
            match branch.hertz() {
                Some(hertz) => asked.possible.push(hertz),
                None => asked.open = true,
            }
        }
    }
    asked.missing.sort();
    asked.missing.dedup();
    asked.possible.sort_by(|one, other| one.get().total_cmp(&other.get()));
    asked.possible.dedup();
    if !same {
        asked.steps.push(
            "the measured power with its uncertainty lies in more than one row of the rule: all of them are judged"
                .to_owned(),
        );
    }
    Some(asked)
}
