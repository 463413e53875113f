//! The limits that may apply to an emission: one, or several where the rule's branch is not certain.

use spurline_judge::{Budget, COVERAGE, Decision, agree};
use spurline_limits::{Binding, Facts, Finding, Question, Rule, Verdict};
use spurline_plan::Job;
use spurline_record::{Derivation, Limit, Outcome, Reading, Reason, ReasonCode};
use spurline_units::{Db, Dbm, Hertz};

/// The carrier that an emission belongs to: measured on the same key-down, or, without a power meter, carried over
/// from the one before.
#[derive(Clone, Debug)]
pub(crate) struct MeasuredCarrier {
    pub(crate) nominal: Hertz,
    pub(crate) level: Dbm,
    /// The standard uncertainty of the level.
    pub(crate) standard: Db,
    /// What it is made of.
    pub(crate) budget: Budget,
    /// What of it was seen at the analyser's input on this key-down.
    pub(crate) at_analyser: Option<Dbm>,
    /// How wide it is, if it is wider than a line without modulation.
    pub(crate) occupied: Hertz,
}

impl MeasuredCarrier {
    pub(crate) fn expanded(&self) -> Db {
        self.standard * COVERAGE
    }
}

/// What the rule says about one emission.
#[derive(Clone, Debug)]
pub(crate) struct Possible {
    /// The limits, none of them certain if there is more than one; empty if there is no number.
    pub(crate) levels: Vec<Dbm>,
    /// Whether a limit follows the carrier's power.
    pub(crate) follows_carrier: bool,
    /// Where they come from.
    pub(crate) derivation: Derivation,
    /// The outcome that the rule itself settles.
    pub(crate) settled: Option<(Outcome, Reason)>,
    /// The narrowest bandwidth that they are meant in.
    pub(crate) bandwidth: Option<Hertz>,
    /// Whether a limit stays where it is when the carrier's power moves.
    pub(crate) absolute: bool,
}

/// Asks the rule at the measured power and at both ends of its uncertainty.
pub(crate) fn limits(job: &Job, carrier: &MeasuredCarrier, at: Hertz) -> Possible {
    limits_by((&job.rule, &job.facts), carrier, at)
}

/// The same of another rule than that of the plan.
pub(crate) fn limits_by((rule, facts): (&Rule, &Facts), carrier: &MeasuredCarrier, at: Hertz) -> Possible {
    let expanded = carrier.expanded();
    let powers = [carrier.level, carrier.level - expanded, carrier.level + expanded];
    let asked = |level: &Dbm| Question::new(carrier.nominal, level.to_watts()).ok();
    let findings: Vec<Finding> =
        powers.iter().filter_map(asked).map(|question| rule.limit(&question.at(at), facts)).collect();
    let Some(first) = findings.first() else {
        return Possible::nothing("the carrier has no power to speak of");
    };
    let same_branch = findings.iter().all(|finding| finding.branch == first.branch);
    let considered = if same_branch { &findings[..1] } else { &findings[..] };
    let mut possible = Possible {
        levels: Vec::new(),
        follows_carrier: false,
        derivation: Derivation { source: first.source.clone(), steps: first.derivation.clone() },
        settled: settled(&first.verdict),
        bandwidth: considered
            .iter()
            .flat_map(Finding::branches)
            .filter_map(|branch| branch.reference_bandwidth)
            .reduce(Hertz::min),
        absolute: false,
    };
    let mut without_number = false;
    for branch in considered.iter().flat_map(Finding::branches) {
        match &branch.verdict {
            Verdict::Limit { level, binding, .. } => {
                possible.follows_carrier |= matches!(binding, Binding::Relative | Binding::Both);
                possible.absolute |= matches!(binding, Binding::Absolute | Binding::Both);
                if !possible.levels.contains(level) {
                    possible.levels.push(*level);
                }
            }
            Verdict::NoLimit | Verdict::Exempt | Verdict::Undetermined { .. } => without_number = true,
        }
    }
    if without_number && !possible.levels.is_empty() {
        // Which branch applies decides whether there is a limit at all: the limits of the others say nothing.
        let text = "the rule has a limit in one possible branch and none in another";
        let undecided = (Outcome::Undecided, Reason::new(ReasonCode::BranchesDisagree, text));
        possible.settled =
            settled(&first.verdict).filter(|(o, _)| *o == Outcome::Undecided).or(Some(undecided));
    }
    if !same_branch {
        possible.derivation.steps.push(format!(
            "measured power {} ± {} straddles two branches of the rule: all of them are judged",
            carrier.level, expanded
        ));
    }
    possible
}

