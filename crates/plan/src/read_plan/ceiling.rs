//! What is let pass: a level, or the name of a rule.

use spurline_document::{Fields, Node, Reader};
use spurline_units::Dbm;

use crate::measure::Ceiling;
use crate::read_bench::Shelf;
use crate::rules::RuleUse;

/// One of a level under `key` and a rule under `rule`; with neither, the default. `place` is what the keys stand under.
pub(super) fn read(
    reader: &mut Reader,
    fields: &mut Fields<'_>,
    (place, key): (&str, &'static str),
    default: Option<Dbm>,
    shelf: &mut Shelf<'_>,
) -> Option<Ceiling> {
    let (level, rule, facts) = (fields.optional(key), fields.optional("rule"), fields.optional("facts"));
    match (level, rule) {
        (Some(_), Some(rule)) => {
            reader
                .mistake(rule.span, format!("expected one of `{key}` and `rule`, found both"))
                .hint("take one of them out");
            None
        }
        (Some(_), None) | (None, None) if facts.is_some() => {
            reader
                .mistake(
                    facts.map_or(fields.span(), |node| node.span),
                    "facts are told to a rule, and there is none",
                )
                .hint("take `facts` out, or name a `rule`");
            None
        }
        (Some(node), None) => {
            let level = reader.parse::<Dbm>(node, "a level in dBm")?;
            Some(Ceiling::Level { level, source: format!("{}: {place}.{key}", reader.source().name()) })
        }
        (None, Some(node)) => Some(Ceiling::Rule(Box::new(of_rule(reader, node, facts, shelf)?))),
        (None, None) => match default {
            Some(level) => {
                let source = format!("assumed: the plan has neither {place}.{key} nor {place}.rule");
                Some(Ceiling::Level { level, source })
            }
            None => {
                reader
                    .mistake(fields.span(), format!("expected one of `{key}` and `rule`, found neither"))
                    .hint(format!("write `{key}: -57 dBm` or `rule: us-part-15-receiver`"));
                None
            }
        },
    }
}

fn of_rule(reader: &mut Reader, node: &Node, facts: Option<&Node>, shelf: &mut Shelf<'_>) -> Option<RuleUse> {
    reader.text(node, "the name of a rule")?;
    let rule = shelf.rule(reader, node)?;
    RuleUse::read(reader, rule, facts)
}
