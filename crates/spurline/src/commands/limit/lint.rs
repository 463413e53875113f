//! What in rule files looks like a slip.

use serde_json::{Value, json};
use spurline_limits::Remark;
use spurline_runner::RULES;

use super::read_rule;
use crate::exit::Exit;
use crate::talk::{Failure, counted, print, print_json, wrapped};

/// Looks at the rules that are named, or at all that come with the program.
pub(super) fn execute(names: &[String], json: bool) -> Result<Exit, Failure> {
    let shipped = || RULES.iter().map(|(name, _)| (*name).to_owned()).collect();
    let all: Vec<String> = if names.is_empty() { shipped() } else { names.to_vec() };
    let mut found: Vec<(String, Vec<Remark>)> = Vec::new();
    for name in all {
        let rule = read_rule(&name)?;
        found.push((rule.name().to_owned(), rule.lint()));
    }
    if json {
        let rules: Vec<Value> = found.iter().map(|(name, remarks)| as_json(name, remarks)).collect();
        print_json(&json!({ "rules": rules }))?;
    } else {
        // What is expected is told where one asks for the rule, and only counted in a look at all.
        let texts: Vec<String> =
            found.iter().map(|(name, remarks)| as_text(name, remarks, !names.is_empty())).collect();
        print(texts.concat().as_bytes())?;
    }
    let clean = found.iter().all(|(_, remarks)| remarks.iter().all(|remark| remark.because.is_some()));
    Ok(if clean { Exit::Good } else { Exit::Exceeds })
}

fn as_text(name: &str, remarks: &[Remark], with_expected: bool) -> String {
    let slips = remarks.iter().filter(|remark| remark.because.is_none()).count();
    let expected = remarks.len() - slips;
    let count = if slips == 0 { "clean".to_owned() } else { counted(slips, "finding") };
    let mut text = format!("{name}: {count}, {expected} expected\n");
    for remark in remarks {
        let place = match &remark.paragraph {
            Some(paragraph) => format!(" in {paragraph} at {}", remark.place),
            None => format!(" at {}", remark.place),
        };
        // What concerns the whole file has no place of its own.
        let place = if remark.place == remark.flaw.to_string() { String::new() } else { place };
        let line = match &remark.because {
            None => format!("  {}{place}: {}", remark.flaw, remark.text),
            Some(because) if with_expected => {
                format!("  expected {}{place}: {} ({because})", remark.flaw, remark.text)
            }
            Some(_) => continue,
        };
        text.push_str(&format!("{}\n", wrapped(&line, 4)));
    }
    text
}

fn as_json(name: &str, remarks: &[Remark]) -> Value {
    let remark = |remark: &Remark| {
        json!({
            "finding": remark.flaw.to_string(),
            "paragraph": remark.paragraph,
            "at": remark.place,
            "text": remark.text,
            "because": remark.because,
        })
    };
    json!({ "rule": name, "findings": remarks.iter().map(remark).collect::<Vec<_>>() })
}
