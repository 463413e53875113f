//! `check`: everything that can be known without an instrument.

mod search;

use clap::Args;
use serde_json::{Value, json};
use spurline_clock::Pace;
use spurline_plan::{Forecast, Job, KeyDownForecast, Prospect, ReadingForecast, ScopeForecast};

use crate::exit::Exit;
use crate::library::Files;
use crate::table::{flush_right, table};
use crate::talk::{Failure, print, print_json};

/// Say everything about a plan that can be known without an instrument
///
/// Limits, levels at every part of the path, the floor that each reading needs and the one to be expected, what
/// this bench cannot decide and what would help, key-downs and time. Ends with 2 if the plan would be refused.
#[derive(Args, Debug)]
pub(crate) struct Check {
    /// The plan
    plan: String,
    /// The bench, instead of the one that the plan names
    #[arg(long, value_name = "FILE")]
    bench: Option<String>,
    /// Print one JSON document
    #[arg(long)]
    pub(crate) json: bool,
}

impl Check {
    pub(crate) fn execute(self) -> Result<Exit, Failure> {
        let job = Job::load(&self.plan, self.bench.as_deref(), &Files::new())?;
        crate::simulated::read(&job.bench)?;
        let mut forecast = Forecast::of(&job)?;
        let today = spurline_clock::run(Pace::Real, |clock| async move { super::today(clock) })
            .map_err(Failure::Runtime)?;
        let expired = job.bench.not_good_on(today);
        super::refuse_expired(&job, &expired)?;
        forecast.notes.extend(expired);
        if self.json {
            print_json(&as_json(&job, &forecast))?;
        } else {
            print(as_text(&job, &forecast).as_bytes())?;
        }
        Ok(Exit::Good)
    }
}

const LEGEND: &str = "levels in dBm at the unit's connector; needed: the highest noise floor at which a line can \
    still be shown to comply; floor: the one to expect; own: the most that the analyser makes itself; U: expanded \
    uncertainty, k = 2, as far as it is known now: noise and own products add to it; path: loss at this frequency; RBW in kHz; att.: the analyser's input attenuation";

fn as_text(job: &Job, forecast: &Forecast) -> String {
    let mut text = format!("{} on {}\n", job.plan.title, job.bench.title);
    let rule = format!(
        "rule {}: {} ({}); {}",
        job.plan.rule,
        job.rule.source_text(),
        job.rule.status(),
        job.rule_file()
    );
    text.push_str(&format!("{}\n", crate::talk::wrapped(&rule, 2)));
    text.push_str(&crate::talk::wrapped(LEGEND, 0));
    text.push('\n');
    for scope in &forecast.scopes {
        text.push_str(&scope_text(scope));
    }
    text.push_str(&summary(job, forecast));
    for note in &forecast.notes {
        text.push_str(&format!("{}\n", crate::talk::wrapped(&format!("note: {note}"), 6)));
    }
    text
}

fn summary(job: &Job, forecast: &Forecast) -> String {
    let prospects = || {
        forecast.scopes.iter().flat_map(|scope| {
            std::iter::once(&scope.prospect).chain(scope.readings.iter().map(|reading| &reading.prospect))
        })
    };
    let count =
        |wanted: &str| forecast.times * prospects().filter(|prospect| word(prospect) == wanted).count();
    let mut text = String::from("\n");
    if forecast.times > 1 {
        text.push_str(&format!("all of it {} times, once for each supply\n", forecast.times));
    }
    for supply in &job.plan.supplies {
        text.push_str(&format!("fed by {}: {}, at most {}\n", supply.name, supply.set, supply.limit));
    }
    text.push_str(&format!(
        "{}, {:.0} s keyed together; about {} on the bench\n",
        crate::talk::counted(forecast.key_downs(), "key-down"),
        forecast.keyed().get(),
        minutes(forecast.bench_time.get())
    ));
    for (prospect, one, several) in [
        ("able", "reading can be decided", "readings can be decided"),
        ("unable", "reading cannot be shown to comply here", "readings cannot be shown to comply here"),
        ("no limit", "reading has no limit in this rule", "readings have no limit in this rule"),
    ] {
        match count(prospect) {
            0 => {}
            1 => text.push_str(&format!("1 {one}\n")),
            count => text.push_str(&format!("{count} {several}\n")),
        }
    }
    text
}

/// A time for people: seconds below two minutes, minutes above.
fn minutes(seconds: f64) -> String {
    if seconds < 120.0 { format!("{seconds:.0} s") } else { format!("{:.0} min", seconds / 60.0) }
}

