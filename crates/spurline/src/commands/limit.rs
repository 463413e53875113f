//! `limit`: what a rule allows, and how it follows; several rules at once, along an axis, and where they jump. Beside the
//! rules: bands, designators, where to search, and what in a rule file looks like a slip.

mod answer;
mod band;
mod designator;
mod lint;
mod seams;
mod span;
mod sweep;
mod tolerance;

use std::path::PathBuf;

use clap::Args;
use serde_json::{Value, json};
use spurline_document::Document;
use spurline_limits::{Facts, Question, Rule};
use spurline_plan::{Library, NotFound};
use spurline_runner::Files;
use spurline_units::{Hertz, Power};

use crate::exit::Exit;
use crate::talk::{Failure, print, print_json, wrapped};
use answer::Answer;
use sweep::Sweep;

/// Say what a rule allows, and how that follows from its text
#[derive(Args, Debug)]
pub(crate) struct Limit {
    /// The rule, for example us-part-97; may be given more than once, to see several side by side
    #[arg(long = "rule", required_unless_present_any = ["span", "designator", "band", "lint"])]
    rules: Vec<String>,
    /// Carrier frequency, for example "146 MHz"
    #[arg(long, value_name = "FREQUENCY", required_unless_present_any = ["designator", "band", "lint"])]
    carrier: Option<String>,
    /// Power of the carrier, for example "5 W" or "37 dBm"
    #[arg(long, allow_hyphen_values = true, required_unless_present_any = ["span", "designator", "band", "lint"])]
    power: Option<String>,
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
    /// Tell from where to where spurious emissions of the carrier are looked for
    #[arg(long, conflicts_with_all = ["sweep", "seams"])]
    span: bool,
    /// The lowest frequency that the equipment makes inside itself; 9 kHz unless stated
    #[arg(long, value_name = "FREQUENCY", requires = "span")]
    lowest: Option<String>,
    /// A designator such as 16K0F3E: its bandwidth, and with a carrier where the spurious domain begins
    #[arg(long, conflicts_with_all = ["sweep", "seams"])]
    designator: Option<String>,
    /// Whether the whole of an emission lies in a band, for example "14.347..14.350 MHz"
    #[arg(long, value_name = "RANGE", requires = "region", conflicts_with_all = ["sweep", "seams"])]
    band: Option<String>,
    /// The ITU region, 1 to 3
    #[arg(long, value_name = "NUMBER", requires = "band")]
    region: Option<String>,
    /// What is sent there: cw, mcw, phone, image or data
    #[arg(long = "use", value_name = "WORD", requires = "band")]
    sent: Option<String>,
    /// The bands to look in
    #[arg(long, value_name = "NAME", requires = "band", default_value = "us-amateur")]
    band_plan: String,
    /// Tell what in the rules looks like a slip; without --rule, in all that come with the program
    #[arg(long, conflicts_with_all = ["sweep", "seams", "span", "designator", "band", "carrier", "power"])]
    lint: bool,
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
        if self.lint {
            return lint::execute(&self.rules, self.json);
        }
        let rules: Vec<Rule> = self.rules.iter().map(|name| read_rule(name)).collect::<Result<_, _>>()?;
        let facts: Vec<Facts> =
            rules.iter().map(|rule| self.facts(rule, &rules)).collect::<Result<_, _>>()?;
        let asked: Vec<Asked> =
            rules.into_iter().zip(facts).map(|(rule, facts)| Asked { rule, facts }).collect();
        if self.sweep.is_some() || self.seams {
            return self.follow(&asked);
        }
        let mut answers = Vec::new();
        if !asked.is_empty() {
            let question = self.question()?;
            answers = asked.iter().map(|one| Answer::of(one, &question)).collect();
        }
        let beside = self.beside()?;
        if self.json {
            print_json(&as_json(&answers, &beside))?;
        } else {
            let mut text = answer::as_text(&answers);
            for part in &beside {
                let blank = if text.is_empty() { "" } else { "\n" };
                text.push_str(&format!("{blank}{}", part.text));
            }
            print(text.as_bytes())?;
        }
        Ok(if beside.iter().all(|part| part.is_good) { Exit::Good } else { Exit::Exceeds })
    }

    /// Limits along an axis, or over every boundary.
    fn follow(&self, asked: &[Asked]) -> Result<Exit, Failure> {
        if let Some(one) = asked.iter().find(|one| !one.rule.has_limits()) {
            return Err(Failure::Usage {
                message: format!("--rule: `{}` has no limits of emissions to follow", one.rule.name()),
                advice: "ask without `--sweep` and `--seams` for its tolerance".to_owned(),
            });
        }
        let question = self.question()?;
        if let Some(sweep) = &self.sweep {
            return sweep.execute(&question, asked, self.points, self.plot.as_deref());
        }
        let texts: Vec<String> =
            asked.iter().map(|one| seams::as_text(&one.rule, &question, &one.facts)).collect();
        print(texts.join("\n").as_bytes())?;
        Ok(Exit::Good)
    }

    /// What is asked that no rule answers.
    fn beside(&self) -> Result<Vec<Part>, Failure> {
        let carrier = self.carrier.as_deref().map(|text| frequency("--carrier", text)).transpose()?;
        let mut parts = Vec::new();
        if let Some(text) = &self.designator {
            parts.push(designator::part(text, carrier)?);
        }
        if let (true, Some(carrier)) = (self.span, carrier) {
            let lowest = self.lowest.as_deref().map(|text| frequency("--lowest", text)).transpose()?;
            parts.push(span::part(carrier, lowest));
        }
        if let (Some(range), Some(region)) = (&self.band, &self.region) {
            parts.push(band::part(range, region, self.sent.as_deref(), &self.band_plan)?);
        }
        Ok(parts)
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
        let (Some(carrier), Some(power)) = (&self.carrier, &self.power) else {
            return Err(Failure::Usage {
                message: "--rule: a rule is asked about a carrier and its power".to_owned(),
                advice: "add for example `--carrier \"146 MHz\" --power \"5 W\"`".to_owned(),
            });
        };
        let carrier = frequency("--carrier", carrier)?;
        let power: Power = power.parse().map_err(|error| wrong("--power", &error))?;
        let question = Question::new(carrier, power.watts()).map_err(|error| wrong("--carrier", &error))?;
        Ok(match (&self.at, &self.offset) {
            (Some(at), _) => question.at(frequency("--at", at)?),
            (None, Some(offset)) => question.at(carrier + frequency("--offset", offset)?),
            (None, None) => question,
        })
    }
}

