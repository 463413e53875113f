//! Limits: terms, and which of several binds.

use spurline_document::{Node, Reader};
use spurline_units::{Dbm, Watts};

use crate::expression::{Expression, Term};
use crate::fact::Fact;
use crate::formula::Attenuation;
use crate::value::{Kind, parse_power};

/// Reads one term or a combination; `count` numbers the terms of a row.
pub(super) fn expression(
    reader: &mut Reader,
    node: &Node,
    facts: &[Fact],
    count: &mut usize,
) -> Option<Expression> {
    let mut fields = reader.fields(node, "a limit")?;
    let found = fields.one_of(reader, &["absolute", "below", "strictest", "loosest"]);
    fields.close(reader);
    let (key, node) = found?;
    match key {
        "strictest" => parts(reader, node, facts, count).map(Expression::Strictest),
        "loosest" => parts(reader, node, facts, count).map(Expression::Loosest),
        _ => {
            *count += 1;
            let number = *count;
            let term = if key == "absolute" { absolute(reader, node) } else { below(reader, node, facts) };
            term.map(|term| Expression::Term { number, term })
        }
    }
}

fn parts(reader: &mut Reader, node: &Node, facts: &[Fact], count: &mut usize) -> Option<Vec<Expression>> {
    super::each(reader, node, "the limits to choose from", |reader, node| {
        expression(reader, node, facts, count)
    })
}

fn absolute(reader: &mut Reader, node: &Node) -> Option<Term> {
    let (_, level) = power(reader, node)?;
    let written = reader.text(node, "a power")?.to_owned();
    Some(Term::Absolute { level, written })
}

fn below(reader: &mut Reader, node: &Node, facts: &[Fact]) -> Option<Term> {
    let attenuation: Attenuation = reader.parse(node, "how far below, such as `43 dB`")?;
    if let Some(growth) = attenuation.growth() {
        let usable = growth.of == "power"
            || facts.iter().any(|fact| {
                fact.name() == growth.of && fact.kind() == Kind::Power && fact.default().is_some()
            });
        if !usable {
            reader
                .mistake(node.span, format!("`{}` is no power that a formula can use", growth.of))
                .hint("write `power`, or a fact of kind power that has `default: power`");
            return None;
        }
    }
    Some(Term::Below(attenuation))
}

/// Reads a power in watts or dBm.
pub(super) fn power(reader: &mut Reader, node: &Node) -> Option<(Watts, Dbm)> {
    let text = reader.text(node, "a power")?;
    match parse_power(text) {
        Ok(power) => Some(power),
        Err(Some(error)) => {
            reader.error(node.span, &error);
            None
        }
        Err(None) => {
            reader.mistake(node.span, format!("expected a power from -300 dBm to 150 dBm, found `{text}`"));
            None
        }
    }
}
