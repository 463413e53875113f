//! Answers questions about budgets, decisions and steps, one JSON document a line, so that other programs can be held
//! against this one: `scripts/oracles/run.py`.

use std::io::{BufRead, Write};

use serde_json::{Value, json};
use spurline_judge::{
    Budget, Contribution, CoverageMethod, DecisionRule, Distribution, Interval, Production, Sample, Spread,
    StepReading, Verdict, correct, detectable, global_risk, holm, judge_upper, normal_quantile, power_of,
    range_by_steps, remaining_error, student_cdf, student_quantile, welch,
};
use spurline_units::{Db, Dbm};

type Answer = Result<Value, String>;

fn number(from: &Value, key: &str) -> Result<f64, String> {
    from[key].as_f64().ok_or_else(|| format!("expected a number as `{key}` in `{from}`"))
}

fn list<'a>(from: &'a Value, key: &str) -> Result<&'a [Value], String> {
    from[key].as_array().map(Vec::as_slice).ok_or_else(|| format!("expected a list as `{key}` in `{from}`"))
}

fn budget(lines: &[Value]) -> Result<Budget, String> {
    let line = |line: &Value| {
        let kind = match line["kind"].as_str() {
            Some("certificate") => Distribution::Normal { k: number(line, "k")? },
            Some("standard") => Distribution::Standard,
            Some("rectangular") => Distribution::Rectangular,
            Some("triangular") => Distribution::Triangular,
            Some("u-shaped") => Distribution::UShaped,
            Some("mismatch") => Distribution::Mismatch { product: number(line, "product")? },
            _ => return Err(format!("expected a distribution in `{line}`")),
        };
        let name = line["name"].as_str().unwrap_or("line");
        let made = Contribution::new(name, Db::new(number(line, "value")?), kind, "oracle");
        Ok(match line["freedom"].as_f64() {
            Some(freedom) => made.with_freedom(freedom),
            None => made,
        })
    };
    Ok(Budget { lines: lines.iter().map(line).collect::<Result<_, String>>()? })
}

fn sum(question: &Value) -> Answer {
    let budget = budget(list(question, "lines")?)?;
    let p = number(question, "p")?;
    let coverage = budget.coverage(p);
    let density = budget.density();
    let (low, high) = density.interval(p);
    let method = match coverage.method {
        CoverageMethod::Normal => "normal",
        CoverageMethod::Student => "student",
        CoverageMethod::Convolution => "convolution",
    };
    Ok(json!({
        "combined": budget.combined().get(),
        "freedom": budget.effective_freedom(),
        "low": low.get(),
        "high": high.get(),
        "coverage": { "low": coverage.low.get(), "high": coverage.high.get(), "factor": coverage.factor, "method": method },
    }))
}

fn difference(question: &Value) -> Answer {
    let (one, other) = (budget(list(question, "one")?)?, budget(list(question, "other")?)?);
    let shared = |line: &Contribution| line.name.starts_with("shared");
    Ok(json!({ "combined": one.of_difference(&other, shared).combined().get() }))
}

fn decision(question: &Value) -> Answer {
    let (level, limit) = (Dbm::new(number(question, "level")?), Dbm::new(number(question, "limit")?));
    let rule = DecisionRule::GuardBand { factor: number(question, "factor")? };
    let spread = match question["lines"].as_array() {
        Some(lines) => Spread::of(&budget(lines)?),
        None => Spread::normal(Db::new(number(question, "expanded")?)),
    };
    let decision = judge_upper(level, limit, &spread, rule);
    let verdict = match decision.verdict {
        Verdict::Complies => "complies",
        Verdict::Exceeds => "exceeds",
        Verdict::Undecided => "undecided",
    };
    Ok(json!({ "verdict": verdict, "probability": decision.conformance_probability }))
}

