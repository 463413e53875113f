//! Answers questions about scattering parameters and mismatch, one JSON document a line, so that other programs can be
//! held against this one: `scripts/oracles/run.py`.

use std::io::{BufRead, Write};

use num_complex::Complex64;
use serde_json::{Value, json};
use spurline_path::{LossTable, Mismatch, Reflection, Touchstone, TwoPort};
use spurline_units::{Db, Hertz};

type Answer = Result<Value, String>;

fn numbers(from: &Value, key: &str) -> Result<Vec<f64>, String> {
    let list = from[key].as_array().ok_or_else(|| format!("expected a list as `{key}`"))?;
    list.iter().map(|item| item.as_f64().ok_or_else(|| format!("expected numbers in `{key}`"))).collect()
}

/// Real and imaginary parts of S11, S21, S12 and S22.
fn two_port(parts: &Value) -> Result<TwoPort, String> {
    let parts: Vec<f64> = parts.as_array().into_iter().flatten().filter_map(Value::as_f64).collect();
    let [a, b, c, d, e, f, g, h] = parts[..] else { return Err("expected eight numbers".to_owned()) };
    let [s11, s21, s12, s22] = [(a, b), (c, d), (e, f), (g, h)].map(|(re, im)| Complex64::new(re, im));
    Ok(TwoPort { s11, s21, s12, s22 })
}

fn cascade(question: &Value) -> Answer {
    let parts = question["parts"].as_array().ok_or("expected `parts`")?;
    let parts: Vec<_> = parts.iter().map(two_port).collect::<Result<_, String>>()?;
    let whole = parts.into_iter().reduce(TwoPort::then).ok_or("expected a part at least")?;
    let parameters = [whole.s11, whole.s21, whole.s12, whole.s22];
    Ok(json!({
        "parameters": parameters.iter().flat_map(|s| [s.re, s.im]).collect::<Vec<_>>(),
        "loss": whole.loss().map(Db::get),
    }))
}

fn touchstone(question: &Value) -> Answer {
    let text = question["text"].as_str().ok_or("expected a `text`")?;
    let file = Touchstone::parse(text).map_err(|error| error.to_string())?;
    let at: Vec<Hertz> = numbers(question, "hertz")?.into_iter().map(Hertz::new).collect();
    let points = file.points().iter().map(|(_, point)| {
        let parameters = [point.s11, point.s21, point.s12, point.s22];
        parameters.iter().flat_map(|s| [s.re, s.im]).collect::<Vec<_>>()
    });
    Ok(json!({
        "frequencies": file.points().iter().map(|(frequency, _)| frequency.get()).collect::<Vec<_>>(),
        "points": points.collect::<Vec<_>>(),
        "loss": at.iter().map(|hertz| file.loss_at(*hertz).map(Db::get)).collect::<Vec<_>>(),
        "input": at.iter().map(|hertz| file.input_at(*hertz).map(Reflection::get)).collect::<Vec<_>>(),
        "output": at.iter().map(|hertz| file.output_at(*hertz).map(Reflection::get)).collect::<Vec<_>>(),
    }))
}

fn table(question: &Value) -> Answer {
    let points = numbers(question, "hertz")?.into_iter().map(Hertz::new);
    let points: Vec<_> = points.zip(numbers(question, "loss")?.into_iter().map(Db::new)).collect();
    let table = LossTable::new(&points).map_err(|error| error.to_string())?;
    let at = numbers(question, "at")?;
    Ok(
        json!({ "loss": at.into_iter().map(|hertz| table.at(Hertz::new(hertz)).map(Db::get)).collect::<Vec<_>>() }),
    )
}

fn mismatch(question: &Value) -> Answer {
    let reflection = |key: &str| {
        let magnitude = question[key].as_f64().ok_or_else(|| format!("expected `{key}`"))?;
        Reflection::new(magnitude).ok_or_else(|| format!("expected a magnitude as `{key}`"))
    };
    let mismatch = Mismatch::between(reflection("one")?, reflection("other")?);
    let mismatch = match question["loss"].as_f64() {
        Some(loss) => mismatch.through(Db::new(loss)),
        None => mismatch,
    };
    Ok(json!({
        "above": mismatch.above().get(),
        "below": mismatch.below().map(Db::get),
        "standard": mismatch.standard().get(),
    }))
}

fn answer(line: &str) -> Answer {
    let question: Value = serde_json::from_str(line).map_err(|error| error.to_string())?;
    match question["ask"].as_str() {
        Some("cascade") => cascade(&question),
        Some("touchstone") => touchstone(&question),
        Some("table") => table(&question),
        Some("mismatch") => mismatch(&question),
        _ => Err(format!("expected a question, found `{question}`")),
    }
}

fn main() -> std::io::Result<()> {
    let mut out = std::io::stdout().lock();
    for line in std::io::stdin().lock().lines() {
        let answer = answer(&line?).unwrap_or_else(|error| json!({ "error": error }));
        writeln!(out, "{answer}")?;
        out.flush()?;
    }
    Ok(())
}
