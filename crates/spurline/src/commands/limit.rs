//! `limit`: the limit of a rule, and how it follows; several rules at once, along an axis, and where they jump.

mod seams;
mod sweep;

use std::path::PathBuf;

use clap::Args;
use serde_json::{Value, json};
use spurline_document::Document;
use spurline_limits::{Facts, Finding, Question, Rule, Verdict};
use spurline_plan::Library;
use spurline_units::{Hertz, Power};

use crate::exit::Exit;
use crate::library::Files;
use crate::talk::{Failure, print, print_json, wrapped};
use sweep::Sweep;

/// Say what a rule allows, and how that follows from its text
#[derive(Args, Debug)]
pub(crate) struct Limit {
    /// The rule, for example us-part-97; may be given more than once, to see several side by side
    #[arg(long = "rule", required = true)]
    rules: Vec<String>,
    /// Carrier frequency, for example "146 MHz"
    #[arg(long, value_name = "FREQUENCY")]
    carrier: String,
    /// Power of the carrier, for example "5 W" or "37 dBm"
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
    /// Print the limit as CSV along "offset=0 Hz..60 kHz", "at=1 MHz..1 GHz" or "power=10 mW..100 W"
    #[arg(long, value_name = "RANGE", conflicts_with = "json")]
    sweep: Option<Sweep>,
    /// So many places along it
    #[arg(long, value_name = "NUMBER", default_value_t = 201, requires = "sweep",
        value_parser = clap::value_parser!(u32).range(2..=100_000))]
    points: u32,
    /// Draw what was swept into this file, as SVG
    #[arg(long, value_name = "FILE", requires = "sweep")]
    plot: Option<PathBuf>,
    /// Tell every place where a rule's limit jumps, begins or ends
    #[arg(long, conflicts_with_all = ["json", "sweep"])]
    seams: bool,
    /// Print one JSON document
    #[arg(long)]
    pub(crate) json: bool,
}

/// A rule with what is known for it.
struct Asked {
    rule: Rule,
    facts: Facts,
}

impl Limit {
    pub(crate) fn execute(self) -> Result<Exit, Failure> {
        let rules: Vec<Rule> = self.rules.iter().map(|name| read_rule(name)).collect::<Result<_, _>>()?;
        let facts: Vec<Facts> =
            rules.iter().map(|rule| self.facts(rule, &rules)).collect::<Result<_, _>>()?;
        let asked: Vec<Asked> =
            rules.into_iter().zip(facts).map(|(rule, facts)| Asked { rule, facts }).collect();
        let question = self.question()?;
        if let Some(sweep) = &self.sweep {
            return sweep.execute(&question, &asked, self.points, self.plot.as_deref());
        }
        if self.seams {
            let texts: Vec<String> =
                asked.iter().map(|one| seams::as_text(&one.rule, &question, &one.facts)).collect();
            print(texts.join("\n").as_bytes())?;
            return Ok(Exit::Good);
        }
        let findings: Vec<Finding> = asked.iter().map(|one| one.rule.limit(&question, &one.facts)).collect();
        if self.json {
            let documents: Vec<Value> =
                self.rules.iter().zip(&findings).map(|(name, finding)| as_json(name, finding)).collect();
            match documents.as_slice() {
                [one] => print_json(one)?,
                several => print_json(&json!({ "rules": several }))?,
            }
        } else {
            let texts: Vec<String> =
                asked.iter().zip(&findings).map(|(one, finding)| as_text(&one.rule, finding)).collect();
            let mut text = texts.join("\n");
            if findings.len() > 1 {
                text.push_str(&side_by_side(&self.rules, &findings));
            }
            print(text.as_bytes())?;
        }
        Ok(Exit::Good)
    }

    /// What is known for one of the rules; what only another one asks for is left to it.
    fn facts(&self, rule: &Rule, all: &[Rule]) -> Result<Facts, Failure> {
        let mut facts = Facts::default();
        for fact in &self.facts {
            let name = fact.split('=').next().unwrap_or_default().trim();
            if rule.fact(name).is_none() && all.iter().any(|other| other.fact(name).is_some()) {
                continue;
            }
            facts.set_pair(rule, fact).map_err(|error| wrong("--fact", &error))?;
        }
        Ok(facts)
    }

    fn question(&self) -> Result<Question, Failure> {
        let carrier: Hertz = self.carrier.parse().map_err(|error| wrong("--carrier", &error))?;
        let power: Power = self.power.parse().map_err(|error| wrong("--power", &error))?;
        let question = Question::new(carrier, power.watts()).map_err(|error| wrong("--carrier", &error))?;
        Ok(match (&self.at, &self.offset) {
            (Some(at), _) => question.at(at.parse().map_err(|error| wrong("--at", &error))?),
            (None, Some(offset)) => {
                let offset: Hertz = offset.parse().map_err(|error| wrong("--offset", &error))?;
                question.at(carrier + offset)
            }
            (None, None) => question,
        })
    }
}

/// The levels of several rules below each other.
fn side_by_side(names: &[String], findings: &[Finding]) -> String {
    let widest = names.iter().map(String::len).max().unwrap_or_default();
    let line = |(name, finding): (&String, &Finding)| {
        let level = match &finding.verdict {
            Verdict::Limit { level, .. } => format!("{level:>12}"),
            other => format!("{:>12}", word(other)),
        };
        format!("  {name:<widest$}  {level}  {}\n", finding.status)
    };
    let lines: Vec<String> = names.iter().zip(findings).map(line).collect();
    format!("\nside by side\n{}", lines.concat())
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