fn risk(question: &Value) -> Answer {
    // An end that is left out is open.
    let end = |key: &str, open: f64| question[key].as_f64().unwrap_or(open);
    let interval =
        |low: &str, high: &str| Interval { low: end(low, f64::NEG_INFINITY), high: end(high, f64::INFINITY) };
    let production =
        Production { mean: number(question, "mean")?, deviation: number(question, "deviation")? };
    let risk = global_risk(
        production,
        number(question, "uncertainty")?,
        interval("lowest", "highest"),
        interval("accepted from", "accepted to"),
    );
    Ok(json!({ "consumer": risk.consumer, "producer": risk.producer, "out": risk.out_of_tolerance }))
}

fn steps(question: &Value) -> Answer {
    let order = question["order"]
        .as_u64()
        .and_then(|order| u32::try_from(order).ok())
        .ok_or("expected an `order`")?;
    if let Some(moved) = question["moved"].as_f64() {
        let attenuations = list(question, "attenuations")?.iter().filter_map(Value::as_f64).map(Db::new);
        let error = remaining_error(&attenuations.collect::<Vec<_>>(), order, Db::new(moved));
        return Ok(error.map_or(Value::Null, |(low, high)| json!({ "low": low.get(), "high": high.get() })));
    }
    let reading = |reading: &Value| {
        Ok(StepReading {
            attenuation: Db::new(number(reading, "attenuation")?),
            level: Dbm::new(number(reading, "level")?),
            within: Db::new(number(reading, "within")?),
        })
    };
    let readings: Vec<_> = list(question, "readings")?.iter().map(reading).collect::<Result<_, String>>()?;
    Ok(range_by_steps(&readings, order).map_or(
        Value::Null,
        |range| json!({ "lowest": range.lowest.map(Dbm::get), "highest": range.highest.map(Dbm::get) }),
    ))
}

fn noise(question: &Value) -> Answer {
    let (reading, floor) = (Dbm::new(number(question, "reading")?), Dbm::new(number(question, "floor")?));
    let (of_reading, of_floor) =
        (Db::new(number(question, "u reading")?), Db::new(number(question, "u floor")?));
    Ok(correct(reading, floor).map_or(Value::Null, |corrected| {
        json!({ "level": corrected.level.get(), "u": corrected.uncertainty(of_reading, of_floor).get() })
    }))
}

fn quantile(question: &Value) -> Answer {
    let p = number(question, "p")?;
    Ok(match question["freedom"].as_f64() {
        Some(freedom) => {
            let at = student_quantile(p, freedom);
            json!({ "at": at, "below": at.map(|at| student_cdf(at, freedom)) })
        }
        None => json!({ "at": normal_quantile(p) }),
    })
}

fn figures(from: &Value, key: &str) -> Result<Vec<f64>, String> {
    Ok(list(from, key)?.iter().filter_map(Value::as_f64).collect())
}

fn welched(question: &Value) -> Answer {
    let sample = |key: &str| {
        let figures = figures(question, key)?;
        Sample::of(&figures).ok_or_else(|| format!("expected two figures or more as `{key}`"))
    };
    let found = welch(sample("before")?, sample("after")?, number(question, "within")?);
    Ok(found.map_or(
        Value::Null,
        |found| json!({ "t": found.t, "freedom": found.freedom, "p": found.p, "interval": found.interval }),
    ))
}

fn power(question: &Value) -> Answer {
    let (freedom, risk) = (number(question, "freedom")?, number(question, "risk")?);
    Ok(json!({
        "power": power_of(number(question, "shift")?, freedom, risk),
        "detectable": detectable(freedom, risk, 0.9),
    }))
}

fn stepped(question: &Value) -> Answer {
    let shares = holm(&figures(question, "chances")?, number(question, "risk")?);
    Ok(json!({ "called": shares.iter().map(Option::is_some).collect::<Vec<_>>() }))
}

fn answer(line: &str) -> Answer {
    let question: Value = serde_json::from_str(line).map_err(|error| error.to_string())?;
    match question["ask"].as_str() {
        Some("sum") => sum(&question),
        Some("difference") => difference(&question),
        Some("decision") => decision(&question),
        Some("risk") => risk(&question),
        Some("steps") => steps(&question),
        Some("noise") => noise(&question),
        Some("quantile") => quantile(&question),
        Some("welch") => welched(&question),
        Some("power") => power(&question),
        Some("holm") => stepped(&question),
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