/// How a reason begins that tells why a line is not within reach.
pub(crate) const BEYOND: &str = "beyond this bench: ";

/// Fills in the reading of a line that a bench cannot reach, for the reason `why`.
pub(crate) fn beyond(job: &Job, carrier: Option<&MeasuredCarrier>, why: &str, reading: &mut Reading) {
    let possible = carrier.map(|carrier| (limits(job, carrier, reading.frequency), carrier.level));
    let settled = possible.as_ref().and_then(|(possible, _)| possible.settled.clone());
    if let Some((possible, level)) = possible {
        reading.limit = possible.recorded(level);
        reading.derivation = possible.derivation;
    }
    (reading.outcome, reading.reason) = match settled {
        // Without a number there is nothing that this bench would have to reach.
        Some((Outcome::NoLimit, reason)) => (Outcome::NoLimit, Some(reason)),
        Some(_) | None => {
            let text = format!("{BEYOND}{why}");
            (Outcome::Undecided, Some(Reason::new(ReasonCode::BeyondThisBench, text)))
        }
    };
}

/// The outcome that a rule settles by itself.
pub(crate) fn settled(verdict: &Verdict) -> Option<(Outcome, Reason)> {
    match verdict {
        Verdict::Limit { .. } => None,
        Verdict::NoLimit => Some((
            Outcome::NoLimit,
            Reason::new(ReasonCode::NoNumericLimit, "the rule has no numeric limit for this carrier"),
        )),
        Verdict::Exempt => Some((
            Outcome::NoLimit,
            Reason::new(ReasonCode::Exempt, "the rule's numbers do not apply to this unit"),
        )),
        Verdict::Undetermined { missing, possible } => {
            let open = possible.is_empty() || possible.iter().any(|finding| finding.level().is_none());
            open.then(|| {
                let text = format!("the rule needs to know: {}", missing.join(", "));
                (Outcome::Undecided, Reason::new(ReasonCode::FactMissing, text))
            })
        }
    }
}

impl Possible {
    fn nothing(why: &str) -> Self {
        Self {
            levels: Vec::new(),
            follows_carrier: false,
            derivation: Derivation::default(),
            settled: Some((Outcome::Invalid, Reason::new(ReasonCode::CarrierInvalid, why))),
            bandwidth: None,
            absolute: false,
        }
    }

    /// Judges under every limit; `None` if there is no number.
    pub(crate) fn judged(&self, judge: impl Fn(Dbm) -> Decision) -> Option<Decision> {
        agree(self.levels.iter().map(|limit| judge(*limit)))
    }

    /// Whether the limits give different verdicts.
    pub(crate) fn disagree(&self, judge: impl Fn(Dbm) -> Decision) -> bool {
        let mut verdicts = self.levels.iter().map(|limit| judge(*limit).verdict);
        let first = verdicts.next();
        verdicts.any(|verdict| Some(verdict) != first)
    }

    /// The same for the record.
    pub(crate) fn recorded(&self, carrier: Dbm) -> Option<Limit> {
        match self.levels.as_slice() {
            [] => None,
            [level] => Some(Limit::Upper { level: *level, below_carrier: Some(carrier - *level) }),
            several => Some(Limit::Several(several.to_vec())),
        }
    }
}
