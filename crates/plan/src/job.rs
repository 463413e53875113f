//! A plan with everything it names, read and checked against each other.

use spurline_document::{Document, Mistakes, Node, Reader};
use spurline_limits::{BandPlan, Facts, Finding, Question, QuestionError, Rule, Status};
use spurline_record::{Role, SourceText, TextRole};
use spurline_units::{Hertz, Watts};
use thiserror::Error;

use crate::bench::{Bench, InstrumentAt};
use crate::fit;
use crate::library::{Library, NotFound, Text};
use crate::model::Plan;
use crate::read_bench::{self, Shelf};
use crate::read_plan;
use crate::rules::{self, OwnRule, RuleUse};
use crate::telltale::is_of_kind;
use crate::way::Way;

/// A plan ready to be run or forecast.
#[derive(Clone, Debug)]
pub struct Job {
    /// The plan.
    pub plan: Plan,
    /// The bench.
    pub bench: Bench,
    /// The rule.
    pub rule: Rule,
    /// What the plan states about the unit, for the rule.
    pub facts: Facts,
    /// The rules that single measurements name for themselves, as [`OwnRule`] orders them.
    own_rules: [Option<RuleUse>; OwnRule::ALL.len()],
    /// The table of bands that the emission must stay in one of, if the plan names one.
    pub(crate) band_plan: Option<BandPlan>,
    /// The plan's file, for messages about what stands in it.
    pub document: Document,
    /// Every text that was read.
    pub texts: Vec<SourceText>,
    /// The way by which the carrier is read, then that of the harmonics, by their places among the bench's.
    ways: [usize; 2],
    /// The way on which leaks are looked for, if the plan names one.
    leak_way: Option<usize>,
}

/// Why a plan cannot be run.
#[derive(Debug, Error)]
pub enum LoadError {
    /// The plan itself cannot be read.
    #[error("{}", .0.message)]
    NoPlan(NotFound),
    /// No bench is named.
    #[error("no bench: the plan names none and none was given")]
    NoBench,
    /// The files have mistakes.
    #[error(transparent)]
    Mistakes(#[from] Mistakes),
}

impl LoadError {
    /// What to do about it.
    #[must_use]
    pub fn advice(&self) -> Option<String> {
        match self {
            Self::NoPlan(missing) => missing.advice.clone(),
            Self::NoBench => Some("write `bench: FILE` into the plan, or say `--bench FILE`".to_owned()),
            Self::Mistakes(_) => None,
        }
    }
}

impl Job {
    /// Reads the plan at `path` with its bench, or with the bench at `bench` instead.
    ///
    /// # Errors
    ///
    /// [`LoadError`]; of mistakes, all that could be found.
    pub fn load(path: &str, bench: Option<&str>, library: &dyn Library) -> Result<Self, LoadError> {
        let text = library.file("", path).map_err(LoadError::NoPlan)?;
        let document = Document::parse(&text.name, &text.text)?;
        let mut texts = vec![kept(TextRole::Plan, &text)];
        let mut reader = Reader::new(&document);
        if is_of_kind(&mut reader, &document, "plan").is_none() {
            return reader.finish(None).map_err(LoadError::Mistakes);
        }
        let mut companions = Vec::new();
        let mut file = {
            let mut shelf = Shelf::new(library, document.source.name(), &mut companions);
            read_plan::read(&mut reader, &document, &mut shelf)
        };
        let rated = file.as_ref().and_then(|file| file.plan.unit.rated_power);
        // Of a plan with mistakes the names may still be good: what stands behind them is read all the same.
        let names = Names::of(&document);
        let rule = names.rule.and_then(|node| rules::read_rule(&mut reader, node, library, &mut texts));
        let mut own_rules = OwnRule::ALL.map(|own| own.read(&mut reader, &document, library, &mut texts));
        let band_plan = rules::read_band_plan(&mut reader, &document, library, &mut texts);
        // The rule of the plan stands first among its texts: those of single measurements come after it.
        texts.append(&mut companions);
        let mut others: Vec<&mut RuleUse> = own_rules.iter_mut().flatten().collect();
        others.extend(file.iter_mut().flat_map(|file| file.plan.ceilings_mut()));
        let facts = rules::read_facts(&mut reader, rule.as_ref(), &mut others, names.facts);
        if let Some(rated) = rated {
            others.into_iter().for_each(|own| own.is_rated(rated));
        }
        let bench = match (bench, names.bench) {
            (Some(given), _) => read_bench(&mut reader, None, given, library, &mut texts),
            (None, Some(node)) => match reader.text(node, "a bench file") {
                Some(name) => read_bench(&mut reader, Some(node), name, library, &mut texts),
                None => Ok(None),
            },
            (None, None) if reader.is_clean() => Err(LoadError::NoBench),
            (None, None) => Ok(None),
        }?;
        let fitted = file.zip(bench).and_then(|(file, mut bench)| {
            if let Some((part, span)) = &file.plan.adapter {
                bench.put_first(part, *span);
            }
            let ways = fit::check(&mut reader, &file, &bench)?;
            let leak_way = fit::leak_way(&mut reader, &file.plan, &bench)?;
            Some((file.plan, bench, ways, leak_way))
        });
        let job = fitted.zip(rule.zip(facts)).map(|((plan, bench, ways, leak_way), (rule, facts))| Self {
            plan,
            bench,
            rule,
            facts,
            own_rules,
            band_plan,
            document: document.clone(),
            texts,
            ways,
            leak_way,
        });
        reader.finish(job).map_err(LoadError::Mistakes)
    }

