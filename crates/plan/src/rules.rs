//! The published texts that a plan names: its own rule, those of single measurements, and a table of bands.

use spurline_document::{Document, Node, Reader};
use spurline_limits::{BandPlan, Facts, Rule};
use spurline_record::{SourceText, TextRole};
use spurline_units::Watts;

use crate::job::kept;
use crate::library::Library;
use crate::read_bench;

/// A rule that one measurement is judged by, with what it is told.
#[derive(Clone, Debug)]
pub struct RuleUse {
    /// The rule.
    pub rule: Rule,
    /// What it is told about the unit.
    pub facts: Facts,
}

/// A measurement that may name a rule of its own.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum OwnRule {
    /// The emission mask.
    Mask,
    /// The adjacent channels.
    Adjacent,
    /// How far the carrier may lie from its channel.
    Frequency,
}

impl RuleUse {
    /// A rule with the facts that stand beside it.
    pub(crate) fn read(reader: &mut Reader, rule: Rule, facts: Option<&Node>) -> Option<Self> {
        let facts = match facts {
            None => Some(Facts::default()),
            Some(node) => Facts::read(reader, node, &rule),
        };
        Some(Self { rule, facts: facts? })
    }

    /// What the plan says of the unit is not asked for again.
    pub(crate) fn is_rated(&mut self, power: Watts) {
        let mut known = Facts::default();
        // A rule that does not ask for it is not told.
        drop(known.set(&self.rule, "rated_power", &power.to_string()));
        self.facts.fill(&self.rule, &known);
    }
}

impl OwnRule {
    pub(crate) const ALL: [Self; 3] = [Self::Mask, Self::Adjacent, Self::Frequency];

    const fn key(self) -> &'static str {
        match self {
            Self::Mask => "emission_mask",
            Self::Adjacent => "adjacent_channel",
            Self::Frequency => "frequency",
        }
    }

    /// The rule that stands under the key of `measure`, if one does, with the facts beside it.
    pub(crate) fn read(
        self,
        reader: &mut Reader,
        document: &Document,
        library: &dyn Library,
        texts: &mut Vec<SourceText>,
    ) -> Option<RuleUse> {
        let asked = document.root.get("measure")?.get(self.key())?;
        let node = asked.get("rule")?;
        let rule = match self {
            Self::Mask | Self::Adjacent => read_rule(reader, node, library, texts),
            Self::Frequency => {
                any_rule(reader, node, library, texts).filter(|rule| tolerates(reader, node, rule))
            }
        }?;
        RuleUse::read(reader, rule, asked.get("facts"))
    }
}

/// A rule that limits emissions.
pub(crate) fn read_rule(
    reader: &mut Reader,
    node: &Node,
    library: &dyn Library,
    texts: &mut Vec<SourceText>,
) -> Option<Rule> {
    let rule = any_rule(reader, node, library, texts)?;
    if !rule.has_limits() {
        let name = rule.name();
        let told = format!(
            "expected a rule that limits emissions, found `{name}`, which has tolerances of the carrier only"
        );
        reader.mistake(node.span, told).hint(format!(
            "name another rule here, and this one where it counts: `measure: {{ frequency: {{ rule: {name} }} }}`"
        ));
    }
    rule.has_limits().then_some(rule)
}

/// Whether a rule says how far a carrier may lie from its channel.
fn tolerates(reader: &mut Reader, node: &Node, rule: &Rule) -> bool {
    if !rule.has_tolerances() {
        let told = format!(
            "expected a rule with tolerances of the carrier's frequency, found `{}`, which has none",
            rule.name()
        );
        reader.mistake(node.span, told).hint(
            "name one with `tolerances`, such as `us-part-90-stability`, or state the figure: `within: 2.5 ppm`",
        );
    }
    rule.has_tolerances()
}

fn any_rule(
    reader: &mut Reader,
    node: &Node,
    library: &dyn Library,
    texts: &mut Vec<SourceText>,
) -> Option<Rule> {
    let name = node.scalar()?;
    let text = library.rule(reader.source().name(), name);
    let text = read_bench::found(reader, node.span, text)?;
    if !texts.iter().any(|known| known.role == TextRole::Rule && known.name == text.name) {
        texts.push(kept(TextRole::Rule, &text));
    }
    let rule = Document::parse(&text.name, &text.text).and_then(|document| Rule::read(&document));
    let rule = reader.adopt(rule)?;
    is_called(reader, node, &text.name, ("rule", rule.name())).then_some(rule)
}

/// The table of bands that the plan names, if it does.
pub(crate) fn read_band_plan(
    reader: &mut Reader,
    document: &Document,
    library: &dyn Library,
    texts: &mut Vec<SourceText>,
) -> Option<BandPlan> {
    let node = document.root.get("measure")?.get("band")?.get("table")?;
    let text = library.band_plan(reader.source().name(), node.scalar()?);
    let text = read_bench::found(reader, node.span, text)?;
    texts.push(kept(TextRole::Bands, &text));
    let plan = Document::parse(&text.name, &text.text).and_then(|document| BandPlan::read(&document));
    let plan = reader.adopt(plan)?;
    is_called(reader, node, &text.name, ("band plan", plan.name())).then_some(plan)
}

/// Whether a text that was asked for by its name says that it has this name; one that was asked for as a file may have
/// any.
fn is_called(reader: &mut Reader, node: &Node, file: &str, (kind, says): (&str, &str)) -> bool {
    let Some(name) = node.scalar() else { return false };
    if says == name || name.contains('/') || name.ends_with(".yaml") {
        return true;
    }
    reader
        .mistake(node.span, format!("`{file}` says that it is the {kind} `{says}`, not `{name}`"))
        .hint(format!("a {kind}'s name is that of its file"));
    false
}

/// The facts of the plan, for its rule and for those of single measurements: what stands beside a rule goes before.
pub(crate) fn read_facts(
    reader: &mut Reader,
    rule: Option<&Rule>,
    others: &mut [&mut RuleUse],
    node: Option<&Node>,
) -> Option<Facts> {
    let rule = rule?;
    let Some(node) = node else { return Some(Facts::default()) };
    let rules: Vec<&Rule> = std::iter::once(rule).chain(others.iter().map(|own| &own.rule)).collect();
    let mut read = Facts::read_for(reader, node, &rules)?.into_iter();
    let facts = read.next();
    for (own, known) in others.iter_mut().zip(read) {
        own.facts.fill(&own.rule, &known);
    }
    facts
}