/// Something that was asked beside the rules.
struct Part {
    /// Its key in a document.
    key: &'static str,
    json: Value,
    text: String,
    /// Whether it is as it should be.
    is_good: bool,
}

fn as_json(answers: &[Answer<'_>], beside: &[Part]) -> Value {
    let documents: Vec<Value> = answers.iter().map(Answer::as_json).collect();
    let mut document = match documents.as_slice() {
        [one] => one.clone(),
        [] => json!({}),
        several => json!({ "rules": several }),
    };
    for part in beside {
        document[part.key] = part.json.clone();
    }
    document
}

/// Lines of a derivation, indented.
fn steps(derivation: &[String]) -> String {
    derivation.iter().map(|step| format!("{}\n", wrapped(&format!("  {step}"), 4))).collect()
}

fn frequency(argument: &str, text: &str) -> Result<Hertz, Failure> {
    text.parse().map_err(|error: spurline_units::QuantityError| wrong(argument, &error))
}

fn missing(missing: NotFound) -> Failure {
    Failure::Usage { message: missing.message, advice: missing.advice.unwrap_or_default() }
}

fn read_rule(name: &str) -> Result<Rule, Failure> {
    let text = Files::from_environment().rule("", name).map_err(missing)?;
    Ok(Document::parse(&text.name, &text.text).and_then(|document| Rule::read(&document))?)
}

/// A wrong argument; the second line of the error is its advice.
pub(super) fn wrong(argument: &str, error: &dyn std::error::Error) -> Failure {
    let text = error.to_string();
    let (message, advice) = text.split_once('\n').unwrap_or((&text, "see `spurline limit --help`"));
    Failure::Usage { message: format!("{argument}: {message}"), advice: advice.to_owned() }
}
