//! A rule file to a [`Rule`]: every mistake with its place, and nothing that could not be judged later.

mod bands;
mod condition;
mod expected;
mod expression;
mod fact;
mod head;
mod tolerance;

use spurline_document::{Document, Fields, Mistakes, Node, Reader};
use spurline_units::Hertz;

use crate::bandwidth::{ReferenceBandwidth, Step};
use crate::condition::{AT, Condition, Relation};
use crate::finding::Status;
use crate::rule::{Body, Interpretation, Paragraph, Row, Rule};

/// More tests on one fact, or more cases of all facts together, are no regulation but a slip or an attack.
const MOST_TESTS: usize = 64;
const MOST_CASES: usize = 20_000;

impl Rule {
    /// Reads a rule file.
    ///
    /// # Errors
    ///
    /// All mistakes in it.
    pub fn read(document: &Document) -> Result<Self, Mistakes> {
        let mut reader = Reader::new(document);
        let rule = rule(&mut reader, &document.root);
        if let Some(rule) = &rule {
            check_cases(&mut reader, rule, &document.root);
        }
        reader.finish(rule)
    }
}

/// What a part of the file may refer to.
pub(crate) struct Scope<'r> {
    facts: &'r [crate::fact::Fact],
    status: Status,
    reference_bandwidth: ReferenceBandwidth,
    reference_power: String,
}

fn rule(reader: &mut Reader, node: &Node) -> Option<Rule> {
    let mut fields = reader.fields(node, "a rule")?;
    let head = head::head(reader, &mut fields, "rule");
    let paragraphs = fields.optional("paragraphs");
    // A tolerance is measured in no bandwidth.
    let bandwidth = if paragraphs.is_some() {
        fields.required(reader, "reference_bandwidth").and_then(|node| reference_bandwidth(reader, node))
    } else {
        fields.or(reader, "reference_bandwidth", reference_bandwidth, ReferenceBandwidth::NoneStated)
    };
    let power = reference_power(reader, &mut fields, MEAN_POWER);
    let facts = fields.optional("facts").map_or(Some(Vec::new()), |node| fact::facts(reader, node));
    let tolerances = fields.optional("tolerances");
    let expected = fields.optional("expected");
    if paragraphs.is_none() && tolerances.is_none() {
        reader
            .mistake(first_key(&fields), "expected `paragraphs` or `tolerances` in a rule, found neither")
            .hint("`paragraphs` limit emissions, `tolerances` how far a carrier lies from its frequency");
    }
    fields.close(reader);
    // Paragraphs are read even where something above them is wrong, so that one pass finds every mistake.
    let scope = Scope {
        facts: facts.as_deref().unwrap_or_default(),
        status: head.as_ref().map_or(Status::FromMemory, |head| head.status),
        reference_bandwidth: bandwidth.clone().unwrap_or(ReferenceBandwidth::NoneStated),
        reference_power: power.unwrap_or_else(|| MEAN_POWER.to_owned()),
    };
    let paragraphs = paragraphs.map_or(Some(Vec::new()), |node| {
        each(reader, node, "the paragraphs", |r, n| paragraph(r, n, &scope))
    });
    let tolerances = tolerances.map_or(Some(Vec::new()), |node| {
        each(reader, node, "the tolerances", |r, n| tolerance::row(r, n, &scope))
    });
    let expected =
        expected.map_or(Some(Vec::new()), |node| each(reader, node, "what is expected", expected::expected));
    bandwidth?;
    Some(Rule {
        head: head?,
        paragraphs: paragraphs?,
        tolerances: tolerances?,
        expected: expected?,
        facts: facts?,
    })
}

/// Where a mistake about the whole file is shown: one line and not all of it.
fn first_key(fields: &Fields<'_>) -> spurline_document::Span {
    fields.entries().first().map_or_else(|| fields.span(), |entry| entry.key_span)
}

fn paragraph(reader: &mut Reader, node: &Node, scope: &Scope<'_>) -> Option<Paragraph> {
    let mut fields = reader.fields(node, "a paragraph")?;
    let name = text(reader, &mut fields, "paragraph");
    let source = text(reader, &mut fields, "source");
    let status = match fields.optional("status") {
        None => Some(scope.status),
        Some(node) => reader.choice(node, "a status", Status::WORDS),
    };
    let bandwidth = match fields.optional("reference_bandwidth") {
        None => Some(scope.reference_bandwidth.clone()),
        Some(node) => reference_bandwidth(reader, node),
    };
    let power = reference_power(reader, &mut fields, &scope.reference_power);
    let applies = when(reader, &mut fields, "applies", scope);
    let exempt =
        fields.maybe(reader, "exempt", |reader, node| condition::condition(reader, node, scope.facts));
    let interpretations = interpretations(reader, &mut fields, scope);
    let body = match fields.one_of(reader, &["limits", "no_limit"]) {
        Some(("no_limit", node)) => {
            reader.text(node, "why there is no limit").map(str::to_owned).map(Body::NoLimit)
        }
        Some((_, node)) => each(reader, node, "the limits", |r, n| row(r, n, scope)).map(Body::Rows),
        None => None,
    };
    fields.close(reader);
    Some(Paragraph {
        name: name?,
        source: source?,
        status: status?,
        reference_bandwidth: bandwidth?,
        reference_power: power?,
        applies: applies?,
        exempt: exempt?,
        interpretations: interpretations?,
        body: body?,
    })
}