    /// Reads a bench alone, as for serving it.
    ///
    /// # Errors
    ///
    /// [`LoadError`]; of mistakes, all that could be found.
    pub fn load_bench(path: &str, library: &dyn Library) -> Result<Bench, LoadError> {
        let text = library.file("", path).map_err(LoadError::NoPlan)?;
        Ok(parse_bench(&text, library, &mut Vec::new())?)
    }

    /// The instrument of a role that every bench has.
    ///
    /// # Panics
    ///
    /// If a bench may be without this role; ask [`Bench::instrument`] then.
    #[must_use]
    pub fn instrument(&self, role: Role) -> &InstrumentAt {
        self.bench.instrument(role).expect("a bench that was read has an instrument for this role")
    }

    /// The file that the rule was read from: anyone can write one, and say in it that it is verified.
    #[must_use]
    pub fn rule_file(&self) -> &str {
        let text = self.texts.iter().find(|text| text.role == TextRole::Rule);
        text.map_or("", |text| text.name.as_str())
    }

    /// The way by which the carrier is read.
    #[must_use]
    pub fn carrier_way(&self) -> &Way {
        &self.bench.ways[self.ways[0]]
    }

    /// The way by which the harmonics are read.
    #[must_use]
    pub fn harmonics_way(&self) -> &Way {
        &self.bench.ways[self.ways[1]]
    }

    /// The way on which the unit is keyed into a load and the analyser hears only what leaks to it.
    #[must_use]
    pub fn leak_way(&self) -> Option<&Way> {
        self.leak_way.map(|place| &self.bench.ways[place])
    }

    /// Whether carrier and harmonics are read on one key-down: a switch is never moved under power.
    #[must_use]
    pub fn one_key_down(&self) -> bool {
        self.ways[0] == self.ways[1]
    }

    /// The rule of the emission mask, and what it is told.
    #[must_use]
    pub fn mask_rule(&self) -> (&Rule, &Facts) {
        self.own_rule(OwnRule::Mask).unwrap_or((&self.rule, &self.facts))
    }

    /// The rule of the adjacent channels, and what it is told.
    #[must_use]
    pub fn adjacent_rule(&self) -> (&Rule, &Facts) {
        self.own_rule(OwnRule::Adjacent).unwrap_or((&self.rule, &self.facts))
    }

    /// The rule of the carrier's frequency, if the plan names one, and what it is told.
    #[must_use]
    pub fn frequency_rule(&self) -> Option<(&Rule, &Facts)> {
        self.own_rule(OwnRule::Frequency)
    }

    fn own_rule(&self, own: OwnRule) -> Option<(&Rule, &Facts)> {
        self.own_rules[own as usize].as_ref().map(|own| (&own.rule, &own.facts))
    }

    /// The rules beside that of the plan, each with what it is told.
    pub(crate) fn rules_in_use(&mut self) -> impl Iterator<Item = &mut RuleUse> {
        self.own_rules.iter_mut().flatten().chain(self.plan.ceilings_mut())
    }

    /// The same without what they are told.
    pub(crate) fn other_rules(&self) -> impl Iterator<Item = &Rule> {
        self.own_rules.iter().flatten().map(|own| &own.rule).chain(self.plan.ceilings())
    }

    /// How far each text was checked that readings are judged by, with its name: that of the plan's rule first.
    pub(crate) fn statuses(&self) -> Vec<(&str, Status)> {
        let rules = self.other_rules();
        let mut statuses: Vec<(&str, Status)> =
            std::iter::once(&self.rule).chain(rules).map(|rule| (rule.name(), rule.status())).collect();
        statuses.extend(self.band_plan.iter().map(|plan| (plan.name(), plan.status())));
        statuses.dedup();
        statuses
    }

    /// What the rule says about an emission of a carrier.
    ///
    /// # Errors
    ///
    /// If carrier or power is not above zero.
    pub fn limit(&self, carrier: Hertz, power: Watts, at: Hertz) -> Result<Finding, QuestionError> {
        Ok(self.rule.limit(&Question::new(carrier, power)?.at(at), &self.facts))
    }
}

/// The nodes of a plan that name other things, found without regard to mistakes elsewhere in it.
struct Names<'d> {
    bench: Option<&'d Node>,
    rule: Option<&'d Node>,
    facts: Option<&'d Node>,
}

impl<'d> Names<'d> {
    fn of(document: &'d Document) -> Self {
        let find = |key| document.root.get(key);
        Self { bench: find("bench"), rule: find("rule"), facts: find("facts") }
    }
}

pub(crate) fn kept(role: TextRole, text: &Text) -> SourceText {
    SourceText { role, name: text.name.clone(), text: text.text.clone() }
}

/// Reads a bench file; its mistakes join those of the plan. `node` names it in the plan, if that is so.
fn read_bench(
    reader: &mut Reader,
    node: Option<&Node>,
    path: &str,
    library: &dyn Library,
    texts: &mut Vec<SourceText>,
) -> Result<Option<Bench>, LoadError> {
    let text = match node {
        None => library.file("", path).map_err(LoadError::NoPlan)?,
        Some(node) => {
            let text = library.file(reader.source().name(), path);
            let Some(text) = read_bench::found(reader, node.span, text) else { return Ok(None) };
            text
        }
    };
    let bench = parse_bench(&text, library, texts);
    Ok(reader.adopt(bench))
}

fn parse_bench(text: &Text, library: &dyn Library, texts: &mut Vec<SourceText>) -> Result<Bench, Mistakes> {
    texts.push(kept(TextRole::Bench, text));
    let document = Document::parse(&text.name, &text.text)?;
    let mut reader = Reader::new(&document);
    let bench = read_bench::read(&mut reader, &document, library, texts);
    reader.finish(bench)
}
