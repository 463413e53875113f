//! What one rule answers: its limit, its tolerance, or both.

use serde_json::{Value, json};
use spurline_limits::{Finding, Question, Rule, ToleranceFinding, Verdict};

use super::{Asked, steps, tolerance};

/// The findings of one rule.
pub(super) struct Answer<'a> {
    rule: &'a Rule,
    limit: Option<Finding>,
    tolerance: Option<ToleranceFinding>,
}

impl<'a> Answer<'a> {
    pub(super) fn of(asked: &'a Asked, question: &Question) -> Self {
        let Asked { rule, facts } = asked;
        Self {
            rule,
            limit: rule.has_limits().then(|| rule.limit(question, facts)),
            tolerance: rule.has_tolerances().then(|| rule.tolerance(question, facts)),
        }
    }

    pub(super) fn as_json(&self) -> Value {
        let mut document = match &self.limit {
            Some(finding) => limit_as_json(finding),
            None => json!({}),
        };
        document["rule"] = json!(self.rule.name());
        if let Some(finding) = &self.tolerance {
            document["tolerance"] = tolerance::as_json(finding);
        }
        document
    }

    fn as_text(&self) -> String {
        let mut text = self.limit.as_ref().map_or_else(String::new, limit_as_text);
        text.push_str(&self.tolerance.as_ref().map_or_else(String::new, tolerance::as_text));
        let status = match (&self.limit, &self.tolerance) {
            (None, Some(finding)) => finding.status,
            _ => self.rule.status(),
        };
        if let Some(caveat) = status.caveat() {
            text.push_str(&format!("note: {caveat}\n"));
        }
        text
    }

    /// What it comes to in one word or number.
    fn short(&self) -> String {
        match (&self.limit, &self.tolerance) {
            (Some(Finding { verdict: Verdict::Limit { level, .. }, .. }), _) => level.to_string(),
            (Some(finding), _) => word(&finding.verdict).to_owned(),
            (None, Some(finding)) => tolerance::short(finding),
            (None, None) => String::new(),
        }
    }

    fn status(&self) -> String {
        let limit = self.limit.as_ref().map(|finding| finding.status);
        let tolerance = self.tolerance.as_ref().map(|finding| finding.status);
        limit.or(tolerance).map_or_else(String::new, |status| status.to_string())
    }
}

/// All answers, and behind several of them one line each.
pub(super) fn as_text(answers: &[Answer<'_>]) -> String {
    let texts: Vec<String> = answers.iter().map(Answer::as_text).collect();
    let mut text = texts.join("\n");
    if answers.len() > 1 {
        let widest = answers.iter().map(|answer| answer.rule.name().len()).max().unwrap_or_default();
        text.push_str("\nside by side\n");
        for answer in answers {
            let (name, short, status) = (answer.rule.name(), answer.short(), answer.status());
            text.push_str(&format!("  {name:<widest$}  {short:>12}  {status}\n"));
        }
    }
    text
}

/// Of more cases than this nobody reads the rest.
const MOST_CASES: usize = 12;

const fn word(verdict: &Verdict) -> &'static str {
    match verdict {
        Verdict::Limit { .. } => "limit",
        Verdict::NoLimit => "no limit",
        Verdict::Exempt => "exempt",
        Verdict::Undetermined { .. } => "undetermined",
    }
}

fn limit_as_json(finding: &Finding) -> Value {
    let (level, relative) = match finding.verdict {
        Verdict::Limit { level, relative, .. } => (Some(level), Some(relative)),
        Verdict::NoLimit | Verdict::Exempt | Verdict::Undetermined { .. } => (None, None),
    };
    let missing: &[String] = match &finding.verdict {
        Verdict::Undetermined { missing, .. } => missing,
        Verdict::Limit { .. } | Verdict::NoLimit | Verdict::Exempt => &[],
    };
    json!({
        "limit_dbm": level,
        "relative_db": relative,
        "outcome": word(&finding.verdict),
        "missing": missing,
        "derivation": finding.derivation,
        "source": finding.source,
        "reference_bandwidth_hz": finding.reference_bandwidth,
        "status": finding.status.to_string(),
    })
}

fn limit_as_text(finding: &Finding) -> String {
    let mut text = match &finding.verdict {
        Verdict::Limit { level, relative, .. } => {
            format!("limit {level}, {relative} below the carrier\n")
        }
        Verdict::NoLimit => "no limit: the rule has no number here\n".to_owned(),
        Verdict::Exempt => "exempt: the rule's numbers do not apply\n".to_owned(),
        Verdict::Undetermined { missing, .. } => needed(missing),
    };
    let open = matches!(finding.verdict, Verdict::Undetermined { .. });
    let shown = if open { finding.derivation.len().min(MOST_CASES) } else { finding.derivation.len() };
    text.push_str(&steps(&finding.derivation[..shown]));
    if shown < finding.derivation.len() {
        let more = finding.derivation.len() - shown;
        text.push_str(&format!(
            "  and {more} more cases, all of them with --json: say what is needed first\n"
        ));
    }
    text.push_str(&format!("source: {} ({})\n", finding.source, finding.status));
    if let Some(bandwidth) = finding.reference_bandwidth {
        text.push_str(&format!("reference bandwidth: {bandwidth}\n"));
    }
    text
}

/// What must be known first, and how to say it.
pub(super) fn needed(missing: &[String]) -> String {
    let say = match missing.first().map(String::as_str) {
        // No fact of the unit, but what is asked about.
        Some("at") => "--at FREQUENCY".to_owned(),
        name => format!("--fact {}=VALUE", name.unwrap_or("NAME")),
    };
    format!("undetermined: the rule needs to know {}\n  help: say `{say}`\n", missing.join(", "))
}