fn row(reader: &mut Reader, node: &Node, scope: &Scope<'_>) -> Option<Row> {
    let mut fields = reader.fields(node, "a row of limits")?;
    let when = when(reader, &mut fields, "when", scope);
    let says = text(reader, &mut fields, "says");
    let interpretations = interpretations(reader, &mut fields, scope);
    let limit = fields.required(reader, "limit");
    let limit = limit.and_then(|node| expression::expression(reader, node, scope.facts, &mut 0));
    let bandwidth = fields.maybe(reader, "reference_bandwidth", reference_bandwidth);
    fields.close(reader);
    Some(Row {
        when: when?,
        says: says?,
        interpretations: interpretations?,
        limit: limit?,
        reference_bandwidth: bandwidth?,
    })
}

fn interpretations(
    reader: &mut Reader,
    fields: &mut Fields<'_>,
    scope: &Scope<'_>,
) -> Option<Vec<Interpretation>> {
    let Some(node) = fields.optional("interpretations") else { return Some(Vec::new()) };
    each(reader, node, "the interpretations", |reader, node| {
        let mut fields = reader.fields(node, "an interpretation")?;
        let when = when(reader, &mut fields, "when", scope);
        let text = text(reader, &mut fields, "text");
        fields.close(reader);
        Some(Interpretation { when: when?, text: text? })
    })
}

fn when(
    reader: &mut Reader,
    fields: &mut Fields<'_>,
    key: &'static str,
    scope: &Scope<'_>,
) -> Option<Condition> {
    match fields.optional(key) {
        None => Some(Condition::ALWAYS),
        Some(node) => condition::condition(reader, node, scope.facts),
    }
}

/// What stands before a bandwidth that may be wider.
const AT_LEAST: &str = "at least ";

fn reference_bandwidth(reader: &mut Reader, node: &Node) -> Option<ReferenceBandwidth> {
    use spurline_document::Value;
    match &node.value {
        Value::List(_) => {
            let steps = each(reader, node, "the ranges", step)?;
            let ends: Vec<Option<Hertz>> = steps.iter().map(|step| step.up_to).collect();
            let (last, before) = ends.split_last()?;
            let rising = before.iter().all(Option::is_some)
                && ends.windows(2).all(|pair| pair[1].is_none_or(|end| Some(end) > pair[0]));
            if last.is_some() || !rising {
                reader
                    .mistake(node.span, "expected ranges that rise, the last of them without an end")
                    .hint("give each range but the last its `emission_up_to`");
                return None;
            }
            Some(ReferenceBandwidth::ByEmission(steps))
        }
        Value::Scalar(text) if text == "none stated" => Some(ReferenceBandwidth::NoneStated),
        Value::Scalar(text) if text.starts_with(AT_LEAST) => match text[AT_LEAST.len()..].parse() {
            Ok(bandwidth) => Some(ReferenceBandwidth::AtLeast(bandwidth)),
            Err(error) => {
                let error: spurline_units::QuantityError = error;
                reader.error(node.span, &error);
                None
            }
        },
        Value::Empty | Value::Scalar(_) | Value::Map(_) => {
            reader.parse(node, "`none stated`, a bandwidth or a list of ranges").map(ReferenceBandwidth::One)
        }
    }
}

fn step(reader: &mut Reader, node: &Node) -> Option<Step> {
    let mut fields = reader.fields(node, "a range")?;
    let up_to = fields.maybe(reader, "emission_up_to", |reader, node| reader.parse(node, "a frequency"));
    let bandwidth = fields.required(reader, "bandwidth").and_then(|node| reader.parse(node, "a bandwidth"));
    fields.close(reader);
    Some(Step { up_to: up_to?, bandwidth: bandwidth? })
}

/// What decibels count from where nothing else is said.
const MEAN_POWER: &str = "the mean power";

/// What decibels count from, in words.
fn reference_power(reader: &mut Reader, fields: &mut Fields<'_>, unless_stated: &str) -> Option<String> {
    let read = |reader: &mut Reader, node: &Node| reader.text(node, "a power in words").map(str::to_owned);
    fields.or(reader, "reference_power", read, unless_stated.to_owned())
}

fn text(reader: &mut Reader, fields: &mut Fields<'_>, key: &'static str) -> Option<String> {
    let node = fields.required(reader, key)?;
    reader.text(node, &format!("a text for `{key}`")).map(str::to_owned)
}

/// Reads a list that is not empty; every item is read, also behind one that is wrong.
fn each<T>(
    reader: &mut Reader,
    node: &Node,
    what: &str,
    mut read: impl FnMut(&mut Reader, &Node) -> Option<T>,
) -> Option<Vec<T>> {
    let items = reader.list(node, what)?;
    if items.is_empty() {
        reader.mistake(node.span, format!("expected {what}, found an empty list"));
        return None;
    }
    let read: Vec<Option<T>> = items.iter().map(|item| read(reader, item)).collect();
    read.into_iter().collect()
}

fn check_cases(reader: &mut Reader, rule: &Rule, node: &Node) {
    let names = rule.facts().iter().map(crate::fact::Fact::name).chain([AT]);
    let mut cases = 1usize;
    for name in names {
        if rule.tests_on(name).len() > MOST_TESTS {
            reader.mistake(node.span, format!("expected at most {MOST_TESTS} tests on `{name}`"));
            return;
        }
        let words = rule.fact(name).map_or(0, |fact| fact.words().len());
        let bounds =
            rule.tests_on(name).iter().filter(|test| matches!(test.relation, Relation::Order(..))).count();
        cases = cases.saturating_mul((words + bounds).max(1));
    }
    if cases > MOST_CASES {
        reader.mistake(node.span, format!("expected at most {MOST_CASES} cases of all facts, found {cases}"));
    }
}

#[cfg(test)]
mod tests;
