//! `limit`: the limit of a rule, and how it follows.

use clap::Args;
use serde_json::{Value, json};
use spurline_document::Document;
use spurline_limits::{Facts, Finding, Question, Rule, Verdict};
use spurline_plan::Library;
use spurline_units::{Hertz, Power};

use crate::exit::Exit;
use crate::library::Files;
use crate::talk::{Failure, print, print_json, wrapped};

/// Say what a rule allows, and how that follows from its text
#[derive(Args, Debug)]
pub(crate) struct Limit {
    /// The rule, for example us-part-97
    #[arg(long)]
    rule: String,
    /// Carrier frequency, for example "146 MHz"
    #[arg(long, value_name = "FREQUENCY")]
    carrier: String,
    /// Mean power, for example "5 W" or "37 dBm"
    #[arg(long, allow_hyphen_values = true)]
    power: String,
    /// Frequency of the emission; without it, any spurious emission
    #[arg(long, value_name = "FREQUENCY")]
    at: Option<String>,
    /// How far the emission lies above the carrier, in place of its frequency
    #[arg(long, value_name = "FREQUENCY", conflicts_with = "at")]
    offset: Option<String>,
    /// What is known about the unit, for example installed=2010; may be given more than once
    #[arg(long = "fact", value_name = "NAME=VALUE")]
    facts: Vec<String>,
    /// Print one JSON document
    #[arg(long)]
    pub(crate) json: bool,
}

impl Limit {
    pub(crate) fn execute(self) -> Result<Exit, Failure> {
        let rule = read_rule(&self.rule)?;
        let carrier: Hertz = self.carrier.parse().map_err(|error| wrong("--carrier", &error))?;
        let power: Power = self.power.parse().map_err(|error| wrong("--power", &error))?;
        let mut question =
            Question::new(carrier, power.watts()).map_err(|error| wrong("--carrier", &error))?;
        if let Some(at) = &self.at {
            question = question.at(at.parse().map_err(|error| wrong("--at", &error))?);
        }
        if let Some(offset) = &self.offset {
            let offset: Hertz = offset.parse().map_err(|error| wrong("--offset", &error))?;
            question = question.at(carrier + offset);
        }
        let mut facts = Facts::default();
        for fact in &self.facts {
            facts.set_pair(&rule, fact).map_err(|error| wrong("--fact", &error))?;
        }
        let finding = rule.limit(&question, &facts);
        if self.json {
            print_json(&as_json(&self.rule, &finding))?;
        } else {
            print(as_text(&rule, &finding).as_bytes())?;
        }
        Ok(Exit::Good)
    }
}

fn read_rule(name: &str) -> Result<Rule, Failure> {
    let text = Files::new().rule("", name).map_err(|missing| Failure::Usage {
        message: missing.message,
        advice: missing.advice.unwrap_or_default(),
    })?;
    Ok(Document::parse(&text.name, &text.text).and_then(|document| Rule::read(&document))?)
}

/// A wrong argument; the second line of the error is its advice.
fn wrong(argument: &str, error: &dyn std::error::Error) -> Failure {
    let text = error.to_string();
    let (message, advice) = text.split_once('\n').unwrap_or((&text, "see `spurline limit --help`"));
    Failure::Usage { message: format!("{argument}: {message}"), advice: advice.to_owned() }
}

fn word(verdict: &Verdict) -> &'static str {
    match verdict {
        Verdict::Limit { .. } => "limit",
        Verdict::NoLimit => "no limit",
        Verdict::Exempt => "exempt",
        Verdict::Undetermined { .. } => "undetermined",
    }
}

fn as_json(rule: &str, finding: &Finding) -> Value {
    let (level, relative) = match finding.verdict {
        Verdict::Limit { level, relative, .. } => (Some(level), Some(relative)),
        Verdict::NoLimit | Verdict::Exempt | Verdict::Undetermined { .. } => (None, None),
    };
    let missing: &[String] = match &finding.verdict {
        Verdict::Undetermined { missing, .. } => missing,
        Verdict::Limit { .. } | Verdict::NoLimit | Verdict::Exempt => &[],
    };
    json!({
        "rule": rule,
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

fn as_text(rule: &Rule, finding: &Finding) -> String {
    let mut text = match &finding.verdict {
        Verdict::Limit { level, relative, .. } => {
            format!("limit {level}, {relative} below the carrier\n")
        }
        Verdict::NoLimit => "no limit: the rule has no number here\n".to_owned(),
        Verdict::Exempt => "exempt: the rule's numbers do not apply\n".to_owned(),
        Verdict::Undetermined { missing, .. } => format!(
            "undetermined: the rule needs to know {}\n  help: say `--fact {}=VALUE`\n",
            missing.join(", "),
            missing.first().map_or("NAME", String::as_str)
        ),
    };
    for step in &finding.derivation {
        text.push_str(&format!("{}\n", wrapped(&format!("  {step}"), 4)));
    }
    text.push_str(&format!("source: {} ({})\n", finding.source, finding.status));
    if let Some(bandwidth) = finding.reference_bandwidth {
        text.push_str(&format!("reference bandwidth: {bandwidth}\n"));
    }
    if let Some(caveat) = rule.status().caveat() {
        text.push_str(&format!("note: {caveat}\n"));
    }
    text
}