fn scope_text(scope: &ScopeForecast) -> String {
    let id = &scope.scope;
    let mut text = format!("\n{}, {}, {}\n", id.channel, id.carrier, id.power_setting);
    let carrier = format!("  carrier {}, U {:.1}: {}", scope.window, scope.expanded, word(&scope.prospect));
    let reason = why(&scope.prospect).map_or_else(String::new, |why| format!("; {why}"));
    text.push_str(&format!("{}\n", crate::talk::wrapped(&format!("{carrier}{reason}"), 4)));
    for down in &scope.key_downs {
        text.push_str(&key_down_text(down));
    }
    let mut lines =
        table(&["harm.", "MHz", "limit", "needed", "floor", "own", "U", "path", "RBW", "att.", "prospect"]);
    for reading in &scope.readings {
        lines.add_row(cells(reading));
    }
    flush_right(&mut lines, &[0, 1, 2, 3, 4, 5, 6, 7, 8, 9]);
    text.push_str(&lines.trim_fmt());
    text.push('\n');
    for reading in &scope.readings {
        if let Some(why) = why(&reading.prospect) {
            let line = format!("  harmonic {}: {why}", reading.order);
            text.push_str(&format!("{}\n", crate::talk::wrapped(&line, 4)));
        }
    }
    if let Some(search) = &scope.search {
        text.push_str(&search::text(search));
    }
    text
}

fn key_down_text(down: &KeyDownForecast) -> String {
    let mut text = format!(
        "  by {}: key down for {:.1}; {:.1} at the analyser",
        down.path, down.keyed, down.analyser_input
    );
    if let Some(meter) = down.meter_input {
        text.push_str(&format!(", {meter:.1} at the power meter"));
    }
    let mut text = format!("{}\n", crate::talk::wrapped(&text, 4));
    for part in &down.parts {
        let rated =
            part.rated.map_or_else(|| "no rating stated".to_owned(), |rated| format!("rated {rated}"));
        text.push_str(&format!("    into {}: {:.3}, {rated}\n", part.name, part.incident));
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
        show(reading.needed_floor.map(|floor| floor.get())),
        show(reading.floor.map(|floor| floor.get())),
        show(reading.own_product.map(|own| own.get())),
        show(reading.expanded.map(|expanded| expanded.get())),
        show(reading.path_loss.map(|loss| loss.get())),
        reading.rbw.map_or_else(|| "-".to_owned(), |rbw| format!("{:.0}", rbw.get() / 1e3)),
        reading.attenuation.map_or_else(|| "-".to_owned(), |attenuation| format!("{:.0}", attenuation.get())),
        word(&reading.prospect).to_owned(),
    ]
}

fn as_json(job: &Job, forecast: &Forecast) -> Value {
    json!({
        "plan": job.plan.title,
        "bench": job.bench.title,
        "rule": job.plan.rule,
        "supplies": job.plan.supplies.iter().map(|supply| &supply.name).collect::<Vec<_>>(),
        "key_downs": forecast.key_downs(),
        "keyed_s": forecast.keyed(),
        "bench_time_s": forecast.bench_time,
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
        "expanded_uncertainty_db": scope.expanded,
        "prospect": word(&scope.prospect),
        "reason": why(&scope.prospect),
        "search": scope.search.as_ref().map(search::json),
        "key_downs": scope.key_downs.iter().map(key_down_json).collect::<Vec<_>>(),
        "readings": scope.readings.iter().map(reading_json).collect::<Vec<_>>(),
    })
}

fn key_down_json(down: &KeyDownForecast) -> Value {
    json!({
        "path": down.path,
        "keyed_s": down.keyed,
        "analyser_input_dbm": down.analyser_input,
        "meter_input_dbm": down.meter_input,
        "parts": down.parts.iter().map(|part| json!({
            "name": part.name, "incident_w": part.incident, "rated_w": part.rated,
        })).collect::<Vec<_>>(),
    })
}

fn reading_json(reading: &ReadingForecast) -> Value {
    json!({
        "order": reading.order,
        "frequency_hz": reading.frequency,
        "path": reading.path,
        "limit_low_dbm": reading.limit.map(|limit| limit.0),
        "limit_high_dbm": reading.limit.map(|limit| limit.1),
        "path_loss_db": reading.path_loss,
        "rbw_hz": reading.rbw,
        "choice": reading.choice,
        "attenuation_db": reading.attenuation,
        "needed_floor_dbm": reading.needed_floor,
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
