//! `check`: everything that can be known without an instrument.

use clap::Args;
use serde_json::{Value, json};
use spurline_plan::{Forecast, Job, Prospect, ReadingForecast, ScopeForecast};

use crate::exit::Exit;
use crate::library::Files;
use crate::table::{flush_right, table};
use crate::talk::{Failure, print, print_json};

/// Say everything about a plan that can be known without an instrument
///
/// Limits, levels at every part of the path, floors, key-down times, and what this bench cannot decide. Ends with
/// 2 if the plan would be refused.
#[derive(Args, Debug)]
pub(crate) struct Check {
    /// The plan
    plan: String,
    /// The bench, instead of the one that the plan names
    #[arg(long, value_name = "FILE")]
    bench: Option<String>,
    /// Print one JSON document
    #[arg(long)]
    json: bool,
}

impl Check {
    pub(crate) fn execute(self) -> Result<Exit, Failure> {
        let job = Job::load(&self.plan, self.bench.as_deref(), &Files::new())?;
        crate::simulated::read(&job.bench)?;
        let forecast = Forecast::of(&job)?;
        if self.json {
            print_json(&as_json(&job, &forecast));
        } else {
            print(as_text(&job, &forecast).as_bytes());
        }
        Ok(Exit::Good)
    }
}

fn as_text(job: &Job, forecast: &Forecast) -> String {
    let mut text = format!("{} on {}, rule {}\n", job.plan.title, job.bench.title, job.plan.rule);
    for scope in &forecast.scopes {
        text.push_str(&scope_text(scope));
    }
    let count = |word: &str| {
        let readings = forecast.scopes.iter().flat_map(|scope| &scope.readings);
        readings.filter(|reading| self::word(&reading.prospect) == word).count()
    };
    let keyed: f64 = forecast.scopes.iter().map(|scope| scope.keyed.get()).sum();
    text.push_str(&format!("\n{} key-downs, {keyed:.0} s keyed together\n", forecast.scopes.len()));
    for (count, what) in [
        (count("unable"), "cannot be shown to comply on this bench"),
        (count("no limit"), "have no limit in this rule"),
    ] {
        if count > 0 {
            text.push_str(&format!("{count} readings {what}\n"));
        }
    }
    for note in &forecast.notes {
        text.push_str(&format!("note: {note}\n"));
    }
    text
}

fn scope_text(scope: &ScopeForecast) -> String {
    let mut text = format!(
        "\n{}, {}, {}: {} at the connector, {:.1} at the analyser",
        scope.scope.channel,
        scope.scope.carrier,
        scope.scope.power_setting,
        scope.window,
        scope.analyser_input
    );
    if let Some(meter) = scope.meter_input {
        text.push_str(&format!(", {meter:.1} at the power meter"));
    }
    text.push_str(&format!("; key down for {:.1}\n", scope.keyed));
    for part in &scope.parts {
        let rated =
            part.rated.map_or_else(|| "no rating stated".to_owned(), |rated| format!("rated {rated}"));
        text.push_str(&format!("  into {}: {:.3}, {rated}\n", part.name, part.incident));
    }
    let mut lines = table(&["harm.", "MHz", "limit", "path dB", "att dB", "floor", "own", "U", "prospect"]);
    for reading in &scope.readings {
        lines.add_row(cells(reading));
    }
    flush_right(&mut lines, &[0, 1, 2, 3, 4, 5, 6, 7]);
    text.push_str(&lines.trim_fmt());
    text.push('\n');
    for reading in &scope.readings {
        if let Some(why) = why(&reading.prospect) {
            text.push_str(&format!("  harmonic {}: {why}\n", reading.order));
        }
    }
    text
}

fn cells(reading: &ReadingForecast) -> Vec<String> {
    let show = |value: Option<f64>| value.map_or_else(|| "-".to_owned(), |value| format!("{value:.1}"));
    let limit = match reading.limit {
        None => "-".to_owned(),
        Some((low, high)) if low == high => format!("{:.1}", low.get()),
        Some((low, high)) => format!("{:.1}..{:.1}", low.get(), high.get()),
    };
    vec![
        reading.order.to_string(),
        format!("{:.3}", reading.frequency.mhz()),
        limit,
        show(reading.path_loss.map(|loss| loss.get())),
        reading.attenuation.map_or_else(|| "-".to_owned(), |attenuation| format!("{:.0}", attenuation.get())),
        show(reading.floor.map(|floor| floor.get())),
        show(reading.own_product.map(|own| own.get())),
        show(reading.expanded.map(|expanded| expanded.get())),
        word(&reading.prospect).to_owned(),
    ]
}

fn as_json(job: &Job, forecast: &Forecast) -> Value {
    json!({
        "plan": job.plan.title,
        "bench": job.bench.title,
        "rule": job.plan.rule,
        "notes": forecast.notes,
        "scopes": forecast.scopes.iter().map(scope_json).collect::<Vec<_>>(),
    })
}

fn scope_json(scope: &ScopeForecast) -> Value {
    json!({
        "channel": scope.scope.channel,
        "carrier_hz": scope.scope.carrier,
        "power_setting": scope.scope.power_setting,
        "window_w": [scope.window.low().watts(), scope.window.high().watts()],
        "analyser_input_dbm": scope.analyser_input,
        "meter_input_dbm": scope.meter_input,
        "keyed_s": scope.keyed,
        "parts": scope.parts.iter().map(|part| json!({
            "name": part.name, "incident_w": part.incident, "rated_w": part.rated,
        })).collect::<Vec<_>>(),
        "readings": scope.readings.iter().map(reading_json).collect::<Vec<_>>(),
    })
}

fn reading_json(reading: &ReadingForecast) -> Value {
    json!({
        "order": reading.order,
        "frequency_hz": reading.frequency,
        "limit_low_dbm": reading.limit.map(|limit| limit.0),
        "limit_high_dbm": reading.limit.map(|limit| limit.1),
        "path_loss_db": reading.path_loss,
        "attenuation_db": reading.attenuation,
        "floor_dbm": reading.floor,
        "own_product_dbm": reading.own_product,
        "expanded_uncertainty_db": reading.expanded,
        "prospect": word(&reading.prospect),
        "reason": why(&reading.prospect),
    })
}

fn word(prospect: &Prospect) -> &'static str {
    match prospect {
        Prospect::Able => "able",
        Prospect::Unable(_) => "unable",
        Prospect::NoLimit(_) => "no limit",
    }
}

fn why(prospect: &Prospect) -> Option<&str> {
    match prospect {
        Prospect::Able => None,
        Prospect::Unable(why) | Prospect::NoLimit(why) => Some(why),
    }
}
